// Going round what is drawn over on the chart: with the mouse, with a finger sideways or after a
// moment's rest, so that the page still scrolls under it.

const REST = 350;  // milliseconds

export class Loop {
  #from = null;
  #to = null;
  #isHeld = false;

  constructor(sheet, deeds) {
    Object.assign(this, { sheet, deeds });
    const { place } = sheet;
    place.addEventListener("pointerdown", (event) => { if (!event.button) this.#begin(event); });
    place.addEventListener("pointermove", (event) => this.#move(barAt(event)));
    place.addEventListener("touchmove", (event) => { if (this.#isHeld && event.cancelable) event.preventDefault(); }, { passive: false });
    place.addEventListener("contextmenu", (event) => { if (this.#isHeld) event.preventDefault(); });
    addEventListener("pointerup", () => this.#end());
    addEventListener("pointercancel", () => this.#draw(null, null));
  }

  #begin(event) {
    const bar = barAt(event);
    this.#draw(bar, null);
    if (event.pointerType !== "mouse") setTimeout(() => this.#from === bar && !this.#to && this.#draw(bar, bar, true), REST);
  }

  #move(to) {
    if (this.#from && to && to !== this.#to && (this.#to || to !== this.#from)) this.#draw(this.#from, to, this.#isHeld);
  }

  #draw(from, to, isHeld = false) {
    [this.#from, this.#to, this.#isHeld] = [from, to, isHeld];
    const bars = [...this.sheet.cells.values()];
    const [first, last] = [from, to].map((each) => bars.indexOf(each)).sort((a, b) => a - b);
    bars.forEach((bar, index) => bar.classList.toggle("drawn", Boolean(to) && index >= first && index <= last));
  }

  #end() {
    const isDrawn = Boolean(this.#to);
    const numbers = [this.#from, this.#to].map((bar) => numbersOf(bar)[0]);
    this.#draw(null, null);
    if (isDrawn && numbers.every(Boolean)) this.deeds.say(`loop ${Math.min(...numbers)}-${Math.max(...numbers)}`);
  }

  // The bars of the loop that holds, on the chart.
  show({ loop }) {
    for (const bar of this.sheet.cells.values()) {
      bar.classList.toggle("looped", Boolean(loop) && numbersOf(bar).some((number) => number >= loop[0] && number <= loop[1]));
    }
  }
}

const numbersOf = (bar) => (bar?.dataset.numbers ?? "").split(" ").filter(Boolean).map(Number);
const barAt = ({ clientX, clientY }) => document.elementFromPoint(clientX, clientY)?.closest?.("#sheet .bar") ?? null;
