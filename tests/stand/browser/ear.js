// The tests put this into a page before its own scripts: it records the sound, delays messages and
// watches the mark. The tests replace SLOWEST (milliseconds), HELD (a type of message) and the text of
// tap.js.

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

// Everything that goes to the loudspeaker is recorded too.
const { connect } = AudioNode.prototype;
AudioNode.prototype.connect = function (to, ...more) {
  if (to === this.context.destination) this.context.listening?.then(() => connect.call(this, this.context.tap));
  return connect.call(this, to, ...more);
};

// Each message is delayed by a random time up to SLOWEST, in order, both ways.
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

// The first message of the held type and all later ones wait until they are released.
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

// The movements of the mark: the audible time and the bar.
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

// The seconds since the last drawn frame: a late frame is the browser's delay, not the page's.
let frame = 0;
const drawn = () => {
  window.ear.undrawn = (performance.now() - frame) / 1000;
  frame = performance.now();
  requestAnimationFrame(drawn);
};
requestAnimationFrame(drawn);

// The sample rate, and all samples so far, each at its frame, as base64.
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
