// Whether and how loud this page sounds: the audio context, the bank, levels and mutes, sleep.

import { Bank } from "./bank.js";
import { tell } from "./dom.js";
import { Mixer } from "./mixer.js";

const PATIENCE = 6000, QUIET = 200;  // milliseconds

export class Sound {
  bank = new Bank();
  #url = null;
  #state = { levels: {}, muted: [], plays: [], level: 100 };
  #measuring = false;
  #quietUntil = 0;
  #timer = 0;

  constructor(link, clock, band) {
    Object.assign(this, { link, clock, band });
    link.on("bank", ({ url }) => { this.#url = url; this.#load(); });
    link.on("state", (state) => this.#told(state));
    setInterval(() => this.clock.hasJumped && this.#comeBack(), 300);
    document.addEventListener("visibilitychange", () => this.#wakeContext());
  }

  get runs() { return this.clock.runs; }

  // Let the page sound: wants a touch before. Resolves when all is ready to play.
  async wake() {
    const isNew = !this.clock.context;
    const running = this.clock.start();
    if (isNew) this.#furnish();
    const enough = new Promise((go) => setTimeout(go, PATIENCE));
    await Promise.race([enough, Promise.all([running, this.#ready(), this.link.measured()])]);
    if (!this.band.playing || this.clock.shift === null) this.clock.measure();
    this.band.plan();
    this.link.send({ type: "listen", on: true });
  }

  async #ready() {
    for (let turn = 0; turn < 200 && !this.bank.isThere; turn++) {
      await this.#load();
      if (!this.bank.isThere) await new Promise((go) => setTimeout(go, 30));
    }
  }

  #furnish() {
    this.band.mixer = new Mixer(this.clock.context, this.bank);
    this.clock.context.addEventListener("statechange", () => this.#wakeContext());
    this.#level();
  }

  // Sounds are decoded before the first touch: a context that does not run yet can do that.
  async #load() {
    if (!this.#url) return;
    try {
      const context = this.clock.context ?? new OfflineAudioContext(1, 1, 48000);
      await this.bank.load(this.#url, context);
      this.band.plan();
    } catch { tell("The sounds could not be loaded; trying again."); }
  }

  // What the server says holds; but not while it has not heard yet what was turned here.
  #told(state) {
    clearTimeout(this.#timer);
    const wait = this.#quietUntil - performance.now();
    if (wait > 0) { this.#timer = setTimeout(() => this.#told(state), wait); return; }
    this.#state = { levels: {}, muted: [], plays: [], level: 100, ...state };
    this.band.sounding = (state.output ?? "browser") === "browser";
    this.#level();
  }

  #level() {
    const { levels, muted, level } = this.#state;
    const { mixer } = this.band;
    if (!mixer) return;
    for (const [player, percent] of Object.entries(levels)) {
      mixer.level(player, muted.includes(player) ? 0 : (percent * level) / 100);
    }
    mixer.level("count", level);
  }

  // Levels and mutes are heard at once; the server's answer then says the same.
  before(line) {
    const [verb, ...words] = line.split(" ");
    const state = this.#state;
    this.#quietUntil = performance.now() + QUIET + 2000 * this.link.usualDelay;
    if (verb === "mute" && state.plays.includes(words[0])) {
      state.muted = [...state.muted, words[0]];
      state.plays = state.plays.filter((each) => each !== words[0]);
    }
    if (verb === "level" && words.length === 1 && /^\d/.test(words[0])) state.level = Number(words[0]);
    if (verb === "level" && words.length === 2) state.levels = { ...state.levels, [words[0]]: Number(words[1]) };
    this.#level();
  }

  // A browser may stop the context while the page is not seen.
  #wakeContext() {
    const { context } = this.clock;
    if (context && context.state !== "running" && !document.hidden) context.resume().catch(() => {});
  }

  // When the audio clock stood still: take the time again and be in time.
  async #comeBack() {
    if (this.#measuring) return;
    this.#measuring = true;
    try {
      this.link.measure(true);
      await this.link.measured();
      this.band.again();
    } finally { this.#measuring = false; }
  }
}
