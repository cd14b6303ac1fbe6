// What the player wishes, said to the server in its own words, and done here at once where it can be.

const NOTHING = { words: {}, values: {}, pressed: [], levels: {}, muted: [], level: 100,
  unit: { name: "quarter", words: "quarter", mark: "", step: 5, slowest: 20, fastest: 500 } };

export class Deeds {
  state = NOTHING;
  #wished = null;
  #kept = null;   // while the server is away: what it said last
  #asked = null;  // and whether the player has asked to play, pause or stop since

  constructor({ link, clock, band, sound }) { Object.assign(this, { link, clock, band, sound }); }

  // The tempo in the note that the chart counts, as are all tempi here.
  get tempo() { return this.#wished ?? this.state.tempo_wished ?? 120; }

  told(state) {
    this.state = { ...NOTHING, ...state };
    if (!this.band.isTurning) this.#wished = null;
  }

  // The server is away: what held is kept for when it is back.
  lost() { this.#kept ??= this.state; }

  // The server is back, perhaps begun anew. Tell it what held, and what was asked since: a server that
  // has played on has not heard that either. Returns whether there was anything to tell.
  found() {
    const [kept, asked] = [this.#kept, this.#asked];
    this.#kept = this.#asked = null;
    if (!kept?.tune) return false;
    const { tune, output } = kept;
    const snapshot = asked ? { ...kept.snapshot, playing: asked === "play" } : kept.snapshot;
    this.link.send({ type: "again", tune, output, snapshot });
    if (asked) this.link.send({ type: "say", line: asked });
    return true;
  }

  // Keep a wish for when the server is back; returns whether it is away.
  #keep(line) {
    if (!this.#kept) return false;
    this.#asked = line;
    this.onKept?.({ ...this.state, playing: line === "play" });
    return true;
  }

  say(line) {
    const [verb, word = ""] = line.split(" ");
    if (verb === "toggle") return this.say(this.state.playing ? "pause" : "play");
    if (verb === "play") return this.#play();
    if (verb === "pause" || verb === "stop") return this.#halt(line);
    if (line === "loop here" && this.state.loop) return this.send("loop off");
    if (verb === "half") return this.turn(this.tempo / 2);
    if (verb === "double") return this.turn(this.tempo * 2);
    const number = /^[+-]$/.test(word) ? Number(word + this.state.unit.step) : Number(word);
    if (verb !== "tempo" || Number.isNaN(number)) return this.send(line);
    return this.turn(/^[+-]/.test(word) ? this.tempo + number : number);
  }

  send(line, at = this.clock.heard) { return this.link.send({ type: "say", line, at }); }

  async #play() {
    if (this.state.playing) return;
    // Without a tune there is nothing to wait for; before the first state has come nobody knows.
    const waking = this.state.tune === null ? null : this.sound.wake();
    if (this.#keep("play")) return;
    await waking;
    this.link.send({ type: "say", line: "play" });
  }

  #halt(line) {
    const at = this.clock.heard;
    this.band.halt();
    if (!this.#keep(line)) this.send(line, at);
  }

  turn(value) {
    const { name, slowest, fastest } = this.state.unit;
    const bpm = Math.round(Math.min(Math.max(value, slowest), fastest) * 1000) / 1000;
    const at = this.band.turn(bpm / this.tempo);
    this.#wished = bpm;
    this.send(`tempo ${name}=${bpm}`, at);
    this.onTempo?.();
  }
}
