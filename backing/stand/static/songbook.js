// The songbook: the folder's charts, found by title, key, style and tempo, and sets for tonight.

import { $, el, fill, remember, remembered, tell } from "./dom.js";
import { signs } from "./symbols.js";

const CHART = ".chart";

// Beats a minute in a chart's tempo, "half=116" and "152" alike.
const bpm = ({ tempo }) => Number(tempo.match(/[\d.]+$/)?.[0] ?? 0);

// Whether each word is in the title, key or style, or is a tempo within ten.
function matches(tune, words) {
  const text = [tune.title, tune.key, tune.style, tune.meter, tune.file].join(" ").toLowerCase();
  return words.every((word) => text.includes(word) || (/^\d{2,3}$/.test(word) && Math.abs(bpm(tune) - word) <= 10));
}

export class Songbook {
  tunes = [];
  sets = [];
  current = null;

  constructor({ open, write }) {
    Object.assign(this, { open, write });
    for (const id of ["words", "by-key", "by-style", "by-tempo"]) $(id).addEventListener("input", () => this.#list());
    $("search").addEventListener("submit", (event) => {
      event.preventDefault();
      $("tunes").querySelector("button")?.click();
    });
    $("which-set").addEventListener("change", () => { remember("set", $("which-set").value); this.#show(); });
    $("new-set").addEventListener("submit", (event) => { event.preventDefault(); this.#newSet(); });
    $("new-tune").addEventListener("click", () => { $("new-name").value = ""; $("new").returnValue = ""; $("new").showModal(); });
    $("new").addEventListener("close", () => {
      const name = $("new-name").value.trim();
      if ($("new").returnValue === "yes" && name) write(name);
    });
  }

  told({ tunes, sets }) { Object.assign(this, { tunes, sets }); this.#show(); }

  #show() {
    const choices = (name, any) => [["", any], ...[...new Set(this.tunes.map((tune) => tune[name]).filter(Boolean))]
      .sort().map((each) => [each, signs2(name, each)])];
    fill($("by-key"), choices("key", "Any key"));
    fill($("by-style"), choices("style", "Any style"));
    fill($("which-set"), [["", "No set"], ...this.sets.map(({ name }) => [name, name])], remembered("set", ""));
    this.#list();
    this.#set();
  }

  get set() { return this.sets.find(({ name }) => name === $("which-set").value) ?? null; }

  // The tune behind the open one in tonight's order, or null.
  get next() {
    const order = this.set?.tunes ?? [];
    return order.includes(this.current) ? order[order.indexOf(this.current) + 1] ?? null : null;
  }

  #list() {
    const words = $("words").value.toLowerCase().split(/\s+/).filter(Boolean);
    const [slowest, fastest] = $("by-tempo").value.split("-").map(Number);
    const [key, style] = [$("by-key").value, $("by-style").value];
    const found = this.tunes.filter((tune) => matches(tune, words) && (!key || tune.key === key) &&
      (!style || tune.style === style) && (slowest + 999 === fastest || (bpm(tune) >= slowest && bpm(tune) <= fastest)));
    $("found").textContent = `${found.length} ${found.length === 1 ? "tune" : "tunes"}`;
    $("tunes").replaceChildren(...found.map((tune) => el("li", {}, this.#entry(tune), this.set &&
      el("button", { type: "button", class: "quiet add", "aria-label": `Add ${tune.title} to the set`,
        onclick: () => this.#put([...this.set.tunes, tune.file]) }, "+ set"))));
    if (!found.length) $("tunes").append(el("li", { class: "none" }, this.tunes.length ? "Nothing like that here." : "No charts yet: write the first one."));
  }

  #entry(tune) {
    const about = tune.fault ? "has a fault: touch to mend it"
      : [signs2("key", tune.key), tune.style, tune.tempo.replace("=", " = "), tune.meter].filter(Boolean).join(" · ");
    return el("button", { type: "button", class: tune.fault ? "tune faulty" : "tune",
      "aria-current": tune.file === this.current ? "true" : null,
      onclick: () => (tune.fault ? this.write(null, tune.file) : this.open(tune.file)) },
    el("span", { class: "tune-title" }, tune.title), el("span", { class: "tune-about" }, about));
  }

  #set() {
    const order = this.set?.tunes ?? [];
    const moved = (from, to) => { const list = [...order]; list.splice(to, 0, ...list.splice(from, 1)); return list; };
    $("set-tunes").replaceChildren(...order.map((file, index) => {
      const tune = this.tunes.find((each) => each.file === file) ?? { file, title: file, tempo: "", fault: "gone" };
      const act = (word, label, list, off) => el("button", { type: "button", class: "quiet small", disabled: off,
        "aria-label": `${label}: ${tune.title}`, onclick: () => this.#put(list()) }, word);
      return el("li", {}, this.#entry(tune), act("↑", "Earlier", () => moved(index, index - 1), index === 0),
        act("↓", "Later", () => moved(index, index + 1), index === order.length - 1),
        act("×", "Take out", () => order.filter((_, each) => each !== index), false));
    }));
    if (this.set && !order.length) $("set-tunes").append(el("li", { class: "none" }, "Add tunes with “+ set”."));
    $("next-tune").hidden = !this.next;
  }

  async #put(tunes) {
    const { name } = this.set;
    const address = `/sets/${encodeURIComponent(name)}`;
    const before = await fetch(address);
    const comments = (await before.clone().text()).split("\n").filter((line) => line.startsWith("#"));
    const body = [...comments, ...tunes, ""].join("\n");
    const saved = await fetch(address, { method: "PUT", headers: { "If-Match": before.headers.get("ETag") }, body });
    if (!saved.ok) return tell("The set could not be saved; it has changed meanwhile. Try again.");
    this.set.tunes = tunes;
    this.#show();
  }

  async #newSet() {
    const name = $("set-name").value.trim();
    if (!name) return;
    const saved = await fetch(`/sets/${encodeURIComponent(name)}`, { method: "PUT", headers: { "If-None-Match": "*" },
      body: `# ${name}\n` });
    if (!saved.ok) return tell(saved.status === 412 ? "There is a set of that name." : await saved.text());
    remember("set", name);
    $("set-name").value = "";
    this.told({ tunes: this.tunes, sets: [...this.sets.filter((each) => each.name !== name), { name, tunes: [] }] });
  }

  opened(file) { this.current = file; this.#list(); this.#set(); }
}

const signs2 = (name, text) => (name === "key" ? text.replace(/^[A-G][#b]*/, signs) : text);

export const fileOf = (title) => `${title.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "") || "tune"}${CHART}`;
