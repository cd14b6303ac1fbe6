// The songbook: the folder's charts, found by title, key, style and tempo, and sets for tonight.

import { $, all, fill, remember, remembered } from "./dom.js";

const plain = (text) => text.toLowerCase().replaceAll("♭", "b").replaceAll("♯", "#");
const place = (text) => (text ? Number(text) : undefined);

// Whether each word is in the title, key or style, or is a tempo within ten.
const has = (tune, words) => words.every((word) => tune.words.includes(word) ||
  (/^\d{2,3}$/.test(word) && Math.abs(tune.bpm - word) <= 10));

export class Songbook {
  sets = [];
  current = null;
  #place = -1;     // of the tune that is open, in the set
  #wanted = null;  // a set that is being made or renamed
  #focus = null;   // what was touched in the set, to be found again where it is drawn anew

  constructor({ link, open, write }) {
    Object.assign(this, { link, open, write });
    for (const id of ["words", "by-key", "by-style", "by-tempo"]) $(id).addEventListener("input", () => this.#find());
    $("search").addEventListener("submit", (event) => {
      event.preventDefault();
      $("tunes").querySelector("li:not([hidden]) button")?.click();
    });
    $("which-set").addEventListener("change", () => { remember("set", $("which-set").value); this.opened(this.current); });
    $("songbook").addEventListener("click", ({ target }) => this.#touched(target.closest("button")));
    $("set-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.#named(event.submitter.value, $("set-name").value.trim());
    });
    $("new").addEventListener("close", () => {
      const name = $("new-name").value.trim();
      if ($("new").returnValue === "yes" && name) write(name);
      $("new-form").reset();
    });
  }

  told({ tunes, keys, styles, sets, names }) {
    this.sets = sets;
    if (sets.some(({ name }) => name === this.#wanted)) remember("set", this.#wanted);
    $("tunes").innerHTML = tunes;
    fill($("by-key"), keys);
    fill($("by-style"), styles);
    fill($("which-set"), names);
    this.#show();
  }

  opened(file) {
    this.current = file;
    if (this.set?.tunes[this.#place] !== file) this.#place = this.set?.tunes.indexOf(file) ?? -1;
    this.#show();
  }

  get set() { return this.sets.find(({ name }) => name === remembered("set", "")) ?? null; }
  get #next() { return this.#place < 0 ? null : this.set?.tunes[this.#place + 1] ?? null; }

  // Open the tune behind this one in tonight's order.
  next() { if (this.#next) this.#enter(this.#next, this.#place + 1); }

  #enter(file, at) {
    this.#place = at;
    this.open(file);
    this.#show();
  }

  #touched(button) {
    const told = button?.dataset ?? {};
    if (told.open && button.classList.contains("faulty")) this.write(null, told.open);
    else if (told.open) this.#enter(told.open, place(told.place) ?? -1);
    if (!told.do || !this.set || (told.do === "delete" && !confirm(`Delete the set ${this.set.name}? Its tunes stay.`))) return;
    this.#focus = `[data-do="${told.do}"][data-place="${told.to}"][data-word="${told.word}"]`;
    this.link.send({ type: "set", do: told.do, name: this.set.name, tune: told.tune, place: place(told.place), to: place(told.to) });
  }

  #named(deed, name) {
    if (!name || (deed === "rename" && !this.set)) return;
    this.link.send({ type: "set", do: deed, name: deed === "rename" ? this.set.name : name, to: name });
    this.#wanted = name;
    $("set-form").reset();
  }

  #show() {
    const { set } = this;
    document.body.classList.toggle("with-set", Boolean(set));
    $("which-set").value = set?.name ?? "";
    $("set-tunes").innerHTML = set?.html ?? "";
    if (this.#focus) $("set-tunes").querySelector(this.#focus)?.focus();
    for (const each of all("[data-open]")) {
      const isHere = each.dataset.open === this.current && (place(each.dataset.place) ?? this.#place) === this.#place;
      each.ariaCurrent = isHere ? "true" : null;
    }
    $("next-tune").hidden = !this.#next;
    this.#find();
  }

  #find() {
    const words = plain($("words").value).split(/\s+/).filter(Boolean);
    const [slowest, fastest] = $("by-tempo").value.split("-").map(Number);
    const tunes = all("#tunes li").filter((each) => {
      const { key, style, bpm } = each.dataset;
      each.hidden = !has(each.dataset, words) || bpm < slowest || bpm > fastest ||
        ($("by-key").value || key) !== key || ($("by-style").value || style) !== style;
      return !each.hidden;
    });
    $("found").textContent = `${tunes.length} ${tunes.length === 1 ? "tune" : "tunes"}`;
  }
}
