// The conversion of ticks and server seconds, without the page. A timeline has entries [tick, second,
// quarter notes a minute], each of which gives the tempo from its tick on.

/** @typedef {import("./messages.js").Timeline["line"]} Line */

/** @type {import("./messages.js").TicksPerQuarter} */
const TICKS_PER_QUARTER = 960;

export class Timeline {
  /** @param {Line} [line] */
  constructor(line = []) { this.line = line; }

  get isEmpty() { return this.line.length === 0; }

  /**
   * The last entry at or before a value; else the first one.
   * @param {number} value a tick or a second
   * @param {0 | 1} column which of the two
   */
  #entry(value, column) {
    let found = this.line[0];
    for (const entry of this.line) {
      if (entry[column] > value) break;
      found = entry;
    }
    return found;
  }

  /** @param {number} tick */
  time(tick) {
    const [from, second, bpm] = this.#entry(tick, 0);
    return second + ((tick - from) * 60) / (bpm * TICKS_PER_QUARTER);
  }

  /** @param {number} time */
  tick(time) {
    const [from, second, bpm] = this.#entry(time, 1);
    return from + ((time - second) * bpm * TICKS_PER_QUARTER) / 60;
  }

  /**
   * The timeline with everything after a second faster by a factor.
   * @param {number} time
   * @param {number} factor
   * @returns {Timeline}
   */
  turned(time, factor) {
    if (this.isEmpty) return this;
    const tick = Math.max(this.tick(time), this.line[0][0]);
    const bpm = this.#entry(tick, 0)[2] * factor;
    /** @type {Line} */
    const line = this.line.filter((entry) => entry[0] < tick);
    line.push([tick, Math.max(time, this.line[0][1]), bpm]);
    for (const entry of this.line.filter((each) => each[0] > tick)) {
      line.push([entry[0], new Timeline(line).time(entry[0]), entry[2] * factor]);
    }
    return new Timeline(line);
  }
}

/**
 * The bar at a tick, and the next one.
 * @template {{ start: number, ticks: number }} B
 * @param {Iterable<B>} bars
 * @param {number} tick
 */
export function barsAt(bars, tick) {
  /** @type {B | null} */
  let now = null;
  /** @type {B | null} */
  let next = null;
  for (const bar of bars) if (bar.start <= tick && tick < bar.start + bar.ticks) now = bar;
  const end = now ? now.start + now.ticks : 0;
  for (const bar of bars) if (Math.abs(bar.start - end) < 1) next = bar;
  return { now, next };
}
