// The chart, as large as the screen allows, in one column or two.

import { $, all } from "./dom.js";
import { hidesShapes, isLarger, isTight, size, squeeze, TRIALS } from "./fit.js";

const BARS_A_LINE = 4, TWO_COLUMNS = 900, BELOW = 12;

export class Sheet {
  /** @type {import("./messages.js").ChartView | null} */
  chart = null;
  /** @type {Map<string, HTMLElement>} by "part/bar as written" */
  cells = new Map();

  /** @param {HTMLElement} place */
  constructor(place) {
    this.place = place;
    new ResizeObserver(() => this.fit()).observe($("main"));
    document.fonts?.ready.then(() => this.fit());
  }

  /** @param {import("./messages.js").ChartView} chart */
  draw(chart) {
    this.chart = chart;
    this.place.classList.toggle("with-shapes", chart.has_shapes);
    this.place.innerHTML = chart.html;
    $("grips").innerHTML = chart.grips;
    for (const each of all(".chord", this.place)) each.style.flexGrow = each.dataset.beats ?? "";
    for (const each of all("[data-offset]", this.place)) {
      each.style.gridColumnStart = String(Number(each.dataset.offset) + 1);
    }
    this.cells = new Map(all(".bar", this.place).map((each) => [`${each.dataset.part}/${each.dataset.bar}`, each]));
    this.fit();
  }

  /**
   * @param {string} part
   * @param {number} bar
   */
  cell(part, bar) { return this.cells.get(`${part}/${bar}`); }

  /**
   * Show the shapes of one of the chop's paths.
   * @param {number} path
   */
  follow(path) {
    if ($("main").dataset.path === String(path)) return;
    $("main").dataset.path = String(path);
    if (this.chart?.has_shapes) this.#squeeze();
  }

  // Fit the whole chart on the screen; where letters would be too small, its rows scroll.
  fit() {
    if (!this.cells.size || !this.place.offsetParent) return;
    const one = this.#sized(false);
    const two = this.place.clientWidth > TWO_COLUMNS ? this.#sized(true) : one;
    const { row, letter } = isLarger(one, two) ? two : this.#sized(false);
    this.place.style.setProperty("--row", `${row}px`);
    this.place.style.setProperty("--letter", `${letter.toFixed(1)}px`);
    this.place.classList.toggle("tight", isTight(row));
    this.#squeeze();
  }

  /**
   * The size that fits in one column or in two.
   * @param {boolean} inTwo
   */
  #sized(inTwo) {
    this.place.classList.toggle("two-columns", inTwo);
    const heights = TRIALS.map((row) => {
      this.place.style.setProperty("--row", `${row}px`);
      return this.place.offsetHeight;
    });
    const room = $("main").clientHeight - this.place.offsetTop + $("main").offsetTop - BELOW;
    const width = all(".line", this.place)[0].clientWidth / BARS_A_LINE;
    return size({ heights, room, width, hasShapes: Boolean(this.chart?.has_shapes) });
  }

  // Shrink each bar whose content is too wide.
  #squeeze() {
    const bars = all(".chords", this.place);
    for (const each of bars) {
      each.style.removeProperty("--shrink");
      each.classList.remove("two-rows", "shapeless");
    }
    const shares = () => bars.map((each) => each.clientWidth / Math.max(each.scrollWidth, 1));
    shares().forEach((share, index) => { bars[index].classList.toggle("shapeless", hidesShapes(share)); });
    shares().forEach((share, index) => {
      const { shrink, inTwoRows } = squeeze(share);
      if (shrink !== null) bars[index].style.setProperty("--shrink", shrink.toFixed(3));
      bars[index].classList.toggle("two-rows", inTwoRows);
    });
  }
}
