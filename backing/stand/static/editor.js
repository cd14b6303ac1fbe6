// The editor of a chart's text: faults are shown at their places while typing; a conflict of saves loses
// neither version.

import { $, all, around, notify } from "./dom.js";

const PAUSE = 250;
const GONE = "The server does not answer: your text stays here; save again later.";
/** @type {(file: string) => string} */
const address = (file) => `/tunes/${encodeURIComponent(file)}`;

/** @typedef {{ text: string, tag: string | null, kept: string }} Draft an edited text, and the saved one */
/** @typedef {{ text: string, tag: string | null }} Version a text in the songbook, and its tag */

export class Editor {
  /** @type {string | null} */
  #tag = null;
  #kept = "";
  #timer = 0;
  /** @type {Map<string, Draft>} unsaved texts by file */
  #drafts = new Map();
  /** @type {Version | null} the version that somebody else has saved */
  #theirs = null;
  file = "";

  constructor() {
    $("text").addEventListener("input", () => this.#typed());
    for (const kind of ["keyup", "click"]) $("text").addEventListener(kind, () => this.#balloon());
    $("text").addEventListener("keydown", (event) => {
      if (event.key === "s" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); this.save(); }
    });
    $("faults").addEventListener("click", (event) => this.#go(around(event, ".fault")?.dataset.at));
    $("conflict").addEventListener("close", () => this.#settle($("conflict").returnValue));
    addEventListener("beforeunload", (event) => { if (this.isChanged || this.#drafts.size) event.preventDefault(); });
  }

  get isChanged() { return this.file !== "" && $("text").value !== this.#kept; }

  /**
   * Open a chart, or its unsaved text.
   * @param {string} file
   */
  async open(file) {
    if (file === this.file && this.isChanged) return this.#typed();
    const draft = this.#drafts.get(file);
    if (draft) return this.#begin(file, draft, draft.kept);
    const found = await this.#fetch(address(file));
    if (found) this.#begin(file, found);
  }

  /** @param {string} title */
  async fresh(title) {
    const found = await this.#fetch(`/new?title=${encodeURIComponent(title)}`, "POST");
    if (found) await this.open(found.text);
  }

  /**
   * Fetch a text and its tag. The text field is read-only until then, so that no typing is lost.
   * @param {string} path
   * @returns {Promise<Version | undefined>}
   */
  async #fetch(path, method = "GET") {
    $("text").readOnly = true;
    const answer = await fetch(path, { method }).catch(() => null);
    const text = await answer?.text().catch(() => null);
    $("text").readOnly = false;
    if (answer?.ok && text != null) return { text, tag: answer.headers.get("ETag") };
    notify(text ?? "The server does not answer: try again.");
  }

  // Load the file again where it has changed, unless the text is edited.
  async refresh() {
    if (!this.file || this.isChanged || !this.#tag) return;
    const answer = await fetch(address(this.file)).catch(() => null);
    const tag = answer?.headers.get("ETag") ?? null;
    const text = answer?.ok && tag !== this.#tag ? await answer.text() : null;
    if (text !== null && !this.isChanged) this.#begin(this.file, { text, tag });
  }

  /**
   * @param {string} file
   * @param {Version} version
   * @param {string} [kept] the saved text
   */
  #begin(file, { text, tag }, kept = text) {
    if (this.isChanged && file !== this.file) {
      this.#drafts.set(this.file, { text: $("text").value, tag: this.#tag, kept: this.#kept });
      notify(`${this.file} is not saved yet: open it again to continue.`, 8);
    }
    this.#drafts.delete(file);
    [this.file, this.#tag, this.#kept] = [file, tag, kept];
    $("text").value = text;
    this.#typed();
  }

  #typed() {
    const lines = $("text").value.split("\n");
    $("text").rows = lines.length + 2;
    $("text").cols = Math.max(...lines.map((line) => line.length), 40) + 2;
    $("lines").textContent = lines.map((_, index) => index + 1).join("\n");
    this.#state();
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#check(), PAUSE);
  }

  #state() { $("saved").textContent = this.isChanged ? `${this.file}: not saved yet` : `${this.file}: saved`; }

  // Mark the faults with wavy lines, in a copy of the text that lies beneath it.
  async #check() {
    const text = $("text").value;
    const answer = await fetch("/check", { method: "POST", body: text }).catch(() => null);
    if (!answer?.ok || text !== $("text").value) return;
    const { list, marks } = await answer.json();
    $("faults").innerHTML = list;
    $("marks").innerHTML = marks;
    this.#balloon();
  }

  // Show the fault that is nearest to the caret, under its place.
  #balloon() {
    /** @param {HTMLElement} mark */
    const away = ({ dataset }) => Math.abs(Number(dataset.at) - $("text").selectionStart);
    const near = all("mark", $("marks")).sort((a, b) => away(a) - away(b))[0];
    $("balloon").hidden = !near;
    if (!near) return;
    $("balloon").textContent = near.dataset.text ?? "";
    $("balloon").style.top = `${near.offsetTop + near.offsetHeight + 9}px`;
    $("balloon").style.left = `${Math.min(near.offsetLeft, Math.max($("desk").clientWidth - 300, 0))}px`;
  }

  /** @param {string} [at] */
  #go(at) {
    if (at === undefined) return;
    $("text").focus();
    $("text").setSelectionRange(Number(at), Number(at));
    this.#balloon();
  }

  /**
   * @param {string} path
   * @param {string} body
   * @param {string | null} [tag] the tag of the text that was edited; none for a new file
   */
  async #put(path, body, tag) {
    /** @type {Record<string, string>} */
    const headers = tag ? { "If-Match": tag } : { "If-None-Match": "*" };
    try { return await fetch(path, { method: "PUT", headers, body }); } catch { return null; }
  }

  /** @returns {Promise<void>} */
  async save() {
    const text = $("text").value;
    const answer = await this.#put(address(this.file), text, this.#tag);
    if (answer?.ok) {
      [this.#tag, this.#kept] = [answer.headers.get("ETag"), text];
      return this.#state();
    }
    if (answer?.status !== 412) return notify(answer ? await answer.text() : GONE, 10);
    if (this.#tag && !answer.headers.get("ETag")) {
      this.#tag = null;  // the file is gone: make it again
      return this.save();
    }
    this.#theirs = { text: await answer.text(), tag: answer.headers.get("ETag") };
    [$("mine").textContent, $("theirs").textContent] = [text, this.#theirs.text];
    return $("conflict").showModal();
  }

  /**
   * Save both versions: one under the name, the other under a free name.
   * @param {string} how
   */
  async #settle(how) {
    if ((how !== "mine" && how !== "theirs") || !this.#theirs) return;
    const [mine, theirs] = [$("text").value, this.#theirs];
    const kept = await this.#put(`${address(this.file)}?beside=${how}`, how === "mine" ? mine : theirs.text);
    if (!kept?.ok) return notify("The other version could not be saved: nothing has changed.", 10);
    notify(`The other version is saved as ${await kept.text()}.`, 10);
    if (how === "mine") return this.#begin(this.file, theirs);
    this.#tag = theirs.tag;
    return this.save();
  }
}
