// Keys and page turners, which act as keyboards. The keys and their commands are read from the page's list.

import { $, all, around, remember, remembered } from "./dom.js";

/** @typedef {"forward" | "back"} Pedal */

/** @type {Record<string, string>} */
const SAME = { "=": "+", _: "-" };
/** @type {Record<string, Pedal>} */
const PEDALS = {
  PageDown: "forward", ArrowRight: "forward", ArrowDown: "forward",
  PageUp: "back", ArrowLeft: "back", ArrowUp: "back",
};
const TYPED = "input:not([type=range]):not([type=checkbox]), textarea, select";

export class Keys {
  #byHand = false;

  /** @param {(line: string) => void} run */
  constructor(run) {
    this.run = run;
    this.lines = new Map(all("[data-key]").map(({ dataset }) => [dataset.key, dataset.line]));
    addEventListener("keydown", (event) => this.#down(event));
    // controls that were clicked or touched lose the focus, so that space and pedals go to the band
    addEventListener("pointerdown", () => { this.#byHand = true; }, true);
    addEventListener("click", (event) => { if (event.detail) around(event, "button, [type=checkbox]")?.blur(); });
    addEventListener("change", ({ target }) => {
      if (this.#byHand && target instanceof HTMLElement && target.matches("select, [type=range]")) target.blur();
    });
    for (const each of [$("pedal-forward"), $("pedal-back")]) {
      each.value = remembered(each.id, each.value).replace(/^(tempo [+-])5$/, "$1");
      each.addEventListener("change", () => remember(each.id, each.value));
    }
    // speech input and unsteady hands press letters by mistake (WCAG 2.2, 2.1.4)
    $("letters").checked = remembered("letters", "on") === "on";
    $("letters").addEventListener("change", () => remember("letters", $("letters").checked ? "on" : "off"));
  }

  /** @param {Pedal} which */
  pedal(which) { this.run($(`pedal-${which}`).value); }

  /** @param {KeyboardEvent} event */
  #down(event) {
    this.#byHand = false;
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (document.querySelector("dialog[open]") || around(event, TYPED)) return;
    const pedal = document.body.dataset.view === "stand" && !around(event, "input") && PEDALS[event.key];
    const line = pedal ? $(`pedal-${pedal}`).value : this.#line(event);
    if (!line) return;
    event.preventDefault();
    if (!event.repeat || (!pedal && /tempo|level/.test(line))) this.run(line);
  }

  /**
   * The command of a key, or null.
   * @param {KeyboardEvent} event
   */
  #line(event) {
    const { key } = event;
    if (key === " " ? around(event, "button, input, summary, [tabindex='0']") : !$("letters").checked) return null;
    const line = this.lines.get(SAME[key] ?? (key.length === 1 ? key.toLowerCase() : key));
    return document.body.dataset.view === "editor" && line !== "help" ? null : line;
  }
}
