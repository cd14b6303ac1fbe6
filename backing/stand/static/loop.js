// Going round: touch a part's name, or draw over bars.

import { $ } from "./dom.js";

export class Loop {
  #from = null;
  #to = null;

  constructor(sheet, deeds) {
    Object.assign(this, { sheet, deeds });
    document.addEventListener("click", ({ target }) => {
      const button = target.closest("[data-loop]");
      if (button) deeds.say(button.getAttribute("aria-pressed") === "true" ? "loop off" : `loop ${button.dataset.loop}`);
    });
    sheet.place.addEventListener("pointerdown", (event) => { if (!event.button) this.#draw(barAt(event), null); });
    sheet.place.addEventListener("pointermove", (event) => this.#move(barAt(event)));
    addEventListener("pointerup", () => this.#up());
    addEventListener("pointercancel", () => this.#draw(null, null));
  }

  #draw(from, to) {
    [this.#from, this.#to] = [from, to];
    const bars = [...this.sheet.cells.values()];
    const [first, last] = [from, to].map((each) => bars.indexOf(each)).sort((a, b) => a - b);
    bars.forEach((bar, index) => bar.classList.toggle("drawn", Boolean(to) && index >= first && index <= last));
  }

  #move(to) {
    if (this.#from && to && to !== this.#to && (this.#to || to !== this.#from)) this.#draw(this.#from, to);
  }

  #up() {
    const numbers = [this.#from, this.#to].map((bar) => this.#number(bar));
    const isDrawn = Boolean(this.#to);
    this.#draw(null, null);
    if (isDrawn && !numbers.includes(null)) this.deeds.say(`loop ${Math.min(...numbers)}-${Math.max(...numbers)}`);
  }

  // A bar's number through the whole form, from 1, where it is first played; null for a pickup.
  #number(bar) {
    if (!bar || bar.dataset.played === undefined) return null;
    const { form, parts } = this.sheet.chart;
    const before = form.slice(0, form.indexOf(bar.dataset.part));
    return 1 + Number(bar.dataset.played) + this.#length(before, parts);
  }

  #length(names, parts) {
    return names.reduce((sum, name) => sum + parts.find((each) => each.name === name).bars, 0);
  }

  // The bars of the loop that holds, on the chart.
  show({ loop }) {
    for (const bar of this.sheet.cells.values()) {
      const number = loop && this.#number(bar);
      bar.classList.toggle("looped", Boolean(number) && number >= loop[0] && number <= loop[1]);
    }
    const { form, parts } = this.sheet.chart;
    for (const id of ["loop-from", "loop-to"]) $(id).max = this.#length(form, parts);
  }
}

const barAt = ({ clientX, clientY }) => document.elementFromPoint(clientX, clientY)?.closest?.("#sheet .bar") ?? null;
