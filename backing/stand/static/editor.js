// The chart's text: faults under the very place as you type, saved whole; a conflict loses neither.

import { $, all, tell } from "./dom.js";

const PAUSE = 250;
const GONE = "The server does not answer: your text stays here; save again later.";
const address = (file) => `/tunes/${encodeURIComponent(file)}`;

export class Editor {
  #tag = null;
  #kept = "";
  #timer = 0;
  #drafts = new Map();  // file -> text, tag and saved text of what is not saved yet
  file = null;

  constructor() {
    $("text").addEventListener("input", () => this.#typed());
    for (const kind of ["keyup", "click"]) $("text").addEventListener(kind, () => this.#balloon());
    $("text").addEventListener("keydown", (event) => {
      if (event.key === "s" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); this.save(); }
    });
    $("faults").addEventListener("click", ({ target }) => this.#go(target.closest(".fault")?.dataset.at));
    $("conflict").addEventListener("close", () => this.#settle($("conflict").returnValue));
    addEventListener("beforeunload", (event) => { if (this.isChanged || this.#drafts.size) event.preventDefault(); });
  }

  get isChanged() { return this.file !== null && $("text").value !== this.#kept; }

  // What has been typed and not saved stays, when the same chart is opened again.
  async open(file) {
    if (file === this.file && this.isChanged) return this.#typed();
    const draft = this.#drafts.get(file);
    if (draft) return this.#begin(file, ...draft);
    const found = await this.#fetch(address(file));
    if (found) this.#begin(file, ...found);
  }

  async fresh(title) {
    const found = await this.#fetch(`/new?title=${encodeURIComponent(title)}`, "POST");
    if (found) await this.open(found[0]);
  }

  // A text and its tag; until they are there nothing is typed into the old one, where it would be lost.
  async #fetch(path, method = "GET") {
    $("text").readOnly = true;
    const answer = await fetch(path, { method }).catch(() => null);
    const text = await answer?.text().catch(() => null);
    $("text").readOnly = false;
    if (answer?.ok && text != null) return [text, answer.headers.get("ETag")];
    return tell(text ?? "The server does not answer: try again.");
  }

  // An unedited text follows its file.
  async look() {
    if (!this.file || this.isChanged || !this.#tag) return;
    const answer = await fetch(address(this.file)).catch(() => null);
    const text = answer?.ok && answer.headers.get("ETag") !== this.#tag ? await answer.text() : null;
    if (text !== null && !this.isChanged) this.#begin(this.file, text, answer.headers.get("ETag"));
  }

  #begin(file, text, tag, kept = text) {
    if (this.isChanged && file !== this.file) {
      this.#drafts.set(this.file, [$("text").value, this.#tag, this.#kept]);
      tell(`${this.file} is not saved yet: open it again to go on.`, 8);
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
    this.#said();
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#check(), PAUSE);
  }

  #said() { $("saved").textContent = this.isChanged ? `${this.file}: not saved yet` : `${this.file}: saved`; }

  // Wavy lines under the places, in a copy of the text that lies beneath it.
  async #check() {
    const text = $("text").value;
    const answer = await fetch("/check", { method: "POST", body: text }).catch(() => null);
    if (!answer?.ok || text !== $("text").value) return;
    const { list, marks } = await answer.json();
    $("faults").innerHTML = list;
    $("marks").innerHTML = marks;
    this.#balloon();
  }

  // What is wrong, under the place nearest to the caret.
  #balloon() {
    const away = ({ dataset }) => Math.abs(dataset.at - $("text").selectionStart);
    const near = all("mark", $("marks")).sort((a, b) => away(a) - away(b))[0];
    $("balloon").hidden = !near;
    if (!near) return;
    $("balloon").textContent = near.dataset.text;
    $("balloon").style.top = `${near.offsetTop + near.offsetHeight + 9}px`;
    $("balloon").style.left = `${Math.min(near.offsetLeft, Math.max($("desk").clientWidth - 300, 0))}px`;
  }

  #go(at) {
    if (at === undefined) return;
    $("text").focus();
    $("text").setSelectionRange(at, at);
    this.#balloon();
  }

  async #put(path, body, tag) {
    const headers = tag ? { "If-Match": tag } : { "If-None-Match": "*" };
    try { return await fetch(path, { method: "PUT", headers, body }); } catch { return null; }
  }

  async save() {
    const text = $("text").value;
    const answer = await this.#put(address(this.file), text, this.#tag);
    if (answer?.ok) {
      [this.#tag, this.#kept] = [answer.headers.get("ETag"), text];
      return this.#said();
    }
    if (answer?.status !== 412) return tell(answer ? await answer.text() : GONE, 10);
    if (this.#tag && !answer.headers.get("ETag")) {
      this.#tag = null;  // the file is gone: it is made anew
      return this.save();
    }
    this.theirs = { text: await answer.text(), tag: answer.headers.get("ETag") };
    [$("mine").textContent, $("theirs").textContent] = [text, this.theirs.text];
    return $("conflict").showModal();
  }

  // Two versions: one stays under the name, the other gets a name of its own.
  async #settle(how) {
    if (how !== "mine" && how !== "theirs") return;
    const [mine, { text: theirs, tag }] = [$("text").value, this.theirs];
    const kept = await this.#put(`${address(this.file)}?beside=${how}`, how === "mine" ? mine : theirs);
    if (!kept?.ok) return tell("The other version could not be saved: nothing has been changed.", 10);
    tell(`The other version is ${await kept.text()}.`, 10);
    if (how === "mine") return this.#begin(this.file, theirs, tag);
    this.#tag = tag;
    return this.save();
  }
}
