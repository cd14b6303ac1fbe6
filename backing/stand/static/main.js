// The page on the music stand: everything is put together here.

import { Band } from "./band.js";
import { Clock } from "./clock.js";
import { Deeds } from "./deeds.js";
import { $, remember, remembered, tell } from "./dom.js";
import { Editor } from "./editor.js";
import { Keys } from "./keys.js";
import { Link } from "./link.js";
import { Loop } from "./loop.js";
import { Mark } from "./mark.js";
import { Panel } from "./panel.js";
import { Pedal } from "./pedal.js";
import { Sheet } from "./sheet.js";
import { Songbook } from "./songbook.js";
import { Sound } from "./sound.js";
import { keepAwake, themes } from "./surroundings.js";

const link = new Link(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ws`);
const clock = new Clock(link);
const band = new Band(clock);
const sound = new Sound(link, clock, band);
const deeds = new Deeds({ link, clock, band, sound });
const sheet = new Sheet($("sheet"));
const mark = new Mark(band, sheet);
const panel = new Panel(deeds, say);
const loop = new Loop(sheet, deeds);
const songbook = new Songbook({ link, open, write });
const editor = new Editor();
const awake = keepAwake();
const turnTheme = themes();
const pedal = new Pedal(new Keys(say));

function view(name) {
  document.body.dataset.view = name;
  tools(false);
  heading();
  $("main").scrollTop = 0;
  if (location.hash !== `#${name}`) history.pushState(null, "", `#${name}`);
  sheet.fit();
}

function heading() {
  const { title = "" } = deeds.state;
  const heading = { stand: title, editor: "Editor", songbook: "Songbook" }[document.body.dataset.view];
  $("title").textContent = heading;
  document.title = `${heading} · The stand`;
}

function open(tune) {
  if (tune && tune !== deeds.state.tune) link.send({ type: "open", tune });
  view("stand");
  $("main").focus({ preventScroll: true });
}

async function write(title, file = null) {
  view("editor");
  await (title ? editor.fresh(title) : editor.open(file ?? deeds.state.tune));
  $("text").focus();
}

function practice(isOpen = $("practice").hidden) {
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

// What is said to the page and not to the band.
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
  "as-written": () => ["key own", "style own", "tempo own"].forEach((line) => deeds.say(line)),
  names: (as) => { remember("names", as); link.send({ type: "names", as }); },
  chords: (instrument) => { remember("shapes", instrument); link.send({ type: "shapes", instrument, left: false }); },
  output: (name) => link.send({ type: "output", name }),
  learn: (which) => pedal.learn(which),
  understood: () => { remember("cautioned", "yes"); caution(); sheet.fit(); },
};

function say(line) {
  const [verb, ...rest] = line.split(" ");
  return HERE[verb] ? HERE[verb](rest.join(" ")) : deeds.say(line);
}

function caution() { $("caution").hidden = remembered("cautioned", "") === "yes"; }

link.on("hello", () => {
  if (deeds.found()) tell(deeds.state.playing ? "The server is back: on we go." : "The server is back.");
  link.send({ type: "names", as: $("names").value });
  if (remembered("shapes", "none") !== "none") link.send({ type: "shapes", shown: true });
  link.send({ type: "listen", on: sound.isAwake });
});

function show(message) {
  const before = deeds.state;
  deeds.told(message);
  const { state } = deeds;
  sound.told(state);
  if (state.tune !== before.tune) songbook.opened(state.tune);
  panel.show(state);
  if (sheet.chart) loop.show(state);
  heading();
  awake(Boolean(state.playing));
  $("sound-here").hidden = !state.playing || sound.isAwake || state.output !== "browser";
  if (before.tune !== undefined && state.playing !== before.playing) tell(state.playing ? "Playing" : state.ended ? "The end" : "Paused", 2);
  if (state.last_time && !before.last_time) tell("Last time", 2);
}

link.on("state", show);
deeds.onKept = (state) => { show(state); if (state.playing) tell("It plays as soon as the server is back."); };

link.on("chart", (chart) => {
  editor.look();
  $("shapes").value = chart.instrument;
  $("bar-key").textContent = chart.key;
  $("form").innerHTML = chart.form;
  $("loop-parts").innerHTML = chart.loops;
  sheet.draw(chart);
  mark.anew();
  panel.show(deeds.state);
  loop.show(deeds.state);
  if (chart.shapes_fault) tell(chart.shapes_fault);
});

link.on("bars", (message) => band.take(message));
link.on("time", (message) => band.time(message));
link.on("songbook", (message) => { songbook.told(message); editor.look(); });
link.on("news", ({ text }) => tell(text, 8));
link.on("fault", ({ text }) => tell(text, 8));

link.on("lost", () => {
  deeds.lost();
  $("away").hidden = false;
});

link.on("found", () => {
  $("away").hidden = true;
  band.forget();
});

$("names").value = remembered("names", "letters");
for (const kind of ["pointerup", "keydown"]) addEventListener(kind, () => sound.warm(), { once: true });
addEventListener("popstate", () => {
  const place = location.hash.slice(1) || "songbook";
  if ($(place)?.matches("#main > section")) view(place);
});
addEventListener("keydown", ({ key }) => {
  if (key === "Escape" && !document.querySelector("dialog[open]")) [tools(false), $("practice").hidden || practice(false)];
});
addEventListener("click", ({ target }) => target.closest?.("#tools, #more") || tools(false));
caution();
view(location.hash === "#stand" ? "stand" : "songbook");
link.open();
