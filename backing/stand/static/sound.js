// The sound of this page: audio context, bank, levels and mutes, and recovery after a sleep.

import { Bank } from "./bank.js";
import { notify } from "./dom.js";
import { Mixer } from "./mixer.js";

const PATIENCE = 6000;  // milliseconds
/** @type {import("./messages.js").Browser} */
const BROWSER = "browser";

export class Sound {
  bank = new Bank();
  isAwake = false;  // whether this page plays the sound: others may only show the chart
  #url = "";
  /** @type {import("./commands.js").Known | null} */
  #state = null;
  #measuring = false;

  /**
   * @param {import("./link.js").Link} link
   * @param {import("./clock.js").Clock} clock
   * @param {import("./band.js").Band} band
   */
  constructor(link, clock, band) {
    this.link = link;
    this.clock = clock;
    this.band = band;
    link.on("bank", ({ url }) => { this.#url = url; this.#load(); });
    setInterval(() => this.clock.hasJumped && this.#comeBack(), 300);
    document.addEventListener("visibilitychange", () => this.#wakeContext());
  }

  // Start the context at the first touch or key, so that it runs already when play is pressed.
  warm() {
    const running = this.clock.start();
    const { context } = this.clock;
    if (context && !this.band.mixer) {
      this.band.mixer = new Mixer(context, this.bank);
      context.addEventListener("statechange", () => this.#wakeContext());
      this.#level();
    }
    return running;
  }

  // Play the sound on this page. Resolves when everything is ready to play.
  async wake() {
    this.isAwake = true;
    this.update(this.#state);
    const enough = new Promise((go) => setTimeout(go, PATIENCE));
    await Promise.race([enough, Promise.all([this.warm(), this.#ready(), this.link.measured()])]);
    if (!this.band.playing || this.clock.shift === null) this.clock.measure();
    this.band.plan();
  }

  async #ready() {
    for (; !this.bank.isLoaded; await new Promise((go) => setTimeout(go, 30))) await this.#load();
  }

  // An offline context decodes the sounds before the first touch.
  async #load() {
    if (!this.#url) return;
    try {
      await this.bank.load(this.#url, this.clock.context ?? new OfflineAudioContext(1, 1, 48000));
      this.band.plan();
    } catch { notify("The sounds could not be loaded; trying again."); }
  }

  // Whether the audio output is the browser, not a port.
  get isHere() { return (this.#state?.output ?? BROWSER) === BROWSER; }

  /** @param {import("./commands.js").Known | null} state */
  update(state) {
    this.#state = state;
    this.band.sounding = this.isAwake && this.isHere;
    this.#level();
  }

  #level() {
    const { mixer } = this.band;
    if (!mixer || !this.#state) return;
    const { levels, muted, level } = this.#state;
    for (const [player, percent] of Object.entries(levels)) {
      mixer.level(player, muted.some((each) => each === player) ? 0 : (percent * level) / 100);
    }
    mixer.level("count", level);
  }

  // A browser may suspend the context while the page is hidden.
  #wakeContext() {
    const { context } = this.clock;
    if (context && context.state !== "running" && !document.hidden) context.resume().catch(() => {});
  }

  // After the audio clock stood still: measure the clocks again and reschedule.
  async #comeBack() {
    if (this.#measuring) return;
    this.#measuring = true;
    try {
      this.link.measure(true);
      await this.link.measured();
      this.band.resync();
    } finally { this.#measuring = false; }
  }
}
