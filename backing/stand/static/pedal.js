// A MIDI pedal, where the browser has Web MIDI: the player assigns its buttons to forward and back.

import { $, remember, remembered } from "./dom.js";

/** @typedef {import("./keys.js").Pedal} Which */

const NOTE_ON = 0x90, CONTROL = 0xb0, PROGRAM = 0xc0;
/** @type {Which[]} */
const BOTH = ["forward", "back"];

/**
 * The name of a press; null for other messages, such as a release or a clock.
 * @param {Iterable<number>} message
 */
export function press(message) {
  const [status, number, value] = message;
  const kind = status & 0xf0;
  if (kind === PROGRAM) return `program ${number}`;
  if (kind === NOTE_ON && value) return `note ${number}`;
  return kind === CONTROL && value >= 64 ? `control ${number}` : null;
}

/** @param {string} text */
const notice = (text) => { $("pedal-news").textContent = text; };

export class MidiPedal {
  /** @type {Which | null} */
  #learning = null;
  /** @type {MIDIAccess | null} */
  #access = null;

  /** @param {import("./keys.js").Keys} keys */
  constructor(keys) {
    this.keys = keys;
    $("midi-pedal").hidden = !navigator.requestMIDIAccess;
    if (BOTH.some((which) => remembered(`midi-${which}`))) this.#listen();
  }

  async #listen() {
    try {
      const access = this.#access ?? await navigator.requestMIDIAccess();
      this.#access = access;
      /** @param {MIDIMessageEvent} event */
      const receive = ({ data }) => this.#pressed(press(data ?? []));
      const connect = () => { for (const input of access.inputs.values()) input.onmidimessage = receive; };
      access.onstatechange = connect;
      connect();
    } catch { notice("The browser does not let this page receive MIDI: allow it in the browser's settings."); }
  }

  /** @param {Which} which */
  async learn(which) {
    await this.#listen();
    if (this.#access) notice(`Press the pedal for ${which}.`);
    this.#learning = this.#access && which;
  }

  /** @param {string | null} name */
  #pressed(name) {
    if (!name) return;
    if (this.#learning) {
      remember(`midi-${this.#learning}`, name);
      notice(`${this.#learning}: ${name}.`);
      this.#learning = null;
    } else for (const which of BOTH) if (remembered(`midi-${which}`) === name) this.keys.pedal(which);
  }
}
