// The mixer: a gain for each player, a limiter, and single notes on the audio clock. Loudness follows the
// square of a level, volume or velocity, as in the synthesizer that rendered the sounds (General MIDI
// practice; SoundFont 2.04, 8.4.2; from memory).

const RELEASE = 0.05;
const MODERATE = 0.7;
const HATS = new Set([42, 44, 46]);
const LIMITER = { threshold: -4, knee: 0, ratio: 20, attack: 0.001, release: 0.12 };

export class Mixer {
  /** @type {Map<string, { gain: GainNode, pan: StereoPannerNode }>} */
  #buses = new Map();
  /** @type {{ voice: Voice, when: number } | null} */
  #hat = null;

  /**
   * @param {AudioContext} context
   * @param {import("./bank.js").Bank} bank
   */
  constructor(context, bank) {
    this.context = context;
    this.bank = bank;
    this.master = new GainNode(context, { gain: MODERATE });
    this.master.connect(new DynamicsCompressorNode(context, LIMITER)).connect(context.destination);
  }

  /** @param {string} name */
  #bus(name) {
    const there = this.#buses.get(name);
    if (there) return there;
    const bus = { gain: new GainNode(this.context), pan: new StereoPannerNode(this.context) };
    bus.gain.connect(bus.pan).connect(this.master);
    this.#buses.set(name, bus);
    return bus;
  }

  /**
   * Set a player's level, at once and without a click.
   * @param {string} player
   * @param {number} percent 0 is silent
   */
  level(player, percent) {
    const { gain } = this.#bus(player).gain;
    const now = this.context.currentTime;
    gain.cancelScheduledValues(now);
    gain.setTargetAtTime((percent / 100) ** 2, now, 0.004);
    if (!percent) gain.setValueAtTime(0, now + 0.03);
  }

  /**
   * Schedule a note in audio seconds; returns its voice, or null when the bank has no such sound.
   * @param {import("./band.js").Note} note
   * @param {number} when
   * @param {number} end
   */
  strike({ player, pitch, velocity, bus: name, mix }, when, end) {
    const [program, volume, pan] = mix[player] ?? [1, 100, 64];
    const sound = this.bank.find(player, program, pitch, velocity);
    if (!sound) return null;
    const loudness = sound.gain * (volume / 127) ** 2;
    const bus = this.#bus(name);
    bus.pan.pan.value = Math.max((pan - 64) / 63, -1);
    const source = new AudioBufferSourceNode(this.context, { buffer: sound.buffer, playbackRate: sound.rate });
    const gain = new GainNode(this.context, { gain: loudness });
    source.connect(gain).connect(bus.gain);
    source.start(when, sound.offset, sound.length);
    source.onended = () => gain.disconnect();
    const voice = new Voice(source, gain, loudness);
    if (player !== "drums") voice.end(end);
    else if (HATS.has(pitch)) this.#choke(voice, when);
    return voice;
  }

  /**
   * A closed hat cuts the open one.
   * @param {Voice} voice
   * @param {number} when
   */
  #choke(voice, when) {
    if (this.#hat && this.#hat.when < when) this.#hat.voice.end(when);
    this.#hat = { voice, when };
  }
}

export class Voice {
  /**
   * @param {AudioBufferSourceNode} source
   * @param {GainNode} gain
   * @param {number} loudness
   */
  constructor(source, gain, loudness) {
    this.source = source;
    this.gain = gain;
    this.loudness = loudness;
  }

  /** @param {number} time */
  end(time) {
    const { gain } = this.gain;
    const from = Math.max(time, this.gain.context.currentTime);
    gain.cancelScheduledValues(0);
    gain.setValueAtTime(this.loudness, from);
    gain.setTargetAtTime(0, from, RELEASE / 4);
    this.source.stop(from + RELEASE * 2);
  }

  // Silence a note that has not begun.
  cancel() {
    this.source.onended = null;
    this.source.stop();
    this.source.disconnect();
    this.gain.disconnect();
  }
}
