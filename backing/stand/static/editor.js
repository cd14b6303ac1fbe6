// The chart's text: faults under the very place as you type, saved whole; a conflict loses neither.

import { $, el, tell } from "./dom.js";
import { fileOf } from "./songbook.js";

const PAUSE = 250;
const NEW = (title) => `title:  ${title}\nkey:    G\nmeter:  4/4\ntempo:  120\nform:   A A B A\n\n` +
  "[A] 8\n| G | % | C | G |\n| G | D7 | G | D7 |\n\n[B] 8\n| C | % | G | % |\n| A7 | % | D7 | % |\n";
const address = (file) => `/tunes/${encodeURIComponent(file)}`;

export class Editor {
  #tag = null;
  #kept = "";
  #timer = 0;
  #faults = [];
  #drafts = new Map();  // file -> text, tag and saved text of what is not saved yet
  file = null;

  constructor({ leave }) {
    this.leave = leave;
    $("text").addEventListener("input", () => this.#typed());
    $("text").addEventListener("keyup", () => this.#balloon());
    $("text").addEventListener("click", () => this.#balloon());
    $("text").addEventListener("keydown", (event) => {
      if (event.key === "s" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); this.save(); }
    });
    $("save").addEventListener("click", () => this.save());
    $("leave").addEventListener("click", () => this.leave(this.file));
    $("conflict").addEventListener("close", () => this.#settle($("conflict").returnValue));
    addEventListener("beforeunload", (event) => { if (this.isChanged || this.#drafts.size) event.preventDefault(); });
  }

  get isChanged() { return this.file !== null && $("text").value !== this.#kept; }

  // What has been typed and not saved stays, when the same chart is opened again.
  async open(file) {
    if (file === this.file && this.isChanged) return this.#typed();
    const draft = this.#drafts.get(file);
    if (draft) return this.#begin(file, ...draft);
    $("text").readOnly = true;  // until it is there: what is typed into the old text would be lost
    try {
      const answer = await fetch(address(file));
      if (!answer.ok) return tell(await answer.text());
      this.#begin(file, await answer.text(), answer.headers.get("ETag"));
    } catch { tell("The server does not answer: try again."); } finally { $("text").readOnly = false; }
  }

  fresh(title, taken) {
    let file = fileOf(title);
    for (let turn = 2; taken.includes(file); turn++) file = fileOf(`${title} ${turn}`);
    this.#begin(file, NEW(title), null, "");
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

  async #check() {
    const text = $("text").value;
    const answer = await fetch("/check", { method: "POST", body: text }).catch(() => null);
    if (!answer?.ok || text !== $("text").value) return;
    const { faults, remarks } = await answer.json();
    this.#faults = faults;
    this.#underline(text.split("\n"));
    $("faults").replaceChildren(...faults.map((fault) => el("button", { type: "button", class: "fault",
      onclick: () => this.#go(fault) }, fault.line ? el("b", {}, `${fault.line}:${fault.column} `) : null, fault.text)),
    ...remarks.map((text) => el("p", { class: "soft" }, text)),
    ...(faults.length ? [] : [el("p", { class: "sound" }, "✓ A sound chart.")]));
    this.#balloon();
  }

  // Wavy lines under the places, in a copy of the text that lies beneath it.
  #underline(lines) {
    $("marks").replaceChildren(...lines.flatMap((line, index) => {
      const faults = this.#faults.filter((each) => each.line === index + 1).sort((a, b) => a.column - b.column);
      const pieces = [];
      let from = 0;
      for (const fault of faults) {
        const at = Math.max(Math.min((fault.column || 1) - 1, line.length), from);
        const length = fault.column ? Math.max(line.slice(at).search(/[\s|]|$/), 1) : Math.max(line.length, 1);
        fault.mark = el("mark", {}, line.slice(at, at + length) || " ");
        pieces.push(line.slice(from, at), fault.mark);
        from = at + length;
      }
      return [...pieces, `${line.slice(from)}\n`];
    }));
  }

  // What is wrong, under the place nearest to the caret.
  #balloon() {
    const lines = $("text").value.slice(0, $("text").selectionStart).split("\n");
    const away = (fault) => 1000 * Math.abs(fault.line - lines.length) + Math.abs(fault.column - lines.at(-1).length - 1);
    const near = this.#faults.filter(({ mark }) => mark).reduce((a, b) => (!a || away(b) < away(a) ? b : a), null);
    $("balloon").hidden = !near;
    if (!near) return;
    $("balloon").textContent = near.text;
    $("balloon").style.top = `${near.mark.offsetTop + near.mark.offsetHeight + 9}px`;
    $("balloon").style.left = `${Math.min(near.mark.offsetLeft, Math.max($("desk").clientWidth - 300, 0))}px`;
  }

  #go({ line, column }) {
    const before = $("text").value.split("\n").slice(0, Math.max(line - 1, 0)).join("\n").length + (line > 1 ? 1 : 0);
    $("text").focus();
    $("text").setSelectionRange(before + Math.max(column - 1, 0), before + Math.max(column - 1, 0));
    this.#balloon();
  }

  async #put(file, body, tag) {
    const condition = tag ? { "If-Match": tag } : { "If-None-Match": "*" };
    try { return await fetch(address(file), { method: "PUT", headers: condition, body }); } catch { return null; }
  }

  async save() {
    const text = $("text").value;
    const answer = await this.#put(this.file, text, this.#tag);
    if (answer?.ok) {
      [this.#tag, this.#kept] = [answer.headers.get("ETag"), text];
      return this.#said();
    }
    if (answer?.status === 412 && this.#tag && !answer.headers.get("ETag")) {
      this.#tag = null;  // the file is gone: it is made anew
      return this.save();
    }
    if (answer?.status === 412) {
      this.theirs = { text: await answer.text(), tag: answer.headers.get("ETag") };
      $("mine").textContent = text;
      $("theirs").textContent = this.theirs.text;
      return $("conflict").showModal();
    }
    tell(answer ? await answer.text() : "The server does not answer: your text stays here; save again later.", 10);
  }

  // Two versions: one stays under the name, the other gets a name of its own.
  async #settle(how) {
    if (!["apart", "swap"].includes(how)) return;
    const [mine, { text: theirs, tag }] = [$("text").value, this.theirs];
    const suffix = how === "apart" ? "mine" : "theirs";
    for (let turn = 1; turn < 50; turn++) {
      const name = this.file.replace(/\.chart$/, ` (${suffix}${turn > 1 ? ` ${turn}` : ""}).chart`);
      const answer = await this.#put(name, how === "apart" ? mine : theirs, null);
      if (answer?.status === 412) continue;
      if (!answer?.ok) return tell("The other version could not be saved: nothing has been changed.", 10);
      tell(`The other version is ${name}.`, 10);
      if (how === "apart") return this.#begin(this.file, theirs, tag);
      this.#tag = tag;
      return this.save();
    }
  }
}
