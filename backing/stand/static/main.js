// The page on the music stand: everything is put together here.

import { Band } from "./band.js";
import { Clock } from "./clock.js";
import { Deeds } from "./deeds.js";
import { $, el, fill, remember, remembered, tell } from "./dom.js";
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
import { signs } from "./symbols.js";

const link = new Link(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ws`);
const clock = new Clock(link);
const band = new Band(clock);
const sound = new Sound(link, clock, band);
const deeds = new Deeds({ link, clock, band, sound });
const sheet = new Sheet($("sheet"));
const mark = new Mark(band, sheet);
const panel = new Panel(deeds);
const loop = new Loop(sheet, deeds);
const songbook = new Songbook({ open, write: (title, file) => write(title, file) });
const editor = new Editor({ leave: (file) => open(file ?? deeds.state.tune) });
const awake = keepAwake();
new Pedal(new Keys(say));
themes($("theme"));

let resumed = null;  // what was played when the server went away

function view(name) {
  document.body.dataset.view = name;
  document.body.classList.remove("with-tools");
  heading(name);
  $("main").scrollTop = 0;
  if (location.hash !== `#${name}`) history.pushState(null, "", `#${name}`);
  sheet.fit();
}

function heading(name) {
  $("title").textContent = name === "songbook" ? "Songbook" : name === "editor" ? "Editor" : deeds.chart?.title ?? "";
  $("about").textContent = name === "stand" ? about(deeds.chart) : "";
  document.title = name === "stand" && deeds.chart ? `${deeds.chart.title} on the stand` : "The stand";
}

const about = (chart) => (chart ? [chart.by, `Key of ${signs2(chart.key)}`, deeds.state.style ?? chart.style, chart.meter, tempo(chart.tempo)]
  .filter(Boolean).join(" · ") : "");
const tempo = (text) => text && (text.includes("=") ? text.replace("=", " = ") : `♩ = ${text}`);
const signs2 = (key) => key.replace(/^[A-G][#b]*/, signs);

function open(tune) {
  if (tune && tune !== deeds.state.tune) link.send({ type: "open", tune });
  view("stand");
  $("main").focus({ preventScroll: true });
}

async function write(title, file = null) {
  view("editor");
  await (title ? editor.fresh(title, songbook.tunes.map((tune) => tune.file)) : editor.open(file ?? deeds.state.tune));
  $("text").focus();
}

function practice(isOpen = $("practice").hidden) {
  $("practice").hidden = !isOpen;
  document.body.classList.toggle("with-panel", isOpen);
  $("panel-open").setAttribute("aria-expanded", String(isOpen));
  if (isOpen) $("panel-shut").focus();
  else if (document.activeElement === document.body) $("panel-open").focus();
}

const HERE = {
  practice: () => practice(),
  songbook: () => view("songbook"),
  help: () => $("keys").showModal(),
  "next-tune": () => songbook.next && open(songbook.next),
};

function say(line) { return HERE[line] ? HERE[line]() : deeds.say(line); }

function drawForm(chart) {
  const turns = {};
  $("form").replaceChildren(...chart.form.map((name) => {
    turns[name] = (turns[name] ?? -1) + 1;
    return el("button", { type: "button", "data-part": name, "data-turn": turns[name],
      "aria-label": `Go to part ${name}`, onclick: () => deeds.say(`part ${name}`) }, name);
  }));
}

link.on("hello", (message) => {
  if (resumed) goOn(resumed);
  resumed = null;
  panel.hello(message);
  const words = { none: "No shapes", band: "The band’s" };
  fill($("shapes"), message.instruments.map((name) => [name, words[name] ?? name]), remembered("shapes", "none"));
  link.send({ type: "names", as: $("names").value });
  if ($("shapes").value !== "none") link.send({ type: "shapes", shown: true });
  link.send({ type: "listen", on: sound.runs });
});

link.on("state", (state) => {
  const before = deeds.state;
  deeds.told(state);
  if (state.tune !== before.tune) songbook.opened(state.tune);
  panel.show(state, deeds.chart);
  if (sheet.chart) loop.show(state);
  awake(Boolean(state.playing));
  $("sound-here").hidden = !state.playing || sound.runs || state.output !== "browser";
  if (before.tune !== undefined && state.playing !== before.playing) tell(state.playing ? "Playing" : state.ended ? "The end" : "Paused", 2);
  if (state.last_time && !before.last_time) tell("Last time", 2);
  if (document.body.dataset.view === "stand") $("about").textContent = about(deeds.chart);
});

link.on("chart", (chart) => {
  deeds.chart = chart;
  editor.look();
  $("shapes").value = chart.instrument;
  sheet.draw(chart);
  drawForm(chart);
  mark.anew();
  panel.show(deeds.state, chart);
  loop.show(deeds.state);
  if (chart.shapes_fault) tell(chart.shapes_fault);
  if (document.body.dataset.view === "stand") heading("stand");
});

link.on("bars", (message) => band.take(message));
link.on("time", (message) => band.time(message));
link.on("songbook", (message) => { songbook.told(message); editor.look(); });
link.on("news", ({ text }) => tell(text, 8));
link.on("fault", ({ text }) => tell(text, 8));

link.on("lost", () => {
  resumed ??= deeds.state.playing ? deeds.state : null;
  $("away").textContent = "The server has gone. The chart stays; looking for it again …";
  $("away").hidden = false;
});

link.on("found", () => {
  $("away").hidden = true;
  band.forget();
});

// The server is back: one that has begun anew takes up what was played, one that plays on leaves it.
function goOn(was) {
  const lines = [was.style && `style ${was.style}`, `tempo ${was.tempo_wished}`, was.semitones && `key ${was.semitones > 0 ? "+" : ""}${was.semitones}`,
    was.plays.length && `only ${was.plays.join(" ")}`, `level ${was.level}`,
    ...Object.entries(was.levels).map(([player, percent]) => `level ${player} ${percent}`),
    was.loop_text && `loop ${was.loop_text}`, was.rest && `rest ${was.rest.join(" ")}`, was.count_each && "count-in on",
    was.ladder && `ladder ${was.ladder.join(" ")}`, was.fretting?.instrument && `instrument ${was.fretting.instrument}`,
    was.part && deeds.chart?.form.includes(was.part) && !was.loop_text && `part ${was.part}`, "play"];
  link.send({ type: "again", tune: was.tune, lines: lines.filter(Boolean) });
  tell("The server is back: on we go.");
}

$("play").addEventListener("click", () => deeds.say("toggle"));
$("to-songbook").addEventListener("click", () => view("songbook"));
$("edit").addEventListener("click", () => write(null));
$("print").addEventListener("click", () => print());
$("help").addEventListener("click", () => say("help"));
$("sound-here").addEventListener("click", async () => { $("sound-here").hidden = true; await sound.wake(); });
$("next-tune").addEventListener("click", () => say("next-tune"));
$("panel-open").addEventListener("click", () => practice());
$("panel-shut").addEventListener("click", () => practice(false));
$("more").addEventListener("click", () => {
  const isOpen = document.body.classList.toggle("with-tools");
  $("more").setAttribute("aria-expanded", String(isOpen));
});
$("names").value = remembered("names", "letters");
$("names").addEventListener("change", () => {
  remember("names", $("names").value);
  link.send({ type: "names", as: $("names").value });
});
$("shapes").addEventListener("change", () => {
  remember("shapes", $("shapes").value);
  link.send({ type: "shapes", instrument: $("shapes").value, left: false });
});
$("caution").hidden = remembered("cautioned", "") === "yes";
$("cautioned").addEventListener("click", () => { remember("cautioned", "yes"); $("caution").hidden = true; sheet.fit(); });
addEventListener("popstate", () => view(location.hash.slice(1) || "songbook"));
addEventListener("keydown", ({ key }) => key === "Escape" && !$("practice").hidden && practice(false));
view(["stand"].includes(location.hash.slice(1)) ? "stand" : "songbook");
link.open();
