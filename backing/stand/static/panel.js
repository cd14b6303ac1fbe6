// The controls: each button, slider and choice says a line of its own (data-say), and shows what the
// server's state has for that line, so that two pages show the same and none knows what a line means.

import { $, all, fill } from "./dom.js";

const PACE = 70;  // milliseconds between two wishes of a slider that is being moved
const INPUTS = "[data-say]:is(input, select)";

export class Panel {
  constructor(deeds, say) {
    Object.assign(this, { deeds, say });
    deeds.onTempo = () => this.#tempo();
    document.addEventListener("click", ({ target }) => {
      const button = target.closest("button[data-say]");
      const isPressed = button?.getAttribute("aria-pressed") === "true";
      if (button) say((isPressed && button.dataset.again) || button.dataset.say);
    });
    for (const input of all(INPUTS)) this.#listen(input);
    for (const form of all("form[data-say]")) {
      form.addEventListener("submit", (event) => { event.preventDefault(); say(this.#line(form)); });
    }
  }

  // A slider says where it is, not more often than the band can follow, and its last place always.
  #listen(input) {
    let last = 0, timer = 0;
    input.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(() => {
        last = performance.now();
        this.say(`${input.dataset.say} ${input.type !== "checkbox" ? input.value : input.checked ? "on" : "off"}`);
      }, Math.max(PACE - (performance.now() - last), 0));
    });
  }

  // A form's line, its fields filled in: ticks as their own names.
  #line(form) {
    return form.dataset.say.replace(/\{(\w+)\}/g, (_, name) => {
      const field = form.elements[name];
      if (field.type === "checkbox") return field.checked ? name : "";
      return field.value;
    }).trim();
  }

  show(state) {
    document.body.classList.toggle("playing", Boolean(state.playing));
    $("play").querySelector(".word").textContent = state.playing ? "Pause" : "Play";
    fill($("output"), state.outputs ?? "", state.output);
    for (const each of all("[data-say][aria-pressed]")) each.setAttribute("aria-pressed", String(state.pressed.includes(each.dataset.say)));
    for (const each of all("[data-shows]")) each.textContent = state.words[each.dataset.shows] ?? "";
    for (const each of all("[data-draws]")) each.innerHTML = state.words[each.dataset.draws] ?? "";  // the server's markup
    for (const each of all("[data-player]")) each.hidden = !(`unmute ${each.dataset.player}` in state.words);
    for (const each of all(INPUTS)) {
      const value = state.values[each.dataset.say];
      if (each.type === "checkbox") each.checked = Boolean(value);
      else if (value !== undefined && each !== document.activeElement) each.value = value;
    }
    this.#tempo();
  }

  #tempo() {
    const value = Number(this.deeds.tempo.toFixed(2));
    this.#unit(this.deeds.state.unit);
    for (const each of all(".bpm")) each.textContent = value;
    if (document.activeElement !== $("tempo-slider")) $("tempo-slider").value = value;
  }

  // The note that tempi count: its sign (the server's markup), what can be wished in it, its step.
  #unit({ name, words, mark, step, slowest, fastest }) {
    if (this.counted === name + mark) return;
    this.counted = name + mark;
    for (const each of all(".unit")) each.innerHTML = mark;
    for (const each of all("[data-bpm]")) [each.min, each.max] = [slowest, fastest];
    const slider = $("tempo-slider");
    [slider.min, slider.max] = [2 * slowest, Math.round(0.64 * fastest)];
    slider.setAttribute("aria-label", `Tempo, ${words} notes a minute`);
    $("ladder").elements.step.value = step;
  }
}
