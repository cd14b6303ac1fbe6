// The player's commands: sent to the server, and carried out here at once where possible.

/** @typedef {import("./messages.js").State} State */
/** @typedef {import("./messages.js").Idle} Idle */
/** @typedef {"words" | "values" | "pressed" | "levels" | "muted" | "level" | "unit"} Always */
/** @typedef {Pick<State, Always> & Partial<Omit<State, Always | "tune">> & { tune?: string | null }} Known */

/** @type {Known} The values of controls before a tune is open. */
const NOTHING = {
  words: {}, values: {}, pressed: [], levels: {}, muted: [], .../** @type {Pick<State, "level" | "unit">} */ (
    JSON.parse(document.body.dataset.usual ?? "")),
};

export class Commands {
  state = NOTHING;
  /** @type {((state: Known) => void) | null} called when a command is kept until the server is back */
  onKept = null;
  /** @type {(() => void) | null} called after a local change of tempo */
  onTempo = null;
  /** @type {number | null} a local change of tempo that is not in the state yet */
  #tempo = null;
  /** @type {Known | null} the last state, while the server is away */
  #kept = null;
  /** @type {string | null} the last play, pause or stop while the server is away */
  #asked = null;

  /**
   * @param {import("./link.js").Link} link
   * @param {import("./clock.js").Clock} clock
   * @param {import("./band.js").Band} band
   * @param {import("./sound.js").Sound} sound
   */
  constructor(link, clock, band, sound) {
    this.link = link;
    this.clock = clock;
    this.band = band;
    this.sound = sound;
  }

  // The tempo in the note that the chart counts, like all tempi here.
  get tempo() { return this.#tempo ?? this.state.tempo_wished ?? 120; }

  /** @param {Known | Idle} state */
  update(state) {
    this.state = { ...NOTHING, ...state };
    if (!this.band.isTurning) this.#tempo = null;
  }

  // Keep the last state until the server is back.
  disconnected() { this.#kept ??= this.state; }

  // The server is back, perhaps restarted: send its last state, and the last command while it was away,
  // which a server that kept running has missed too. Returns whether there was a state to send.
  reconnected() {
    const [kept, asked] = [this.#kept, this.#asked];
    this.#kept = this.#asked = null;
    if (!kept?.tune) return false;
    const { tune, output = "" } = kept;
    const snapshot = asked ? { ...kept.snapshot, playing: asked === "play" } : kept.snapshot;
    this.link.send({ type: "again", tune, output, snapshot });
    if (asked) this.link.send({ type: "say", line: asked });
    return true;
  }

  /**
   * Keep a command until the server is back; returns whether the server is away.
   * @param {string} line
   */
  #keep(line) {
    if (!this.#kept) return false;
    this.#asked = line;
    this.onKept?.({ ...this.state, playing: line === "play" });
    return true;
  }

  /**
   * @param {string} line
   * @returns {unknown}
   */
  run(line) {
    const [name, word = ""] = line.split(" ");
    if (name === "toggle") return this.run(this.state.playing ? "pause" : "play");
    if (name === "play") return this.#play();
    if (name === "pause" || name === "stop") return this.#halt(line);
    if (line === "loop here" && this.state.loop) return this.send("loop off");
    if (name === "half") return this.turn(this.tempo / 2);
    if (name === "double") return this.turn(this.tempo * 2);
    const number = /^[+-]$/.test(word) ? Number(word + this.state.unit.step) : Number(word);
    if (name !== "tempo" || Number.isNaN(number)) return this.send(line);
    return this.turn(/^[+-]/.test(word) ? this.tempo + number : number);
  }

  /**
   * @param {string} line
   * @param {number} [at] the moment being heard, in server seconds
   */
  send(line, at = this.clock.heard) { this.link.send({ type: "say", line, at }); }

  async #play() {
    if (this.state.playing) return;
    // Without a tune there is nothing to wait for; before the first state it is unknown whether one is open.
    const waking = this.state.tune === null ? null : this.sound.wake();
    if (this.#keep("play")) return;
    await waking;
    this.link.send({ type: "say", line: "play" });
  }

  /** @param {string} line */
  #halt(line) {
    const at = this.clock.heard;
    this.band.halt();
    if (!this.#keep(line)) this.send(line, at);
  }

  /** @param {number} value */
  turn(value) {
    const { name, slowest, fastest } = this.state.unit;
    const bpm = Math.round(Math.min(Math.max(value, slowest), fastest) * 1000) / 1000;
    const at = this.band.turn(bpm / this.tempo);
    this.#tempo = bpm;
    this.send(`tempo ${name}=${bpm}`, at);
    this.onTempo?.();
  }
}
