// The keyboard, and page turners, which are keyboards; the page lists the keys, and so they are found.

import { $, all, remember, remembered } from "./dom.js";

const SAME = { "=": "+", _: "-" };
const PEDALS = { PageDown: "forward", ArrowRight: "forward", ArrowDown: "forward", PageUp: "back", ArrowLeft: "back", ArrowUp: "back" };
const TYPED = "input:not([type=range]):not([type=checkbox]), textarea, select";

export class Keys {
  constructor(say) {
    this.say = say;
    this.lines = new Map(all("[data-key]").map(({ dataset }) => [dataset.key, dataset.line]));
    addEventListener("keydown", (event) => this.#down(event));
    // what a hand has touched does not keep the focus, or space and pedals would be its and not the band's
    addEventListener("pointerdown", () => { this.byHand = true; }, true);
    addEventListener("click", ({ detail, target }) => detail && target.closest?.("button, [type=checkbox]")?.blur());
    addEventListener("change", ({ target }) => this.byHand && target.matches("select, [type=range]") && target.blur());
    for (const each of [$("pedal-forward"), $("pedal-back")]) {
      each.value = remembered(each.id, each.value).replace(/^(tempo [+-])5$/, "$1");
      each.addEventListener("change", () => remember(each.id, each.value));
    }
    // speech and shaky hands press letters by mistake (WCAG 2.2, 2.1.4)
    $("letters").checked = remembered("letters", "on") === "on";
    $("letters").addEventListener("change", () => remember("letters", $("letters").checked ? "on" : "off"));
  }

  pedal(which) { this.say($(`pedal-${which}`).value); }

  #down(event) {
    const { target, key } = event;
    this.byHand = false;
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (document.querySelector("dialog[open]") || target.closest?.(TYPED)) return;
    if (PEDALS[key] && document.body.dataset.view === "stand" && !target.closest?.("input")) {
      event.preventDefault();
      if (!event.repeat) this.pedal(PEDALS[key]);
      return;
    }
    if (key === " " && target.closest?.("button, input, summary, [tabindex='0']")) return;
    if (key !== " " && !$("letters").checked) return;
    const line = this.lines.get(SAME[key] ?? (key.length === 1 ? key.toLowerCase() : key));
    if (!line || (document.body.dataset.view === "editor" && line !== "help")) return;
    event.preventDefault();
    if (!event.repeat || /tempo|level/.test(line)) this.say(line);
  }
}
