// An audio worklet that records the sum of left and right.

const FRAMES = 4096;

registerProcessor("tap", class extends AudioWorkletProcessor {
  sound = new Float32Array(FRAMES);
  at = 0;
  process([input]) {
    if (this.at && currentFrame !== this.frame + this.at) this.tell();  // the browser skipped some blocks
    if (!this.at) this.frame = currentFrame;
    const [left, right] = input;
    for (let i = 0; i < 128; i++) this.sound[this.at + i] = (left?.[i] ?? 0) + (right ?? left)?.[i] || 0;
    this.at += 128;
    if (this.at === FRAMES) this.tell();
    return true;
  }
  tell() {
    this.port.postMessage({ frame: this.frame, sound: this.sound.slice(0, this.at) });
    this.at = 0;
  }
});
