// What the player wishes, said to the server in its own words, and done here at once where it can be.

const UNITS = { 1: "quarter", 1.5: "dotted-quarter", 2: "half" };
const SIGNS = { 1: "♩", 1.5: "♩.", 2: "\u{1D15E}" };
const SLOWEST = 20, FASTEST = 500;

export class Deeds {
  state = {};
  chart = null;
  #wished = null;

  constructor({ link, clock, band, sound }) { Object.assign(this, { link, clock, band, sound }); }

  // Quarter notes in the beat that tempi are told in: six-eight counts dotted quarters, cut time halves.
  get unit() {
    const [beats, note] = (this.state.meter ?? this.chart?.meter ?? "4/4").split("/").map(Number);
    if (note === 8 && beats % 3 === 0 && beats > 3) return 1.5;
    return note === 2 ? 2 : 1;
  }

  get sign() { return this.unit === 2 ? "half" : SIGNS[this.unit]; }
  get tempo() { return (this.#wished ?? this.state.tempo_wished ?? 120) / this.unit; }

  told(state) {
    this.state = state;
    if (!this.band.isTurning) this.#wished = null;
  }

  async say(line) {
    const [verb, ...rest] = line.split(" ");
    if (verb === "play") return this.#play();
    if (verb === "pause" || verb === "stop") return this.#halt(line);
    if (line === "toggle") return this.state.playing ? this.#halt("pause") : this.#play();
    if (verb === "tempo" && /^[+-]/.test(rest[0])) return this.turn(Math.round(this.tempo) + Number(rest[0]));
    if (verb === "half") return this.turn(this.tempo / 2);
    if (verb === "double") return this.turn(this.tempo * 2);
    if (line === "loop here") return this.#loopHere();
    if (verb === "level" || verb === "mute") this.sound.before(line);
    return this.send(line);
  }

  send(line, at = this.clock.heard) { return this.link.send({ type: "say", line, at }); }

  async #play() {
    if (this.state.playing) return;
    if (this.state.tune !== null) await this.sound.wake();  // null: there is no chart to play
    this.link.send({ type: "say", line: "play" });
  }

  #halt(line) {
    const at = this.clock.heard;
    this.band.halt();
    this.send(line, at);
  }

  // Another tempo, in the beats that tempi are told in.
  turn(value) {
    const bpm = Math.min(Math.max(value * this.unit, SLOWEST), FASTEST);
    const at = this.band.turn(bpm / (this.tempo * this.unit));
    this.#wished = bpm;
    this.send(`tempo ${UNITS[this.unit]}=${Math.round((bpm / this.unit) * 10) / 10}`, at);
    this.onTempo?.();
  }

  #loopHere() {
    if (this.state.loop) return this.send("loop off");
    const part = this.state.part && this.chart?.form.includes(this.state.part) ? this.state.part : this.chart?.form[0];
    return part && this.send(`loop ${part}`);
  }
}
