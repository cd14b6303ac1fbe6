// The notes that the band plays: each is scheduled on the audio clock as soon as it is known, and moved
// when the tempo changes before it has begun.

import { barsAt, Timeline } from "./timeline.js";

// In seconds.
const BEGUN = 0.004;     // a note that is nearer can no longer be moved
const TOO_LATE = 0.03;   // a note that is later is left out, so that late notes never come in a burst
const NO_CHANGE = 0.0001;
const QUIET = 0.25;      // after a local change of tempo, timelines of the server are held back so long

/** @typedef {import("./messages.js").LiveBar} LiveBar */
/** @typedef {import("./messages.js").Timeline} Times */
/**
 * A note, in ticks, and when it begins and ends in audio seconds, once it has a voice.
 * @typedef {object} Note
 * @property {number} tick
 * @property {number} ticks
 * @property {import("./messages.js").Player} player
 * @property {number} pitch
 * @property {number} velocity
 * @property {string} bus
 * @property {LiveBar["mix"]} mix
 * @property {import("./mixer.js").Voice | null} voice
 * @property {number} when
 * @property {number} end
 * @property {boolean} done
 */
/** @typedef {LiveBar & { voices: Note[] }} PlayedBar */

export class Band {
  /** @type {Map<number, PlayedBar>} */
  bars = new Map();
  line = new Timeline();
  playing = false;
  sounding = true;
  /** @type {import("./mixer.js").Mixer | null} */
  mixer = null;
  /** @type {Times | null} */
  #held = null;
  #quietUntil = 0;
  #deafUntil = 0;    // timelines sent before the player stopped are ignored until then
  /** @type {number | null} */
  #generation = null;
  #timer = 0;

  /** @param {import("./clock.js").Clock} clock */
  constructor(clock) { this.clock = clock; }

  /** @param {import("./messages.js").Bars} message */
  take({ add, drop }) {
    for (const id of drop) this.#forget(id);
    for (const bar of add) {
      this.#forget(bar.id);
      this.bars.set(bar.id, { ...bar, voices: notesOf(bar) });
    }
    this.#tidy();
    this.plan();
  }

  /**
   * Follow the server's timeline. After a local change of tempo, only the last one is used, a moment later.
   * @param {Times} message
   */
  time(message) {
    const wait = this.#quietUntil - performance.now() / 1000;
    if (message.playing && this.playing && wait > 0) {
      this.#held = message;
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => this.#held && this.#run(this.#held), wait * 1000 + 5);
    } else this.#run(message);
  }

  get isTurning() { return performance.now() / 1000 < this.#quietUntil; }

  // Stop at once, before the server answers.
  halt() {
    this.forget();
    this.#deafUntil = performance.now() / 1000 + QUIET + 2 * this.clock.link.usualDelay;
  }

  // Forget all bars, as after the connection was lost.
  forget() {
    this.playing = false;
    this.line = new Timeline();
    this.#held = null;
    this.silence();
  }

  /** @param {Times} message */
  #run({ line, playing, generation }) {
    this.#held = null;
    if (playing && generation === this.#generation && performance.now() / 1000 < this.#deafUntil) return;
    this.#generation = generation;
    if (playing && !this.playing) this.clock.measure();
    this.playing = playing;
    this.line = new Timeline(playing ? line : []);
    if (playing) this.plan();
    else this.silence();
  }

  /**
   * Change the tempo at once, before the server answers; returns the moment of change in server seconds.
   * @param {number} factor
   */
  turn(factor) {
    const since = this.clock.decided;
    if (this.playing && factor !== 1) {
      this.#quietUntil = performance.now() / 1000 + QUIET + 2 * this.clock.link.usualDelay;
      this.line = this.line.turned(since, factor);
      this.plan();
    }
    return since;
  }

  // End sounding notes and forget all bars.
  silence() {
    this.#takeBack([...this.bars.values()], false);
    this.bars.clear();
  }

  // The clock has jumped: measure it again and reschedule the notes.
  resync() {
    this.clock.measure({ keep: true });
    this.plan();
  }

  plan() {
    const { running } = this.clock;
    if (this.line.isEmpty || !running || !this.mixer) return;
    if (!this.sounding) return this.#takeBack([...this.bars.values()]);
    const now = running.context.currentTime;
    for (const bar of this.bars.values()) {
      for (const note of bar.voices) if (!note.done) this.#place(note, now, running.shift, this.mixer);
    }
  }

  /**
   * Schedule a note on the audio clock, or move it, unless it has begun.
   * @param {Note} note
   * @param {number} now in audio seconds
   * @param {number} shift audio seconds minus server seconds
   * @param {import("./mixer.js").Mixer} mixer
   */
  #place(note, now, shift, mixer) {
    const when = this.line.time(note.tick) + shift;
    const end = this.line.time(note.tick + note.ticks) + shift;
    if (note.voice && note.when <= now + BEGUN) {
      if (Math.abs(end - note.end) > NO_CHANGE && end > now && note.player !== "drums") note.voice.end(end);
      note.end = end;
      note.done = end < now;
      return;
    }
    if (note.voice && Math.abs(when - note.when) < NO_CHANGE && Math.abs(end - note.end) < NO_CHANGE) return;
    note.voice?.cancel();
    note.voice = null;
    note.done = when < now - TOO_LATE;
    if (note.done) return;
    Object.assign(note, { when: Math.max(when, now), end });
    note.voice = mixer.strike(note, note.when, end);
  }

  /**
   * Cancel notes that have not begun; sounding notes go on, or end now.
   * @param {PlayedBar[]} bars
   * @param {boolean} [ringsOn]
   */
  #takeBack(bars, ringsOn = true) {
    const now = this.clock.context?.currentTime ?? 0;
    for (const note of bars.flatMap(({ voices }) => voices)) {
      if (note.voice && note.when > now + BEGUN) {
        note.voice.cancel();
        note.voice = null;
      } else if (!ringsOn) note.voice?.end(now);
    }
  }

  /** @param {number} id */
  #forget(id) {
    const bar = this.bars.get(id);
    if (bar) this.#takeBack([bar]);
    this.bars.delete(id);
  }

  // Forget bars that are long over; the mark still needs the one being heard and the one before.
  #tidy() {
    if (this.line.isEmpty) return;
    const tick = this.line.tick(this.clock.heard - 1);
    for (const [id, bar] of this.bars) if (bar.start + 2 * bar.ticks < tick) this.bars.delete(id);
  }

  /**
   * The bar at a tick, and the next one.
   * @param {number} tick
   */
  at(tick) { return barsAt([...this.bars.values()], tick); }
}

/**
 * @param {LiveBar} bar
 * @returns {Note[]}
 */
function notesOf({ notes, mix, count }) {
  return notes.map(([tick, ticks, player, pitch, velocity]) => (
    { tick, ticks, player, pitch, velocity, bus: count == null ? player : "count", mix,
      voice: null, when: 0, end: 0, done: false }));
}
