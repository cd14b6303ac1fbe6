// Ticks and server seconds: from each entry [tick, second, quarter notes a minute] on, that tempo.

const TICKS_PER_QUARTER = 960;

export class Timeline {
  constructor(line = []) { this.line = line; }

  get isEmpty() { return this.line.length === 0; }

  #entry(value, column) {
    let found = this.line[0];
    for (const entry of this.line) {
      if (entry[column] > value) break;
      found = entry;
    }
    return found;
  }

  time(tick) {
    const [from, second, bpm] = this.#entry(tick, 0);
    return second + ((tick - from) * 60) / (bpm * TICKS_PER_QUARTER);
  }

  tick(time) {
    const [from, second, bpm] = this.#entry(time, 1);
    return from + ((time - second) * bpm * TICKS_PER_QUARTER) / 60;
  }

  // The timeline when all that comes after a second is played faster by a factor.
  turned(time, factor) {
    if (this.isEmpty) return this;
    const tick = Math.max(this.tick(time), this.line[0][0]);
    const before = this.line.filter((entry) => entry[0] < tick);
    const bpm = this.#entry(tick, 0)[2] * factor;
    const line = [...before, [tick, Math.max(time, this.line[0][1]), bpm]];
    for (const entry of this.line.filter((each) => each[0] > tick)) {
      line.push([entry[0], new Timeline(line).time(entry[0]), entry[2] * factor]);
    }
    return new Timeline(line);
  }
}
