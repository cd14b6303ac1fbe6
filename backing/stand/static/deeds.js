// What the player wishes, said to the server in its own words, and done here at once where it can be.

const SLOWEST = 20, FASTEST = 500;
const NOTHING = { words: {}, values: {}, pressed: [], levels: {}, muted: [], level: 100,
  unit: { name: "quarter", sign: "♩", quarters: 1 } };

export class Deeds {
  state = NOTHING;
  #wished = null;

  constructor({ link, clock, band, sound }) { Object.assign(this, { link, clock, band, sound }); }

  // The tempo in the beats that it is told in: six-eight counts dotted quarters, cut time halves.
  get tempo() { return (this.#wished ?? this.state.tempo_wished ?? 120) / this.state.unit.quarters; }

  told(state) {
    this.state = { ...NOTHING, ...state };
    if (!this.band.isTurning) this.#wished = null;
  }

  say(line) {
    const [verb, word = ""] = line.split(" ");
    if (verb === "toggle") return this.say(this.state.playing ? "pause" : "play");
    if (verb === "play") return this.#play();
    if (verb === "pause" || verb === "stop") return this.#halt(line);
    if (line === "loop here" && this.state.loop) return this.send("loop off");
    if (verb === "half") return this.turn(this.tempo / 2);
    if (verb === "double") return this.turn(this.tempo * 2);
    if (verb !== "tempo" || Number.isNaN(Number(word))) return this.send(line);
    return this.turn(/^[+-]/.test(word) ? Math.round(this.tempo) + Number(word) : Number(word));
  }

  send(line, at = this.clock.heard) { return this.link.send({ type: "say", line, at }); }

  async #play() {
    if (this.state.playing) return;
    if (this.state.tune) await this.sound.wake();
    this.link.send({ type: "say", line: "play" });
  }

  #halt(line) {
    const at = this.clock.heard;
    this.band.halt();
    this.send(line, at);
  }

  // Another tempo, in the beats that tempi are told in.
  turn(value) {
    const { name, quarters } = this.state.unit;
    const bpm = Math.min(Math.max(value * quarters, SLOWEST), FASTEST);
    const at = this.band.turn(bpm / (this.tempo * quarters));
    this.#wished = bpm;
    this.send(`tempo ${name}=${Math.round((bpm / quarters) * 10) / 10}`, at);
    this.onTempo?.();
  }
}
