// The bank of the band's sounds: fetched and decoded once, searched by player, program, pitch, velocity.

const NEIGHBOURS = [0, -1, 1, -2, 2, -3, 3];  // semitones to the nearest rendered note

/** @typedef {{ buffer: AudioBuffer, velocity: number, offset: number, length: number }} Layer in seconds */
/**
 * The index of a bank: offsets and lengths in its audio file, in frames.
 * @typedef {object} Index
 * @property {string} url
 * @property {number} rate
 * @property {{ player: string, program: number, pitch: number, layers: Omit<Layer, "buffer">[] }[]} sounds
 */

export class Bank {
  /** @type {Map<string, Layer[]>} */
  #sounds = new Map();
  /** @type {Map<string, number>} */
  #programs = new Map();
  /** @type {Promise<void> | null} */
  #loading = null;
  #url = "";

  /**
   * Load a bank; the old one is used until the new one is ready.
   * @param {string} url
   * @param {BaseAudioContext} context
   */
  load(url, context) {
    if (url !== this.#url || !this.#loading) {
      this.#url = url;
      this.#loading = this.#load(url, context).catch((error) => { this.#loading = null; throw error; });
    }
    return this.#loading;
  }

  /**
   * @param {string} url
   * @param {BaseAudioContext} context
   */
  async #load(url, context) {
    /** @type {Index} */
    const index = await (await found(url)).json();
    const buffer = await context.decodeAudioData(await (await found(index.url)).arrayBuffer());
    if (url !== this.#url) return;
    this.#sounds = new Map(index.sounds.map(({ player, program, pitch, layers }) => [
      `${player} ${program} ${pitch}`,
      layers.map(({ velocity, offset, length }) => (
        { buffer, velocity, offset: offset / index.rate, length: length / index.rate })),
    ]));
    this.#programs = new Map(index.sounds.map(({ player, program }) => [player, program]));
  }

  get isLoaded() { return this.#sounds.size > 0; }

  /**
   * The nearest note and layer, with the playback rate and gain that make up the difference. Another
   * program of the player replaces one that is not loaded yet.
   * @param {string} player
   * @param {number} program
   * @param {number} pitch
   * @param {number} velocity
   */
  find(player, program, pitch, velocity) {
    for (const voice of [program, this.#programs.get(player)]) {
      for (const step of player === "drums" ? [0] : NEIGHBOURS) {
        const layers = this.#sounds.get(`${player} ${voice} ${pitch + step}`);
        if (!layers) continue;
        const near = layers.reduce((a, b) => (
          Math.abs(b.velocity - velocity) < Math.abs(a.velocity - velocity) ? b : a));
        return { ...near, rate: 2 ** (-step / 12), gain: (velocity / near.velocity) ** 2 };
      }
    }
    return null;
  }
}

/** @param {string} url */
async function found(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error(`${url}: ${answer.status}`);
  return answer;
}
