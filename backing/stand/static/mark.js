// The mark on the chart: the bar, chord and beat being heard, and what comes next. It follows the audio
// clock in every frame, half a frame ahead.

import { $, all } from "./dom.js";

const AHEAD = 0.008;

/** @typedef {import("./messages.js").LiveBar} LiveBar */

export class Mark {
  /** @type {LiveBar | null} */
  #bar = null;
  #chord = -1;
  #beat = -1;
  /** @type {HTMLElement[]} */
  #shown = [];

  /**
   * @param {import("./band.js").Band} band
   * @param {import("./sheet.js").Sheet} sheet
   */
  constructor(band, sheet) {
    this.band = band;
    this.sheet = sheet;
    const frame = () => { this.look(); requestAnimationFrame(frame); };
    requestAnimationFrame(frame);
  }

  // Draw everything again, after the chart or its names have changed.
  redraw() {
    this.#bar = null;
    this.#chord = this.#beat = -1;
    $("next-word").textContent = this.band.playing ? "next" : "begins on";
    $("next-chord").innerHTML = this.sheet.chart?.begins ?? "";
  }

  look() {
    const { line, playing } = this.band;
    if (!playing || line.isEmpty) return this.#rest();
    const tick = line.tick(this.band.clock.heard + AHEAD);
    const { now, next } = this.band.at(tick);
    if (!now) return;
    const chord = now.chords.findLastIndex(([from]) => from <= tick);
    const beat = Math.floor((tick - now.start) / now.beat);
    const isNew = now !== this.#bar;
    if (!this.#bar) $("next-word").textContent = "next";
    if (isNew) this.#move(now, next);
    if (isNew || chord !== this.#chord) this.#name(now, next, chord);
    if (isNew || beat !== this.#beat) this.#count(now, beat);
    this.#bar = now;
    [this.#chord, this.#beat] = [chord, beat];
  }

  #rest() {
    if (!this.#bar && this.#shown.length === 0) return;
    for (const each of all(":is(#sheet, #form) :is(.now, .next)")) each.classList.remove("now", "next");
    this.#shown = [];
    this.redraw();
    $("glance").classList.remove("counting");
  }

  /** @param {LiveBar | null} bar */
  #cell(bar) { return bar?.bar ? this.sheet.cell(bar.bar[0], bar.bar[2]) : undefined; }

  /**
   * @param {LiveBar} now
   * @param {LiveBar | null} next
   */
  #move(now, next) {
    if (now.count === null) this.sheet.follow(now.path);
    for (const each of this.#shown) each.classList.remove("now", "next");
    const [here, there] = [this.#cell(now), this.#cell(next)];
    here?.classList.add("now");
    if (there !== here) there?.classList.add("next");
    this.#shown = [here, there].filter((each) => each !== undefined);
    // scroll to the next bar, then to this one, which has priority where both do not fit
    for (const each of [there, here]) each?.closest(".line")?.scrollIntoView({ block: "nearest" });
    for (const { classList, dataset } of all("#form button")) {
      classList.toggle("now", dataset.part === now.bar?.[0] && Number(dataset.turn) === now.bar?.[1]);
    }
  }

  /**
   * The written chord on the chart: in its bar, or in the pickup of the next part.
   * @param {LiveBar | null} bar
   * @param {number} index
   */
  #written(bar, index) {
    const [part, place, number] = bar?.cells[index] ?? [];
    if (part === undefined || place === undefined || number === undefined) return undefined;
    return this.sheet.cell(part, place)?.querySelectorAll(".chord")[number];
  }

  /**
   * A chord symbol as on the chart, or as the band spells it where the chart has none.
   * @param {LiveBar | null} bar
   * @param {number} index
   */
  #symbol(bar, index) {
    const written = this.#written(bar, index)?.querySelector(".symbol");
    return written?.outerHTML ?? bar?.chords[index]?.[2] ?? "";
  }

  /**
   * @param {LiveBar} now
   * @param {LiveBar | null} next
   * @param {number} chord
   */
  #name(now, next, chord) {
    for (const each of all("#sheet .chord.now")) each.classList.remove("now");
    this.#written(now, chord)?.classList.add("now");
    $("now-chord").innerHTML = now.count == null ? this.#symbol(now, Math.max(chord, 0)) : "";
    const isLast = chord + 1 >= now.chords.length;
    $("next-chord").innerHTML = isLast ? this.#symbol(next, 0) : this.#symbol(now, chord + 1);
    $("glance").classList.toggle("counting", now.count != null);
  }

  /**
   * @param {LiveBar} now
   * @param {number} beat
   */
  #count(now, beat) {
    const beats = Math.max(Math.round(now.ticks / now.beat), 1);
    if (now.count != null) $("now-chord").textContent = String(beat + 1);
    if ($("beats").childElementCount !== beats) $("beats").innerHTML = "<i></i>".repeat(beats);
    [...$("beats").children].forEach((each, index) => { each.classList.toggle("on", index === beat); });
  }
}
