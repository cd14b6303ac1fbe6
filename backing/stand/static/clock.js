// The offset between the audio clock and the server's clock: fixed while the music plays, measured again
// when it stops and after a sleep.

const LEAST_DELAY = 0.1, MOST_DELAY = 0.3;
const JUMP = 0.1, DRIFT = 0.00001, MEASUREMENTS = 15;

export class Clock {
  /** @type {AudioContext | null} */
  context = null;
  /** @type {number | null} audio seconds minus server seconds, the delay included */
  shift = null;
  /** @type {number | null} */
  #gap = null;
  /** @type {number[]} the last measurements; single ones are inexact */
  #gaps = [];
  /** @type {number | null} */
  #delay = null;

  /** @param {import("./link.js").Link} link */
  constructor(link) { this.link = link; }

  // Browsers let the context run only after the player's first touch or key.
  start() {
    this.context ??= new AudioContext({ latencyHint: "interactive" });
    return this.context.state === "running" ? Promise.resolve() : this.context.resume();
  }

  get runs() { return this.context?.state === "running"; }

  // The context and the offset, once notes can be scheduled; else null.
  get running() {
    const { context, shift } = this;
    return context?.state === "running" && shift !== null ? { context, shift } : null;
  }

  get delay() { return Math.min(Math.max(LEAST_DELAY, 0.06 + 1.5 * this.link.usualDelay), MOST_DELAY); }

  // Measure the offset; `keep` keeps the delay, so that playing music does not jump.
  measure({ keep = false } = {}) {
    if (!this.context || !this.runs) return;
    if (!keep || this.#delay === null) this.#delay = this.delay;
    this.shift = this.context.currentTime - this.link.now + this.#delay;
    this.#gaps = [];
    this.#gap = null;  // measured later: a context that has just started does not know its latency
  }

  // The server time that is heard now, and the earliest that can still be changed.
  get heard() {
    const { running } = this;
    return running ? heardBy(running.context) - running.shift : this.link.now - this.delay;
  }
  get decided() {
    const { running } = this;
    return running ? running.context.currentTime + 0.006 - running.shift : this.heard;
  }

  // Whether the audio clock stood still, as after a closed lid or a change of device. Two measurements in a
  // row must show it, since single ones are inexact. Slow drift between the clocks, and dropouts of a busy
  // machine, are followed in inaudible steps.
  get hasJumped() {
    const { running } = this;
    if (!running) return false;
    this.#gaps = [...this.#gaps, performance.now() / 1000 - heardBy(running.context)].slice(-MEASUREMENTS);
    const [before, ...last] = this.#gaps.slice(-3);
    if (last.length === 2 && last.every((gap) => Math.abs(gap - before) > JUMP)) return true;
    if (this.#gaps.length < MEASUREMENTS) return false;
    const usual = [...this.#gaps].sort((a, b) => a - b)[MEASUREMENTS >> 1];
    this.#gap ??= usual;
    const step = Math.min(Math.max((usual - this.#gap) * 0.02, -DRIFT), DRIFT);
    this.#gap += step;
    this.shift = running.shift - step;
    return false;
  }
}

/**
 * The audio time that is heard now, from the browser's output timestamp.
 * @param {AudioContext} context
 */
function heardBy(context) {
  const { contextTime, performanceTime } = context.getOutputTimestamp?.() ?? {};
  if (!performanceTime || contextTime === undefined) return context.currentTime;
  const heard = contextTime + (performance.now() - performanceTime) / 1000;
  return Math.min(Math.max(heard, context.currentTime - 0.6), context.currentTime + 0.05);
}
