// The controls: each button, slider and choice has a command (data-say), and shows what the server's state
// has for that command. So all pages show the same, and need not know what a command means.

import { $, all, around, fill, inputs } from "./dom.js";

const PACE = 70;  // the least milliseconds between two commands of a moving slider
const INPUTS = "[data-say]:is(input, select)";

export class Panel {
  #unitShown = "";

  /**
   * @param {import("./commands.js").Commands} commands
   * @param {(line: string) => void} run
   */
  constructor(commands, run) {
    this.commands = commands;
    this.run = run;
    commands.onTempo = () => this.#tempo();
    document.addEventListener("click", (event) => {
      const button = around(event, "button[data-say]");
      const { say, again } = button?.dataset ?? {};
      if (say) run((button?.getAttribute("aria-pressed") === "true" && again) || say);
    });
    for (const input of inputs(INPUTS)) this.#listen(input);
    for (const form of document.forms) {
      if (form.dataset.say) form.addEventListener("submit", (event) => { event.preventDefault(); run(filled(form)); });
    }
  }

  /**
   * Send the values of a moving control, at a limited rate, and always the last one.
   * @param {HTMLInputElement} input
   */
  #listen(input) {
    let last = 0, timer = 0;
    input.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(() => {
        last = performance.now();
        this.run(`${input.dataset.say} ${input.type !== "checkbox" ? input.value : input.checked ? "on" : "off"}`);
      }, Math.max(PACE - (performance.now() - last), 0));
    });
  }

  /** @param {import("./commands.js").Known} state */
  show({ playing, pressed, words: labels, values, output, outputs }) {
    document.body.classList.toggle("playing", Boolean(playing));
    all("#play .word")[0].textContent = playing ? "Pause" : "Play";
    fill($("output"), outputs ?? "", output);
    for (const each of all("[data-say][aria-pressed]")) {
      each.setAttribute("aria-pressed", String(pressed.includes(each.dataset.say ?? "")));
    }
    for (const each of all("[data-shows]")) each.textContent = labels[each.dataset.shows ?? ""] ?? "";
    // the server's markup
    for (const each of all("[data-draws]")) each.innerHTML = labels[each.dataset.draws ?? ""] ?? "";
    for (const each of all("[data-player]")) each.hidden = !(`unmute ${each.dataset.player}` in labels);
    for (const each of inputs(INPUTS)) put(each, values[each.dataset.say ?? ""]);
    this.#tempo();
  }

  #tempo() {
    const value = String(Number(this.commands.tempo.toFixed(2)));
    this.#unit(this.commands.state.unit);
    for (const each of all(".bpm")) each.textContent = value;
    if (document.activeElement !== $("tempo-slider")) $("tempo-slider").value = value;
  }

  /**
   * Show the note that tempi count (the server's markup), and set its limits and step.
   * @param {import("./messages.js").TempoUnit} unit
   */
  #unit({ name, words, mark, step, slowest, fastest }) {
    if (this.#unitShown === name + mark) return;
    this.#unitShown = name + mark;
    for (const each of all(".unit")) each.innerHTML = mark;
    for (const each of inputs("[data-bpm]")) [each.min, each.max] = [String(slowest), String(fastest)];
    const slider = $("tempo-slider");
    [slider.min, slider.max] = [String(2 * slowest), String(Math.round(0.64 * fastest))];
    slider.setAttribute("aria-label", `Tempo, ${words} notes a minute`);
    inputs("#ladder [name=step]")[0].value = String(step);
  }
}

/**
 * Show a value, unless the player is choosing another one.
 * @param {HTMLInputElement} input
 * @param {string | number | boolean} [value]
 */
function put(input, value) {
  if (input.type === "checkbox") input.checked = Boolean(value);
  else if (value !== undefined && input !== document.activeElement) input.value = String(value);
}

/**
 * The command of a form with the values of its fields; a checked box becomes its name.
 * @param {HTMLFormElement} form
 */
function filled(form) {
  const line = form.dataset.say ?? "";
  return line.replace(/\{(\w+)\}/g, (_, name) => {
    const field = /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
    if (field.type === "checkbox") return field.checked ? name : "";
    return field.value;
  }).trim();
}
