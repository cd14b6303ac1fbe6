// Where the music is: the bar being heard, the chord, the beat, and what comes next. It follows the
// audio clock, a frame at a time, half a frame ahead so that it is never late.

import { $, el } from "./dom.js";
import { symbol } from "./symbols.js";

const AHEAD = 0.008;

export class Mark {
  #bar = null;
  #chord = -1;
  #beat = -1;
  #shown = [];
  #calm = matchMedia("(prefers-reduced-motion: reduce)");

  constructor(band, sheet) {
    Object.assign(this, { band, sheet });
    const frame = () => { this.look(); requestAnimationFrame(frame); };
    requestAnimationFrame(frame);
  }

  // Draw all anew, after the chart or its names have changed.
  anew() {
    this.#bar = null;
    this.#chord = this.#beat = -1;
    const first = this.sheet.chart?.parts.find(({ name }) => name === this.sheet.chart.form[0])?.lines[0][0].chords[0].text;
    $("next-word").textContent = this.band.playing ? "next" : "begins on";
    $("next-chord").replaceChildren(...(first ? [symbol(first)] : []));
  }

  // The part being heard, or null.
  get part() { return this.#bar?.bar?.[0] ?? null; }

  look() {
    const { line, playing } = this.band;
    if (!playing || line.isEmpty) return this.#rest();
    const tick = line.tick(this.band.clock.heard + AHEAD);
    const { now, next } = this.band.at(tick);
    if (!now) return;
    const chord = now.chords.findLastIndex(([from]) => from <= tick);
    const beat = Math.floor((tick - now.start) / now.beat);
    if (!this.#bar) $("next-word").textContent = "next";
    if (now !== this.#bar) this.#move(now, next);
    if (now !== this.#bar || chord !== this.#chord) this.#name(now, next, chord);
    if (now !== this.#bar || beat !== this.#beat) this.#count(now, beat);
    this.#bar = now;
    this.#chord = chord;
    this.#beat = beat;
  }

  #rest() {
    if (!this.#bar && this.#shown.length === 0) return;
    for (const each of this.#shown) each.classList.remove("now", "next");
    this.#shown = [];
    this.anew();
    $("glance").classList.remove("counting");
    for (const each of document.querySelectorAll("#form .now")) each.classList.remove("now");
  }

  #move(now, next) {
    for (const each of this.#shown) each.classList.remove("now", "next");
    const [here, there] = [now, next].map((bar) => bar?.bar && this.sheet.cell(bar.bar[0], bar.bar[2]));
    here?.classList.add("now");
    if (there && there !== here) there.classList.add("next");
    this.#shown = [here, there].filter(Boolean);
    if (here ?? there) this.#follow(here ?? there, there);
    const turns = [...document.querySelectorAll("#form button")];
    for (const each of turns) each.classList.toggle("now", Boolean(now.bar) &&
      each.dataset.part === now.bar[0] && Number(each.dataset.turn) === now.bar[1]);
  }

  // Scroll along when the line, or the one behind it, is out of sight.
  #follow(here, there) {
    const view = $("main").getBoundingClientRect();
    const [top, end] = [here.getBoundingClientRect(), (there ?? here).getBoundingClientRect()];
    const panel = $("practice");
    const isOver = !panel.hidden && getComputedStyle(panel).position === "fixed";
    const bottom = isOver ? panel.getBoundingClientRect().top : view.bottom;
    const low = Math.max(top.bottom, Math.min(end.bottom, top.bottom + 2 * top.height));
    if (top.top >= view.top && low <= bottom) return;
    $("main").scrollBy({ top: top.top - view.top - (bottom - view.top) * 0.25, behavior: this.#calm.matches ? "auto" : "smooth" });
  }

  #text(bar, index) {
    const cell = bar?.bar && this.sheet.chart?.parts.find(({ name }) => name === bar.bar[0])
      ?.lines.flat().find((each) => each.bar === bar.bar[2]);
    return cell?.chords[index]?.text ?? bar?.chords[index]?.[1];
  }

  #name(now, next, chord) {
    const cell = this.#shown[0];
    for (const each of this.sheet.place.querySelectorAll(".chord.now")) each.classList.remove("now");
    if (now.bar) cell?.querySelectorAll(".chord")[chord]?.classList.add("now");
    const here = now.count == null ? this.#text(now, Math.max(chord, 0)) : null;
    const then = chord + 1 < now.chords.length ? this.#text(now, chord + 1) : this.#text(next, 0);
    $("now-chord").replaceChildren(...(here ? [symbol(here)] : []));
    $("next-chord").replaceChildren(...(then ? [symbol(then)] : []));
    $("glance").classList.toggle("counting", now.count != null);
  }

  #count(now, beat) {
    const beats = Math.max(Math.round(now.ticks / now.beat), 1);
    if (now.count != null) $("now-chord").replaceChildren(String(beat + 1));
    if ($("beats").childElementCount !== beats) {
      $("beats").replaceChildren(...Array.from({ length: beats }, () => el("i")));
    }
    [...$("beats").children].forEach((each, index) => each.classList.toggle("on", index === beat));
  }
}
