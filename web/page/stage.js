// The audio world: the engine and the piano in the thread that renders sound. Its loop
// makes no garbage; only what comes and goes through the port does.
import { dress } from "./wasm.js";

// Frames of a recording that are copied in a block, so that none is late for them.
const PIECE = 16384;
// Times a second that the page is told what to show.
const VIEWS = 40;

class Stage extends AudioWorkletProcessor {
  constructor({ processorOptions }) {
    super();
    const instance = new WebAssembly.Instance(new WebAssembly.Module(processorOptions.code), {});
    this.wasm = dress(instance);
    this.live = this.wasm.live_new(sampleRate);
    this.memory = this.wasm.memory;
    this.recordings = [];
    // Views go to the page and come back, so that none is made anew.
    this.papers = [0, 1, 2, 3].map(() => new ArrayBuffer(4096));
    this.unseen = 0;
    this.every = Math.floor(sampleRate / VIEWS);
    this.look();
    this.port.onmessage = ({ data }) => this.hear(data);
    this.port.postMessage({ ready: true });
  }

  look() {
    this.buffer = this.memory.buffer;
    this.sides = [0, 1].map((side) => new Float32Array(this.buffer, this.wasm.live_side(this.live, side), 128));
    this.bytes = new Uint8Array(this.buffer);
  }

  hear(data) {
    const { wasm, live } = this;
    if (data.midi !== undefined) {
      const frame = data.at ? Math.max(0, Math.round((data.at - currentTime) * sampleRate)) : 0;
      wasm.live_midi(live, frame, data.midi & 255, (data.midi >> 8) & 255, (data.midi >> 16) & 255);
    } else if (data.log) {
      const bytes = wasm.live_log(live);
      const { buffer } = wasm.take(wasm.live_log_at(live), bytes);
      this.port.postMessage({ log: buffer }, [buffer]);
    } else if (data.paper) {
      this.papers.push(data.paper);
    } else if (data.recording) {
      const { key, rate, samples } = data.recording;
      const frames = samples.byteLength / 4;
      this.recordings.push({ key, rate, samples: new Uint8Array(samples), frames, done: 0, at: wasm.frames_room(frames) });
    } else if (data.text) {
      const [name, text] = data.text;
      const bytes = Uint8Array.from(text);
      const at = wasm.give(bytes);
      const fine = wasm[name](live, at, bytes.length);
      wasm.room_back(at, bytes.length);
      this.port.postMessage({ text: name, fine: fine === 1 });
    } else if (data.cues) {
      const bytes = new Uint8Array(data.cues);
      const at = wasm.give(bytes);
      wasm.live_cues(live, at, bytes.length);
      wasm.room_back(at, bytes.length);
      this.port.postMessage({ begun: currentTime });
    } else if (data.call) {
      const [name, ...rest] = data.call;
      wasm[name](live, ...rest);
    }
  }

  // A piece of the next recording.
  learn() {
    const now = this.recordings[0];
    const from = now.done * 4;
    const count = Math.min(PIECE, now.frames - now.done);
    this.bytes.set(now.samples.subarray(from, from + count * 4), now.at + from);
    now.done += count;
    if (now.done === now.frames) {
      this.wasm.live_learn(this.live, now.key, now.rate, now.at, now.frames);
      this.recordings.shift();
      this.port.postMessage({ learned: now.key });
    }
  }

  process(_, outputs) {
    const { wasm, live } = this;
    if (this.buffer !== this.memory.buffer) this.look();
    if (this.recordings.length > 0) this.learn();
    wasm.live_process(live, 128);
    if (this.buffer !== this.memory.buffer) this.look();
    const output = outputs[0];
    output[0].set(this.sides[0]);
    if (output.length > 1) output[1].set(this.sides[1]);
    const sent = wasm.live_sent(live);
    for (let n = 0; n < sent; n++) this.port.postMessage(wasm.live_sent_message(live, n));
    this.unseen += 128;
    if (this.unseen >= this.every && this.papers.length > 0) this.show();
    return true;
  }

  show() {
    this.unseen = 0;
    const bytes = this.wasm.live_view(this.live);
    const at = this.wasm.live_view_at(this.live);
    const paper = this.papers.pop();
    const written = new Uint8Array(paper);
    for (let n = 0; n < bytes; n++) written[n] = this.bytes[at + n];
    this.port.postMessage({ paper, bytes }, [paper]);
  }
}

registerProcessor("stage", Stage);
