// The songbook: the folder's charts with a search by title, key, style and tempo; and sets.

import { $, all, around, fill, remember, remembered } from "./dom.js";

/** @typedef {import("./messages.js").ChangeSet} ChangeSet */

/** @type {(text: string) => string} */
const plain = (text) => text.toLowerCase().replaceAll("♭", "b").replaceAll("♯", "#");
/** @type {(text?: string) => number | undefined} */
const number = (text) => (text ? Number(text) : undefined);

/**
 * Whether a tune matches all words: by title, key, style, meter or file, or by a tempo within 10.
 * @param {DOMStringMap} tune
 * @param {string[]} words
 */
const has = ({ words: known = "", bpm }, words) => words.every((word) => known.includes(word) ||
  (/^\d{2,3}$/.test(word) && Math.abs(Number(bpm) - Number(word)) <= 10));

export class Songbook {
  /** @type {import("./messages.js").SetListing[]} */
  sets = [];
  /** @type {string | null} the file that is open */
  current = null;
  #place = -1;   // the place of the open tune in the set; -1 for none
  #wanted = "";  // the name of a set that is being made or renamed
  #focus = "";   // the selector of the button to focus after the set is drawn again

  /**
   * @param {import("./link.js").Link} link
   * @param {(file: string) => void} open
   * @param {(title: string | null, file?: string) => void} write
   */
  constructor(link, open, write) {
    this.link = link;
    this.open = open;
    this.write = write;
    for (const each of [$("words"), $("by-key"), $("by-style"), $("by-tempo")]) {
      each.addEventListener("input", () => this.#find());
    }
    $("search").addEventListener("submit", (event) => {
      event.preventDefault();
      all("li:not([hidden]) button", $("tunes"))[0]?.click();
    });
    $("which-set").addEventListener("change", () => {
      remember("set", $("which-set").value);
      this.opened(this.current);
    });
    $("songbook").addEventListener("click", (event) => this.#touched(around(event, "button")));
    $("set-form").addEventListener("submit", (event) => {
      event.preventDefault();
      const button = /** @type {HTMLButtonElement | null} */ (event.submitter);
      this.#named(button?.value, $("set-name").value.trim());
    });
    $("new").addEventListener("close", () => {
      const name = $("new-name").value.trim();
      if ($("new").returnValue === "yes" && name) write(name);
      $("new-form").reset();
    });
  }

  /** @param {import("./messages.js").SongbookListing} listing */
  update({ tunes, keys, styles, sets, names }) {
    this.sets = sets;
    if (sets.some(({ name }) => name === this.#wanted)) remember("set", this.#wanted);
    $("tunes").innerHTML = tunes;
    fill($("by-key"), keys);
    fill($("by-style"), styles);
    fill($("which-set"), names);
    this.#show();
  }

  /** @param {string | null} file */
  opened(file) {
    this.current = file;
    const tunes = this.set?.tunes ?? [];
    if (file === null || tunes[this.#place] !== file) this.#place = file === null ? -1 : tunes.indexOf(file);
    this.#show();
  }

  get set() { return this.sets.find(({ name }) => name === remembered("set")) ?? null; }
  get #next() { return this.#place < 0 ? null : this.set?.tunes[this.#place + 1] ?? null; }

  // Open the next tune of the set.
  next() { if (this.#next) this.#enter(this.#next, this.#place + 1); }

  /**
   * @param {string} file
   * @param {number} at its place in the set
   */
  #enter(file, at) {
    this.#place = at;
    this.open(file);
    this.#show();
  }

  /** @param {HTMLElement | null} button */
  #touched(button) {
    const { open, do: change, tune, place, to, word } = button?.dataset ?? {};
    if (open && button?.classList.contains("faulty")) this.write(null, open);
    else if (open) this.#enter(open, number(place) ?? -1);
    if (!change || !this.set) return;
    const { name } = this.set;
    if (change === "delete" && !confirm(`Delete the set ${name}? Its tunes stay.`)) return;
    this.#focus = `[data-do="${change}"][data-place="${to}"][data-word="${word}"]`;
    this.#send(change, { name, tune, place: number(place), to: number(to) });
  }

  /**
   * Make a set, or rename the one that is shown.
   * @param {string | undefined} change
   * @param {string} name
   */
  #named(change, name) {
    if (!change || !name || (change === "rename" && !this.set)) return;
    this.#send(change, { name: change === "rename" ? this.set?.name ?? "" : name, to: name });
    this.#wanted = name;
    $("set-form").reset();
  }

  /**
   * @param {string} change one of the changes of `ChangeSet`
   * @param {Omit<ChangeSet, "type" | "do">} fields
   */
  #send(change, fields) {
    this.link.send({ type: "set", do: /** @type {ChangeSet["do"]} */ (change), ...fields });
  }

  #show() {
    const { set } = this;
    document.body.classList.toggle("with-set", Boolean(set));
    $("which-set").value = set?.name ?? "";
    $("set-tunes").innerHTML = set?.html ?? "";
    if (this.#focus) all(this.#focus, $("set-tunes"))[0]?.focus();
    for (const each of all("[data-open]")) {
      const isHere = each.dataset.open === this.current && (number(each.dataset.place) ?? this.#place) === this.#place;
      each.ariaCurrent = isHere ? "true" : null;
    }
    $("next-tune").hidden = !this.#next;
    this.#find();
  }

  #find() {
    const words = plain($("words").value).split(/\s+/).filter(Boolean);
    const [slowest, fastest] = $("by-tempo").value.split("-").map(Number);
    const tunes = all("#tunes li").filter((each) => {
      const { key, style } = each.dataset;
      const bpm = Number(each.dataset.bpm);
      each.hidden = !has(each.dataset, words) || bpm < slowest || bpm > fastest ||
        ($("by-key").value || key) !== key || ($("by-style").value || style) !== style;
      return !each.hidden;
    });
    $("found").textContent = `${tunes.length} ${tunes.length === 1 ? "tune" : "tunes"}`;
  }
}
