// What the band is to play: bars of notes in ticks, each note put on the audio clock as soon as it is
// known and moved when time runs otherwise, as long as it has not begun.

import { Timeline } from "./timeline.js";

const BEGUN = 0.004;     // what is so near can no longer be moved
const TOO_LATE = 0.03;   // what is later is left out; late notes never come in a burst
const NO_CHANGE = 0.0001;
const QUIET = 0.25;      // after a tempo of our own, the server's answers are waited for so long

export class Band {
  bars = new Map();
  line = new Timeline();
  playing = false;
  sounding = true;
  #held = null;
  #quietUntil = 0;
  #deafUntil = 0;    // what was said before the player stopped is not listened to
  #generation = null;
  #timer = 0;

  constructor(clock) { this.clock = clock; this.mixer = null; }

  take({ add = [], drop = [] }) {
    for (const id of drop) this.#forget(id);
    for (const bar of add) {
      this.#forget(bar.id);
      bar.voices = bar.notes.map(([tick, ticks, player, pitch, velocity]) => (
        { tick, ticks, player, pitch, velocity, bus: bar.count == null ? player : "count", mix: bar.mix, voice: null, done: false }));
      this.bars.set(bar.id, bar);
    }
    this.#tidy();
    this.plan();
  }

  // The server's timeline. While the player turns the tempo here, the last one is kept for a moment.
  time(message) {
    const wait = this.#quietUntil - performance.now() / 1000;
    if (message.playing && this.playing && wait > 0) {
      this.#held = message;
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => this.#held && this.#run(this.#held), wait * 1000 + 5);
    } else this.#run(message);
  }

  get isTurning() { return performance.now() / 1000 < this.#quietUntil; }

  // Fall silent at once, before the server answers.
  halt() {
    this.forget();
    this.#deafUntil = performance.now() / 1000 + QUIET + 2 * this.clock.link.usualDelay;
  }

  // Begin with nothing, as after the server has gone.
  forget() {
    this.playing = false;
    this.line = new Timeline();
    this.#held = null;
    this.silence();
  }

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

  // Another tempo at once, before the server answers; returns since when, in server seconds.
  turn(factor) {
    const since = this.clock.decided;
    if (this.playing && factor !== 1) {
      this.#quietUntil = performance.now() / 1000 + QUIET + 2 * this.clock.link.usualDelay;
      this.line = this.line.turned(since, factor);
      this.plan();
    }
    return since;
  }

  // Stop what rings, forget what was to come.
  silence() {
    this.#takeBack([...this.bars.values()], false);
    this.bars.clear();
  }

  // Time has jumped: what lies behind is left out, what comes is in time again.
  again() {
    this.clock.measure({ keep: true });
    this.plan();
  }

  plan() {
    if (this.line.isEmpty || !this.clock.runs || this.clock.shift === null || !this.mixer) return;
    if (!this.sounding) return this.#takeBack([...this.bars.values()]);
    const now = this.clock.context.currentTime;
    for (const bar of this.bars.values()) {
      for (const note of bar.voices) if (!note.done) this.#place(note, now);
    }
  }

  #place(note, now) {
    const when = this.clock.audio(this.line.time(note.tick));
    const end = this.clock.audio(this.line.time(note.tick + note.ticks));
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
    note.voice = this.mixer.strike(note, note.when, end);
  }

  // Take back what has not begun; what rings goes on, or ends now.
  #takeBack(bars, ringsOn = true) {
    const now = this.clock.context?.currentTime ?? 0;
    for (const note of bars.flatMap(({ voices }) => voices)) {
      if (note.voice && note.when > now + BEGUN) {
        note.voice.cancel();
        note.voice = null;
      } else if (!ringsOn) note.voice?.end(now);
    }
  }

  #forget(id) {
    this.#takeBack([this.bars.get(id)].filter(Boolean));
    this.bars.delete(id);
  }

  // Bars that are long over; the bar being heard and the one before stay, for the mark.
  #tidy() {
    if (this.line.isEmpty) return;
    const tick = this.line.tick(this.clock.heard - 1);
    for (const [id, bar] of this.bars) if (bar.start + 2 * bar.ticks < tick) this.bars.delete(id);
  }

  // The bar at a tick, and the one behind it.
  at(tick) {
    let now = null, next = null;
    for (const bar of this.bars.values()) {
      if (bar.start <= tick && tick < bar.start + bar.ticks) now = bar;
    }
    const end = now ? now.start + now.ticks : 0;
    for (const bar of this.bars.values()) if (Math.abs(bar.start - end) < 1) next = bar;
    return { now, next };
  }
}
