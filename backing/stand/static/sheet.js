// The chart drawn: parts, lines of four bars, repeats and endings as written, fitted to the screen.

import { $, el } from "./dom.js";
import { spoken, symbol } from "./symbols.js";

const LEAST_ROW = 44, MOST_ROW = 116, SHAPE_ROW = 74;
const LEAST_LETTER = 15, MOST_LETTER = 60;
const LEAST_SHRINK = 0.5;  // what would be smaller stands in two rows
const BARS_A_LINE = 4, TWO_COLUMNS = 900, TRIAL = 60, NAME = 38;

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
    this.cells.clear();
    this.place.classList.toggle("with-shapes", Object.keys(chart.shapes ?? {}).length > 0);
    this.place.replaceChildren(el("div", { class: "column" }, ...chart.parts.map((part) => this.#part(part))));
    this.fit();
  }

  cell(part, bar) { return this.cells.get(`${part}/${bar}`); }

  #part(part) {
    const own = [part.key !== this.chart.key && `in ${part.key}`, part.style, part.tempo,
      part.meter !== this.chart.meter && part.meter].filter(Boolean).join(", ");
    return el("section", { class: "part", "data-part": part.name, "aria-label": `Part ${part.name}` },
      el("div", { class: "part-head" },
        el("button", { class: "name", type: "button", "data-loop": part.name, "aria-pressed": "false", "data-long": part.name.length > 2,
          "aria-label": `Go round part ${part.name}`, title: "Go round this part" }, part.name),
        own && el("span", { class: "own" }, own)),
      el("div", { class: "lines", role: "list" }, ...rows(part.lines).map((row) => this.#line(part, row))));
  }

  #line(part, { cells, offset }) {
    const line = el("div", { class: "line", role: "presentation" }, ...cells.map((cell) => this.#cell(part, cell)));
    let inEnding = false;
    cells.forEach((cell, index) => {
      inEnding = Boolean(cell.ending) || (inEnding && !cells[index - 1].repeat_end);
      if (inEnding) line.children[index].classList.add("in-ending");
    });
    if (cells[0].pickup) line.classList.add("from-pickup");
    if (offset) line.firstChild.style.gridColumnStart = offset + 1;
    return line;
  }

  #cell(part, cell) {
    const made = el("div", { class: classes(cell), role: "listitem", "data-part": part.name,
      "data-bar": cell.bar, "data-played": cell.played, "aria-label": label(cell) });
    const inner = el("div", { class: "chords", "aria-hidden": "true" });
    if (cell.same) inner.append(el("span", { class: "same" }));
    else inner.append(...this.#chords(part, cell));
    if (cell.ending) made.append(el("span", { class: "bracket", "aria-hidden": "true" }, `${cell.ending}.`));
    if (cell.meter) inner.prepend(el("span", { class: "meter" }, ...cell.meter.split("/").map((n) => el("span", {}, n))));
    if (cell.repeat_end > 2) made.append(el("span", { class: "times", "aria-hidden": "true" }, `×${cell.repeat_end}`));
    made.append(inner);
    this.cells.set(`${part.name}/${cell.bar}`, made);
    return made;
  }

  #chords(part, cell) {
    const beats = beatsOf(cell.meter ?? part.meter);
    return cell.chords.map((chord, index) => {
      const end = cell.chords[index + 1]?.beat ?? beats;
      const said = cell.directions.filter(({ beat }) => beat >= chord.beat && beat < end).map(({ word }) => word);
      const made = el("div", { class: "chord" },
        this.#shape(chord.shape), symbol(chord.text),
        said.length ? el("span", { class: "said" }, said.join(" ")) : null);
      made.style.flexGrow = Math.max(end - chord.beat, 0.5);
      return made;
    });
  }

  #shape(number) {
    const drawing = number && this.chart.shapes?.[number];
    if (!drawing) return null;
    const svg = new DOMParser().parseFromString(drawing.svg, "image/svg+xml").documentElement;
    if (svg.nodeName !== "svg") return null;
    const [left, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    svg.setAttribute("viewBox", `${left} ${NAME} ${width} ${height - NAME - 8}`);  // the name stands below
    return el("span", { class: "shape" }, document.importNode(svg, true));
  }

  // As large as the tune allows, in one column or two: all of it on the screen, or, when letters would
  // be too small, in lines that scroll along.
  fit() {
    const parts = [...this.place.querySelectorAll(".part")];
    if (!parts.length || !this.place.offsetParent) return;
    const choices = [[parts], ...(this.place.clientWidth > TWO_COLUMNS ? [split(parts)] : [])];
    const sizes = choices.map((columns) => this.#sized(columns));
    const best = sizes.length > 1 && sizes[1].letter > sizes[0].letter * 1.1 ? 1 : 0;
    if (best === 0 && sizes.length > 1) this.#sized(choices[0]);
    const { row, letter } = sizes[best];
    this.place.style.setProperty("--row", `${row}px`);
    this.place.style.setProperty("--letter", `${letter.toFixed(1)}px`);
    this.place.classList.toggle("tight", row < 62);
    this.#shrink();
  }

  // Put the parts in columns, and find how large they can be: a row and a letter in pixels.
  #sized(columns) {
    const shapes = this.place.classList.contains("with-shapes") ? SHAPE_ROW : 0;
    const now = this.place.querySelectorAll(".column");
    if (now.length !== columns.length || columns.some((parts, index) => now[index].childElementCount !== parts.length)) {
      this.place.replaceChildren(...columns.map((parts) => el("div", { class: "column" }, ...parts)));
    }
    this.place.style.setProperty("--row", `${TRIAL}px`);
    const room = $("main").clientHeight - this.place.offsetTop + $("main").offsetTop - 12;
    const [most, height] = [Math.max(...columns.map(linesIn)), this.place.offsetHeight];
    const row = Math.min(Math.max(Math.floor((room - height + TRIAL * most) / most), LEAST_ROW + shapes), MOST_ROW + shapes);
    const width = this.place.querySelector(".line").clientWidth / BARS_A_LINE;
    const letter = Math.min(Math.max(Math.min((row - shapes) * 0.5, width * 0.3), LEAST_LETTER), MOST_LETTER);
    return { row, letter };
  }

  // Bars with more in them than fits are set smaller, each by itself.
  #shrink() {
    const all = [...this.cells.values()].map((cell) => cell.querySelector(".chords"));
    for (const each of all) {
      each.style.removeProperty("--shrink");
      each.classList.remove("two-rows");
    }
    const sizes = all.map((each) => each.clientWidth / Math.max(each.scrollWidth, 1));
    all.forEach((each, index) => {
      if (sizes[index] < 0.995) each.style.setProperty("--shrink", Math.max(sizes[index] * 0.97, LEAST_SHRINK).toFixed(3));
      each.classList.toggle("two-rows", sizes[index] < LEAST_SHRINK);
    });
  }
}

const linesIn = (parts) => parts.reduce((sum, part) => sum + part.querySelectorAll(".line").length, 0);

// Parts in two columns whose longer one is as short as can be.
function split(parts) {
  const cuts = parts.slice(1).map((_, index) => [parts.slice(0, index + 1), parts.slice(index + 1)]);
  const longest = (columns) => Math.max(...columns.map(linesIn));
  return cuts.length ? cuts.reduce((a, b) => (longest(b) < longest(a) ? b : a)) : [parts];
}

// Lines as they are engraved: the first ending goes on in its line, the next stand under it.
function rows(lines) {
  const rows = [];
  let column = 0;
  for (const cells of lines) {
    const last = rows.at(-1);
    const ending = cells[0].ending;
    const room = last ? BARS_A_LINE - last.offset - last.cells.length : 0;
    if (ending?.startsWith("1") && last && cells.length <= room) {
      column = last.offset + last.cells.length;
      last.cells = [...last.cells, ...cells];
    } else {
      if (!ending || ending.startsWith("1")) column = 0;
      rows.push({ cells: [...cells], offset: cells.length + column <= BARS_A_LINE ? column : 0 });
    }
  }
  return rows;
}

function classes(cell) {
  return ["bar", cell.pickup && "pickup", cell.repeat_start && "repeat-start", cell.repeat_end && "repeat-end",
    cell.ending && "ending", cell.directions.some(({ word }) => word === "break") && "break",
  ].filter(Boolean).join(" ");
}

function label(cell) {
  return [
    cell.pickup ? "pickup" : `bar ${cell.bar + 1}`, cell.repeat_start && "repeat from here",
    cell.ending && `ending ${cell.ending}`, cell.meter && `in ${cell.meter}`,
    cell.same ? "as before" : cell.chords.map(({ text }) => spoken(text)).join(", "),
    ...cell.directions.map(({ word }) => word),
    cell.repeat_end > 0 && `repeat, ${cell.repeat_end} times in all`,
  ].filter(Boolean).join(", ");
}

function beatsOf(meter) {
  const [beats, unit] = meter.split("/").map(Number);
  return unit === 8 && beats % 3 === 0 ? beats / 3 : beats;
}
