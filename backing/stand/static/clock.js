// The audio clock and the server's clock: one fixed map while the music plays, measured anew when it
// stands still and after a sleep.

const LEAST_DELAY = 0.1, MOST_DELAY = 0.3;
const JUMP = 0.1, DRIFT = 0.00001, LOOKS = 15;

export class Clock {
  /** @type {AudioContext | null} */
  context = null;
  /** @type {number | null} audio seconds minus server seconds, the delay included */
  shift = null;
  /** @type {number | null} */
  #gap = null;
  /** @type {number[]} the last looks: what single ones tell is rough */
  #gaps = [];
  /** @type {number | null} */
  #delay = null;

  /** @param {import("./link.js").Link} link */
  constructor(link) { this.link = link; }

  // The context begins to run at the player's first touch; browsers want it so.
  start() {
    this.context ??= new AudioContext({ latencyHint: "interactive" });
    return this.context.state === "running" ? Promise.resolve() : this.context.resume();
  }

  get runs() { return this.context?.state === "running"; }

  // The context and the map, once the music can be put on the audio clock.
  get running() {
    const { context, shift } = this;
    return context?.state === "running" && shift !== null ? { context, shift } : null;
  }

  get delay() { return Math.min(Math.max(LEAST_DELAY, 0.06 + 1.5 * this.link.usualDelay), MOST_DELAY); }

  // Measure the map; while the music plays its delay stays, or the music would leap.
  measure({ keep = false } = {}) {
    if (!this.context || !this.runs) return;
    if (!keep || this.#delay === null) this.#delay = this.delay;
    this.shift = this.context.currentTime - this.link.now + this.#delay;
    this.#gaps = [];
    this.#gap = null;  // taken when there are enough looks: a context that has just begun does not know its latency
  }

  // The server time that is heard now, and the one that can no longer be changed.
  get heard() {
    const { running } = this;
    return running ? heardBy(running.context) - running.shift : this.link.now - this.delay;
  }
  get decided() {
    const { running } = this;
    return running ? running.context.currentTime + 0.006 - running.shift : this.heard;
  }

  // Whether the audio clock stood still while time went on: a lid was closed, a device was changed. Single
  // looks are rough, so two must tell it. The slow drift of two quartzes, and moments for which a busy
  // machine had no sound, are followed by so little at a time that nobody hears it.
  get hasJumped() {
    const { running } = this;
    if (!running) return false;
    this.#gaps = [...this.#gaps, performance.now() / 1000 - heardBy(running.context)].slice(-LOOKS);
    const [before, ...last] = this.#gaps.slice(-3);
    if (last.length === 2 && last.every((gap) => Math.abs(gap - before) > JUMP)) return true;
    if (this.#gaps.length < LOOKS) return false;
    const usual = [...this.#gaps].sort((a, b) => a - b)[LOOKS >> 1];
    this.#gap ??= usual;
    const step = Math.min(Math.max((usual - this.#gap) * 0.02, -DRIFT), DRIFT);
    this.#gap += step;
    this.shift = running.shift - step;
    return false;
  }
}

/**
 * The audio time that is heard now. Browsers tell which frame left for the loudspeaker, and when.
 * @param {AudioContext} context
 */
function heardBy(context) {
  const { contextTime, performanceTime } = context.getOutputTimestamp?.() ?? {};
  if (!performanceTime || contextTime === undefined) return context.currentTime;
  const heard = contextTime + (performance.now() - performanceTime) / 1000;
  return Math.min(Math.max(heard, context.currentTime - 0.6), context.currentTime + 0.05);
}
