// The chart fitted to the screen: as large as the tune allows, in one column or two.

import { $, all } from "./dom.js";

const LEAST_ROW = 44, MOST_ROW = 116, SHAPE_ROW = 74;
const LEAST_LETTER = 15, MOST_LETTER = 60;
const LEAST_SHRINK = 0.5;  // what would be smaller stands in two rows
const LEAST_SHAPE = 0.8;   // a shape that would be smaller is shown below the chart alone
const BARS_A_LINE = 4, TWO_COLUMNS = 900, TRIAL = 60, STEP = 10;

export class Sheet {
  chart = null;
  cells = new Map();  // "part/bar as written" -> element

  constructor(place) {
    this.place = place;
    new ResizeObserver(() => this.fit()).observe($("main"));
    document.fonts?.ready.then(() => this.fit());
  }

  draw(chart) {
    this.chart = chart;
    this.place.classList.toggle("with-shapes", chart.has_shapes);
    this.place.innerHTML = chart.html;
    $("grips").innerHTML = chart.grips;
    for (const each of all(".chord", this.place)) each.style.flexGrow = each.dataset.beats;
    for (const each of all("[data-offset]", this.place)) each.style.gridColumnStart = Number(each.dataset.offset) + 1;
    this.cells = new Map(all(".bar", this.place).map((each) => [`${each.dataset.part}/${each.dataset.bar}`, each]));
    this.fit();
  }

  cell(part, bar) { return this.cells.get(`${part}/${bar}`); }

  // All of it on the screen, or, when letters would be too small, in lines that scroll along.
  fit() {
    if (!this.cells.size || !this.place.offsetParent) return;
    const one = this.#sized(false);
    const two = this.place.clientWidth > TWO_COLUMNS ? this.#sized(true) : one;
    const { row, letter } = two.letter > one.letter * 1.1 ? two : this.#sized(false);
    this.place.style.setProperty("--row", `${row}px`);
    this.place.style.setProperty("--letter", `${letter.toFixed(1)}px`);
    this.place.classList.toggle("tight", row < 62);
    this.#shrink();
  }

  // How large a row and a letter can be, in pixels, in one column or in two.
  #sized(inTwo) {
    this.place.classList.toggle("two-columns", inTwo);
    const shapes = this.chart.has_shapes ? SHAPE_ROW : 0;
    const [height, higher] = [TRIAL, TRIAL + STEP].map((row) => {
      this.place.style.setProperty("--row", `${row}px`);
      return this.place.offsetHeight;
    });
    const lines = Math.max((higher - height) / STEP, 1);  // one above the other
    const room = $("main").clientHeight - this.place.offsetTop + $("main").offsetTop - 12;
    const row = Math.min(Math.max(Math.floor((room - height) / lines + TRIAL), LEAST_ROW + shapes), MOST_ROW + shapes);
    const width = this.place.querySelector(".line").clientWidth / BARS_A_LINE;
    const letter = Math.min(Math.max(Math.min((row - shapes) * 0.5, width * 0.3), LEAST_LETTER), MOST_LETTER);
    return { row, letter };
  }

  // Bars with more in them than fits are set smaller, each by itself.
  #shrink() {
    const bars = all(".chords", this.place);
    for (const each of bars) {
      each.style.removeProperty("--shrink");
      each.classList.remove("two-rows", "shapeless");
    }
    const sizes = () => bars.map((each) => each.clientWidth / Math.max(each.scrollWidth, 1));
    sizes().forEach((size, index) => bars[index].classList.toggle("shapeless", size < LEAST_SHAPE));
    sizes().forEach((size, index) => {
      if (size < 0.995) bars[index].style.setProperty("--shrink", Math.max(size * 0.97, LEAST_SHRINK).toFixed(3));
      bars[index].classList.toggle("two-rows", size < LEAST_SHRINK);
    });
  }
}
