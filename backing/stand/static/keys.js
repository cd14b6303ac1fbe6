// The keyboard, and page turners, which are keyboards; the same keys as on the terminal.

import { $, el, fill, remember, remembered } from "./dom.js";

export const KEYS = {
  " ": ["toggle", "play, pause"],
  "+": ["tempo +5", "faster"],
  "-": ["tempo -5", "slower"],
  t: ["tap", "tap the tempo"],
  k: ["key +1", "a half-step up"],
  j: ["key -1", "a half-step down"],
  n: ["part next", "go to the next part"],
  l: ["loop here", "go round this part, and off"],
  b: ["mute bass", "bass out, and in again"],
  c: ["mute chop", "chop out, and in again"],
  d: ["mute drums", "drums out, and in again"],
  "]": ["level +10", "louder"],
  "[": ["level -10", "softer"],
  e: ["last-time", "last time: end after this chorus"],
  s: ["stop", "stop, back to the beginning"],
  p: ["practice", "open and close Practice"],
  f: ["songbook", "the songbook"],
  "?": ["help", "this list"],
};

const SAME = { "=": "+", _: "-" };
const FORWARD = ["PageDown", "ArrowRight", "ArrowDown"], BACK = ["PageUp", "ArrowLeft", "ArrowUp"];

const PEDALS = [
  ["toggle", "Play, pause"], ["loop here", "This part round and round"], ["part next", "Next part"],
  ["tempo +5", "Five faster"], ["tempo -5", "Five slower"], ["tap", "Tap the tempo"],
  ["last-time", "Last time"], ["stop", "Stop"], ["next-tune", "Next tune of the set"],
];

export class Keys {
  constructor(say) {
    this.say = say;
    addEventListener("keydown", (event) => this.#down(event));
    // a touched button does not keep the focus, or space would be its and not the band's
    addEventListener("click", ({ detail, target }) => detail && target.closest?.("button")?.blur());
    $("key-list").replaceChildren(...Object.entries(KEYS).flatMap(([key, [, about]]) => [
      el("dt", {}, el("kbd", {}, key === " " ? "space" : key)), el("dd", {}, about)]));
    for (const [id, otherwise] of [["pedal-forward", "toggle"], ["pedal-back", "loop here"]]) {
      fill($(id), PEDALS, remembered(id, otherwise));
      $(id).addEventListener("change", () => remember(id, $(id).value));
    }
  }

  pedal(which) { this.say($(`pedal-${which}`).value); }

  #down(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (document.querySelector("dialog[open]")) return;
    const { target, key } = event;
    if (target.closest?.("input:not([type=range]):not([type=checkbox]), textarea, select")) return;
    const onStand = document.body.dataset.view === "stand";
    const which = FORWARD.includes(key) ? "forward" : BACK.includes(key) ? "back" : null;
    if (which && onStand && !target.closest?.("input")) {
      event.preventDefault();
      if (!event.repeat) this.pedal(which);
      return;
    }
    if (key === " " && target.closest?.("button, input, summary, [tabindex='0']")) return;
    const entry = KEYS[SAME[key] ?? (key.length === 1 ? key.toLowerCase() : key)];
    if (!entry || (document.body.dataset.view === "editor" && entry[0] !== "help")) return;
    event.preventDefault();
    if (!event.repeat || /tempo|level/.test(entry[0])) this.say(entry[0]);
  }
}
