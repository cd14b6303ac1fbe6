// Loops drawn over the chart: with the mouse, or with a finger that moves sideways or rests first, so that
// the page can still scroll.

import { command, plays, span } from "./loop.js";

const REST = 350;  // milliseconds

export class LoopGesture {
  /** @type {HTMLElement | null} */
  #from = null;
  /** @type {HTMLElement | null} */
  #to = null;
  #isHeld = false;

  /**
   * @param {import("./sheet.js").Sheet} sheet
   * @param {(line: string) => void} run
   */
  constructor(sheet, run) {
    this.sheet = sheet;
    this.run = run;
    const { place } = sheet;
    /** @param {Event} event */
    const keepStill = (event) => { if (this.#isHeld && event.cancelable) event.preventDefault(); };
    place.addEventListener("pointerdown", (event) => { if (!event.button) this.#begin(event); });
    place.addEventListener("pointermove", (event) => this.#move(barAt(event)));
    place.addEventListener("touchmove", keepStill, { passive: false });
    place.addEventListener("contextmenu", keepStill);
    addEventListener("pointerup", () => this.#end());
    addEventListener("pointercancel", () => this.#draw(null, null));
  }

  /** @param {PointerEvent} event */
  #begin(event) {
    const bar = barAt(event);
    this.#draw(bar, null);
    if (event.pointerType === "mouse") return;
    setTimeout(() => this.#from === bar && !this.#to && this.#draw(bar, bar, true), REST);
  }

  /** @param {HTMLElement | null} to */
  #move(to) {
    if (!this.#from || !to || to === this.#to || (!this.#to && to === this.#from)) return;
    this.#draw(this.#from, to, this.#isHeld);
  }

  /**
   * @param {HTMLElement | null} from
   * @param {HTMLElement | null} to
   */
  #draw(from, to, isHeld = false) {
    [this.#from, this.#to, this.#isHeld] = [from, to, isHeld];
    const bars = [...this.sheet.cells.values()];
    const [first, last] = from && to ? span(bars.indexOf(from), bars.indexOf(to)) : [0, -1];
    bars.forEach((bar, index) => { bar.classList.toggle("drawn", index >= first && index <= last); });
  }

  #end() {
    const line = this.#from && this.#to && command(numbersOf(this.#from), numbersOf(this.#to));
    this.#draw(null, null);
    if (line) this.run(line);
  }

  /**
   * Mark the bars of the active loop on the chart.
   * @param {import("./commands.js").Known} state
   */
  show({ loop }) {
    for (const bar of this.sheet.cells.values()) bar.classList.toggle("looped", plays(numbersOf(bar), loop));
  }
}

/** @param {HTMLElement} bar */
const numbersOf = (bar) => (bar.dataset.numbers ?? "").split(" ").filter(Boolean).map(Number);

/**
 * @param {PointerEvent} event
 * @returns {HTMLElement | null}
 */
const barAt = ({ clientX, clientY }) => document.elementFromPoint(clientX, clientY)?.closest("#sheet .bar") ?? null;
