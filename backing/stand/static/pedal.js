// A MIDI pedal, where the browser has Web MIDI: a button is learned once and then says forward or back.

import { $, remember, remembered } from "./dom.js";

const NOTE_ON = 0x90, CONTROL = 0xb0, PROGRAM = 0xc0;

// What a press is called, or null for what is no press: a release, a clock.
export function press([status, number, value]) {
  const kind = status & 0xf0;
  if (kind === PROGRAM) return `program ${number}`;
  if (kind === NOTE_ON && value) return `note ${number}`;
  return kind === CONTROL && value >= 64 ? `control ${number}` : null;
}

const news = (text) => { $("pedal-news").textContent = text; };

export class Pedal {
  #learning = null;
  #access = null;

  constructor(keys) {
    this.keys = keys;
    $("midi-pedal").hidden = !navigator.requestMIDIAccess;
    if (remembered("midi-forward") || remembered("midi-back")) this.#listen();
  }

  async #listen() {
    try { this.#access ??= await navigator.requestMIDIAccess(); } catch { return news("The browser does not let this page hear MIDI."); }
    this.#access.onstatechange = () => {
      for (const input of this.#access.inputs.values()) input.onmidimessage = ({ data }) => this.#pressed(press(data));
    };
    this.#access.onstatechange();
  }

  async learn(which) {
    await this.#listen();
    if (this.#access) news(`Press the pedal for ${which}.`);
    this.#learning = this.#access && which;
  }

  #pressed(name) {
    if (!name) return;
    if (this.#learning) {
      remember(`midi-${this.#learning}`, name);
      news(`${this.#learning}: ${name}.`);
      this.#learning = null;
    } else for (const which of ["forward", "back"]) if (remembered(`midi-${which}`) === name) this.keys.pedal(which);
  }
}
