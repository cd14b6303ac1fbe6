// What the tests put into a page before its own scripts run: an ear at the loudspeaker, a slow
// network, and a watch on the mark. SLOWEST milliseconds, the type of message HELD and the text of
// tap.js are set by the tests.

window.ear = { context: null, chunks: [], marks: [], slowest: SLOWEST, held: "HELD", waiting: [] };
const TAP = URL.createObjectURL(new Blob([`%TAP%`], { type: "text/javascript" }));

const Context = window.AudioContext;
window.AudioContext = class extends Context {
  constructor(...options) {
    super(...options);
    window.ear.context = this;
    this.listening = this.audioWorklet.addModule(TAP).then(() => {
      this.tap = new AudioWorkletNode(this, "tap", { numberOfInputs: 1, numberOfOutputs: 1 });
      this.tap.port.onmessage = ({ data }) => window.ear.chunks.push(data);
      connect.call(this.tap, this.destination);
    });
  }
};

// Whatever goes to the loudspeaker goes to the ear as well.
const { connect } = AudioNode.prototype;
AudioNode.prototype.connect = function (to, ...more) {
  if (to === this.context.destination) this.context.listening?.then(() => connect.call(this, this.context.tap));
  return connect.call(this, to, ...more);
};

// Each message takes up to so long, in order, both ways.
const Socket = window.WebSocket;
window.WebSocket = class extends Socket {
  #last = { in: 0, out: 0 };
  #later(way, work) {
    if (!window.ear.slowest) return work();
    this.#last[way] = Math.max(performance.now() + Math.random() * window.ear.slowest, this.#last[way]);
    setTimeout(work, this.#last[way] - performance.now());
  }
  send(data) { this.#later("out", () => this.readyState === 1 && super.send(data)); }
  addEventListener(name, hear, ...more) {
    if (name !== "message") return super.addEventListener(name, hear, ...more);
    super.addEventListener(name, (event) => this.#later("in", () => keep(event, hear)), ...more);
  }
};

// The first message of the held type and all that come after it wait until they are released.
const keep = (event, hear) => {
  const { held, waiting } = window.ear;
  if (!waiting.length && JSON.parse(event.data).type !== held) return hear(event);
  waiting.push(() => hear(event));
};
window.ear.release = () => {
  const { waiting } = window.ear;
  Object.assign(window.ear, { held: "", waiting: [] });
  for (const each of waiting) each();
};

// When the mark moves: the bar, and the audio time that is heard then.
window.ear.heard = () => {
  const { contextTime, performanceTime } = window.ear.context.getOutputTimestamp();
  return contextTime + (performance.now() - performanceTime) / 1000;
};
addEventListener("DOMContentLoaded", () => {
  new MutationObserver((changes) => {
    for (const { target, oldValue } of changes) {
      if (!window.ear.context || !target.matches(".bar.now") || / now/.test(oldValue)) continue;
      const bar = `${target.dataset.part}/${target.dataset.bar}`;
      if (bar !== window.ear.marks.at(-1)?.[1]) window.ear.marks.push([window.ear.heard(), bar, window.ear.undrawn]);
    }
  }).observe(document.getElementById("sheet"), { subtree: true, attributes: true, attributeFilter: ["class"], attributeOldValue: true });
});

// How long the browser has drawn nothing, in seconds: what is later for that is not the page's doing.
let frame = 0;
const drawn = () => {
  window.ear.undrawn = (performance.now() - frame) / 1000;
  frame = performance.now();
  requestAnimationFrame(drawn);
};
requestAnimationFrame(drawn);

// Everything heard so far, each frame at its place, as text; and the rate.
window.ear.all = () => {
  const { chunks } = window.ear;
  const end = chunks.length ? chunks.at(-1).frame + chunks.at(-1).sound.length : 0;
  const data = new Float32Array(end);
  for (const { frame, sound } of chunks) data.set(sound, frame);
  const bytes = new Uint8Array(data.buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return [window.ear.context.sampleRate, btoa(text)];
};
