// The sounds of the band: fetched and decoded once, found by player, program, pitch and velocity.

const NEIGHBOURS = [0, -1, 1, -2, 2, -3, 3];  // a note is played from the nearest one that was rendered

export class Bank {
  #sounds = new Map();
  #programs = new Map();
  #loading = null;
  url = null;

  // Load a bank; the old one sounds until the new one is there.
  load(url, context) {
    if (url !== this.url || !this.#loading) {
      this.url = url;
      this.#loading = this.#load(url, context).catch((error) => { this.#loading = null; throw error; });
    }
    return this.#loading;
  }

  async #load(url, context) {
    const list = await (await found(url)).json();
    const buffer = await context.decodeAudioData(await (await found(list.url)).arrayBuffer());
    if (url !== this.url) return;
    this.#sounds = new Map(list.sounds.map(({ player, program, pitch, layers }) => [
      `${player} ${program} ${pitch}`,
      layers.map(({ velocity, offset, length }) => (
        { buffer, velocity, offset: offset / list.rate, length: length / list.rate })),
    ]));
    this.#programs = new Map(list.sounds.map(({ player, program }) => [player, program]));
  }

  get isThere() { return this.#sounds.size > 0; }

  // The nearest note and the layer whose velocity is nearest, with the rate and the gain that make up
  // the rest. A program that is not there yet is played by the one that is.
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

async function found(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error(`${url}: ${answer.status}`);
  return answer;
}
