// The page on the music stand: connects all modules.

import { Band } from "./band.js";
import { Clock } from "./clock.js";
import { Commands } from "./commands.js";
import { $, around, remember, remembered, notify } from "./dom.js";
import { Editor } from "./editor.js";
import { LoopGesture } from "./gesture.js";
import { Keys } from "./keys.js";
import { Link } from "./link.js";
import { Mark } from "./mark.js";
import { Panel } from "./panel.js";
import { MidiPedal } from "./pedal.js";
import { Sheet } from "./sheet.js";
import { Songbook } from "./songbook.js";
import { Sound } from "./sound.js";
import { keepAwake, themes } from "./surroundings.js";

const link = new Link(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ws`);
const clock = new Clock(link);
const band = new Band(clock);
const sound = new Sound(link, clock, band);
const commands = new Commands(link, clock, band, sound);
const sheet = new Sheet($("sheet"));
const mark = new Mark(band, sheet);
const panel = new Panel(commands, run);
const loop = new LoopGesture(sheet, run);
const songbook = new Songbook(link, open, write);
const editor = new Editor();
const awake = keepAwake();
const turnTheme = themes();
const pedal = new MidiPedal(new Keys(run));

/** @typedef {"songbook" | "stand" | "editor"} View */

/** @param {View} name */
function view(name) {
  document.body.dataset.view = name;
  tools(false);
  heading();
  $("main").scrollTop = 0;
  if (location.hash !== `#${name}`) history.pushState(null, "", `#${name}`);
  sheet.fit();
}

function heading() {
  const { title = "" } = commands.state;
  const shown = /** @type {View} */ (document.body.dataset.view);
  const heading = { stand: title, editor: "Editor", songbook: "Songbook" }[shown];
  $("title").textContent = heading;
  document.title = `${heading} · The stand`;
}

/** @param {string} tune */
function open(tune) {
  if (tune && tune !== commands.state.tune) link.send({ type: "open", tune });
  view("stand");
  $("main").focus({ preventScroll: true });
}

/**
 * Write a new chart, or edit one.
 * @param {string | null} title of the new one
 * @param {string | null} [file] the chart to edit; by default the open one
 */
async function write(title, file = commands.state.tune) {
  view("editor");
  await (title ? editor.fresh(title) : editor.open(file ?? ""));
  $("text").focus();
}

function practice(isOpen = Boolean($("practice").hidden)) {
  $("practice").hidden = !isOpen;
  document.body.classList.toggle("with-panel", isOpen);
  $("panel-open").setAttribute("aria-expanded", String(isOpen));
  if (isOpen) $("panel-shut").focus();
  else if (document.activeElement === document.body) $("panel-open").focus();
}

function tools(isOpen = !document.body.classList.contains("with-tools")) {
  document.body.classList.toggle("with-tools", isOpen);
  $("more").setAttribute("aria-expanded", String(isOpen));
}

/** @type {Record<string, (argument: string) => unknown>} Commands of the page itself. */
const HERE = {
  practice: () => practice(),
  tools: () => tools(),
  songbook: () => view("songbook"),
  help: () => $("keys").showModal(),
  "new-tune": () => $("new").showModal(),
  "next-tune": () => songbook.next(),
  edit: () => write(null),
  save: () => editor.save(),
  leave: () => open(editor.file),
  print: () => print(),
  theme: () => turnTheme(),
  "sound-here": () => { $("sound-here").hidden = true; sound.wake(); },
  "as-written": () => ["key own", "style own", "tempo own"].map((line) => commands.run(line)),
  names: (as) => { remember("names", as); nameChords(); },
  chords: (instrument) => { remember("shapes", instrument); link.send({ type: "shapes", instrument, left: false }); },
  output: (name) => link.send({ type: "output", name }),
  "learn forward": () => pedal.learn("forward"),
  "learn back": () => pedal.learn("back"),
  understood: () => { remember("cautioned", "yes"); caution(); sheet.fit(); },
};

/** @param {string} line */
function run(line) {
  const [name, ...rest] = line.split(" ");
  const here = HERE[line] ?? HERE[name];
  return here ? here(rest.join(" ")) : commands.run(line);
}

function nameChords() {
  link.send({ type: "names", as: /** @type {import("./messages.js").NameStyle} */ ($("names").value) });
}

function caution() { $("caution").hidden = remembered("cautioned", "") === "yes"; }

link.on("hello", () => {
  if (commands.reconnected()) {
    notify(commands.state.playing ? "The server is back; the band plays on." : "The server is back.");
  }
  nameChords();
  if (remembered("shapes", "none") !== "none") link.send({ type: "shapes", shown: true });
});

/** @param {import("./commands.js").Known | import("./messages.js").Idle} message */
function show(message) {
  const before = commands.state;
  commands.update(message);
  const { state } = commands;
  sound.update(state);
  if (state.tune !== before.tune) songbook.opened(state.tune ?? null);
  panel.show(state);
  if (sheet.chart) loop.show(state);
  heading();
  awake(Boolean(state.playing));
  $("sound-here").hidden = !state.playing || sound.isAwake || !sound.isHere;
  if (before.tune !== undefined && state.playing !== before.playing) {
    notify(state.playing ? "Playing" : state.ended ? "The end" : "Paused", 2);
  }
  if (state.last_time && !before.last_time) notify("Last time", 2);
}

link.on("state", show);
commands.onKept = (state) => {
  show(state);
  if (state.playing) notify("The band will play as soon as the server is back.");
};

link.on("chart", (chart) => {
  editor.refresh();
  $("shapes").value = chart.instrument;
  $("bar-key").textContent = chart.key;
  $("form").innerHTML = chart.form;
  $("loop-parts").innerHTML = chart.loops;
  sheet.draw(chart);
  mark.redraw();
  panel.show(commands.state);
  loop.show(commands.state);
  if (chart.shapes_fault) notify(chart.shapes_fault);
});

link.on("bars", (message) => band.take(message));
link.on("time", (message) => band.time(message));
link.on("songbook", (message) => { songbook.update(message); editor.refresh(); });
link.on("news", ({ text }) => notify(text, 8));
link.on("fault", ({ text }) => notify(text, 8));

link.on("lost", () => {
  commands.disconnected();
  $("away").hidden = false;
});

link.on("found", () => {
  $("away").hidden = true;
  band.forget();
});

$("names").value = remembered("names", "letters");
for (const kind of ["pointerup", "keydown"]) addEventListener(kind, () => sound.warm(), { once: true });
addEventListener("popstate", () => {
  const place = /** @type {View} */ (location.hash.slice(1) || "songbook");
  if (document.getElementById(place)?.matches("#main > section")) view(place);
});
addEventListener("keydown", ({ key }) => {
  if (key !== "Escape" || document.querySelector("dialog[open]")) return;
  tools(false);
  if (!$("practice").hidden) practice(false);
});
addEventListener("click", (event) => { if (!around(event, "#tools, #more")) tools(false); });
caution();
view(location.hash === "#stand" ? "stand" : "songbook");
link.open();
