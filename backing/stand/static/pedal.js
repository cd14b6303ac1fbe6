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

export class Pedal {
  #learning = null;
  #access = null;

  constructor(keys) {
    this.keys = keys;
    if (!navigator.requestMIDIAccess) return;
    $("midi-pedal").hidden = false;
    for (const which of ["forward", "back"]) {
      $(`learn-${which}`).addEventListener("click", () => this.#learn(which));
    }
    if (remembered("midi-forward") || remembered("midi-back")) this.#listen();
  }

  async #listen() {
    if (this.#access) return true;
    try { this.#access = await navigator.requestMIDIAccess(); } catch {
      $("pedal-news").textContent = "The browser does not let this page hear MIDI.";
      return false;
    }
    const hear = () => {
      for (const input of this.#access.inputs.values()) input.onmidimessage = ({ data }) => this.#pressed(press(data));
    };
    this.#access.onstatechange = hear;
    hear();
    return true;
  }

  async #learn(which) {
    if (!await this.#listen()) return;
    this.#learning = which;
    $("pedal-news").textContent = `Press the pedal for ${which}.`;
  }

  #pressed(name) {
    if (!name) return;
    if (this.#learning) {
      remember(`midi-${this.#learning}`, name);
      $("pedal-news").textContent = `${this.#learning}: ${name}.`;
      this.#learning = null;
      return;
    }
    for (const which of ["forward", "back"]) {
      if (remembered(`midi-${which}`) === name) this.keys.pedal(which);
    }
  }
}
