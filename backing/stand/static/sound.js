// Whether and how loud this page sounds: the audio context, the bank, levels and mutes, sleep.

import { Bank } from "./bank.js";
import { tell } from "./dom.js";
import { Mixer } from "./mixer.js";

const PATIENCE = 6000;  // milliseconds

export class Sound {
  bank = new Bank();
  isAwake = false;  // whether this page is to sound: several may look on
  #url = null;
  #state = { levels: {}, muted: [], level: 100 };
  #measuring = false;

  constructor(link, clock, band) {
    Object.assign(this, { link, clock, band });
    link.on("bank", ({ url }) => { this.#url = url; this.#load(); });
    setInterval(() => this.clock.hasJumped && this.#comeBack(), 300);
    document.addEventListener("visibilitychange", () => this.#wakeContext());
  }

  // Begin to run the context: wants a touch, any touch, and so it runs already when play is pressed.
  warm() {
    const isNew = !this.clock.context;
    const running = this.clock.start();
    if (isNew) {
      this.band.mixer = new Mixer(this.clock.context, this.bank);
      this.clock.context.addEventListener("statechange", () => this.#wakeContext());
      this.#level();
    }
    return running;
  }

  // Let the page sound. Resolves when all is ready to play.
  async wake() {
    this.isAwake = true;
    this.told(this.#state);
    const enough = new Promise((go) => setTimeout(go, PATIENCE));
    await Promise.race([enough, Promise.all([this.warm(), this.#ready(), this.link.measured()])]);
    if (!this.band.playing || this.clock.shift === null) this.clock.measure();
    this.band.plan();
    this.link.send({ type: "listen", on: true });
  }

  async #ready() {
    for (; !this.bank.isThere; await new Promise((go) => setTimeout(go, 30))) await this.#load();
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

  told(state) {
    this.#state = state;
    this.band.sounding = this.isAwake && (state.output ?? "browser") === "browser";
    this.#level();
  }

  #level() {
    const { mixer } = this.band;
    if (!mixer) return;
    const { levels, muted, level } = this.#state;
    for (const [player, percent] of Object.entries(levels)) {
      mixer.level(player, muted.includes(player) ? 0 : (percent * level) / 100);
    }
    mixer.level("count", level);
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
