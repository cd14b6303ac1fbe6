// The controls: what is wished is said by buttons with a line of their own (data-say), and what
// holds is shown from the server's state alone, so that two pages show the same.

import { $, el, fill } from "./dom.js";
import { signs } from "./symbols.js";

const PACE = 70;  // milliseconds between two wishes of a slider that is being moved

export class Panel {
  #players = new Map();
  #waiting = null;

  constructor(deeds) {
    this.deeds = deeds;
    deeds.onTempo = () => this.#tempo();
    document.addEventListener("click", (event) => {
      const button = event.target.closest("[data-say]");
      if (button) deeds.say(button.dataset.say);
    });
    $("tap").addEventListener("pointerdown", () => $("tap").classList.add("hit"));
    $("tap").addEventListener("pointerup", () => $("tap").classList.remove("hit"));
    this.#slider($("tempo-slider"), (value) => deeds.turn(value));
    this.#slider($("level"), (value) => deeds.say(`level ${value}`));
    $("style").addEventListener("change", () => deeds.say(`style ${$("style").value}`));
    $("output").addEventListener("change", () => deeds.link.send({ type: "output", name: $("output").value }));
    $("count-each").addEventListener("change", () => deeds.say(`count-in ${$("count-each").checked ? "on" : "off"}`));
    $("as-written").addEventListener("click", () => this.#asWritten());
    this.#form("loop-bars", () => `loop ${$("loop-from").value || 1}-${$("loop-to").value || $("loop-from").value || 1}`);
    this.#form("rest", ({ bars, of }) => `rest ${bars.value} ${of.value}`);
    this.#form("ladder", ({ from, to, step, every, back }) => {
      const [start, goal, by] = [from, to, step].map(({ value }) => +(value * deeds.unit).toFixed(2));
      return `ladder ${start} ${goal} ${by} ${every.value}${back.checked ? " back" : ""}`;
    });
  }

  #form(id, line) {
    $(id).addEventListener("submit", (event) => {
      event.preventDefault();
      this.deeds.say(line($(id).elements));
    });
  }

  // A slider says where it is, not more often than the band can follow, and its last place always.
  #slider(input, say) {
    let last = 0, timer = 0;
    input.addEventListener("input", () => {
      clearTimeout(timer);
      const wait = Math.max(PACE - (performance.now() - last), 0);
      timer = setTimeout(() => { last = performance.now(); say(Number(input.value)); }, wait);
    });
  }

  hello({ styles }) { this.styles = styles; }

  #asWritten() {
    const { chart, state } = this.deeds;
    if (state.semitones) this.deeds.say(`key ${state.semitones > 0 ? "-" : "+"}${Math.abs(state.semitones)}`);
    this.deeds.say("style own");
    const usual = this.styles.find(({ name }) => name === (chart?.style || state.style))?.tempo[2];
    if (chart?.tempo || usual) this.deeds.send(`tempo ${chart?.tempo || usual}`);
  }

  show(state, chart) {
    document.body.classList.toggle("playing", Boolean(state.playing));
    $("play").querySelector(".word").textContent = state.playing ? "Pause" : "Play";
    $("last-time").setAttribute("aria-pressed", String(Boolean(state.last_time)));
    $("bar-key").textContent = signs(chart?.key ?? state.key ?? "");
    this.#tempo();
    this.#loop(state, chart);
    this.#band(state);
    fill($("style"), (this.styles ?? []).map(({ name }) => [name, name]), state.style);
    const traded = state.rest?.[1] === 2 * state.rest?.[0] ? `trade ${state.rest[0]}` : null;
    for (const button of document.querySelectorAll("[data-say^=trade]")) {
      button.setAttribute("aria-pressed", String(button.dataset.say === traded));
    }
    fill($("output"), (state.outputs ?? ["browser"]).map((name) => [name, outputName(name)]), state.output);
    $("ladder-now").textContent = state.ladder ? `${this.#beats(state.ladder[0])} to ${this.#beats(state.ladder[1])}` : "";
    $("rest-now").textContent = state.rest ? `${state.rest[0]} of ${state.rest[1]} bars` : "";
    $("count-each").checked = Boolean(state.count_each);
  }

  #beats(bpm) { return Math.round(bpm / this.deeds.unit); }

  #tempo() {
    const value = Math.round(this.deeds.tempo);
    const sign = this.deeds.unit === 2 ? "half" : this.deeds.sign;
    $("bar-tempo").replaceChildren(el("small", {}, `${sign} `), String(value));
    $("tempo-now").textContent = `${sign} = ${value}`;
    if (document.activeElement !== $("tempo-slider")) $("tempo-slider").value = value;
  }

  #loop(state, chart) {
    const parts = [...new Set(chart?.form ?? [])];
    const same = parts.join("\n");
    if ($("loop-parts").dataset.parts !== same) {
      $("loop-parts").dataset.parts = same;
      $("loop-parts").replaceChildren(...parts.map((name) => (
        el("button", { type: "button", "data-loop": name, "aria-pressed": "false" }, name))),
      el("button", { type: "button", "data-say": "loop off" }, "Off"));
    }
    $("loop-now").textContent = state.loop_text ? (/^\d/.test(state.loop_text) ? `bars ${state.loop_text}` : state.loop_text) : "";
    for (const button of document.querySelectorAll("[data-loop]")) {
      button.setAttribute("aria-pressed", String(button.dataset.loop === state.loop_text));
    }
  }

  #band(state) {
    for (const player of Object.keys(state.levels ?? {})) {
      if (!this.#players.has(player)) this.#players.set(player, this.#player(player));
      const { mute, solo, level, percent } = this.#players.get(player);
      const plays = state.plays.includes(player);
      mute.setAttribute("aria-pressed", String(plays));
      mute.lastChild.textContent = plays ? "plays" : "sits out";
      solo.setAttribute("aria-pressed", String(plays && state.plays.length === 1));
      percent.textContent = `${state.levels[player]} %`;
      if (document.activeElement !== level) level.value = state.levels[player];
    }
    $("level-now").textContent = `${state.level ?? 100} %`;
    if (document.activeElement !== $("level")) $("level").value = state.level ?? 100;
  }

  #player(player) {
    const name = player[0].toUpperCase() + player.slice(1);
    const mute = el("button", { type: "button", class: "mute", "data-say": `mute ${player}`, "aria-pressed": "true" },
      el("span", { class: "who" }, `${name} `), el("span", { class: "does" }));
    const solo = el("button", { type: "button", "aria-pressed": "false", "aria-label": `${name} alone`,
      onclick: () => this.deeds.say(solo.getAttribute("aria-pressed") === "true" ? "only all" : `only ${player}`) }, "alone");
    const level = el("input", { type: "range", min: 0, max: 150, step: 5, "aria-label": `Loudness of ${player}, percent` });
    const percent = el("output");
    this.#slider(level, (value) => this.deeds.say(`level ${player} ${value}`));
    $("players").append(el("div", { class: "player", role: "group", "aria-label": name }, mute, solo, level, percent));
    return { mute, solo, level, percent };
  }
}

const outputName = (name) => (name === "browser" ? "This page" : name.replace(/^port:/, "MIDI: "));
