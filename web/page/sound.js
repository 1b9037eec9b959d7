// The page's side of the worklet: the context, the piano's pieces, cues and messages.
import { decoder } from "./desk.js";

let context, node, code, views = () => {}, sents = () => {};
const told = [];
export const state = { ready: false, learned: 0, of: 0, running: false };

// Prepares all that may be prepared before the first gesture.
export async function prepare(bytes, recordings, onView, onSent) {
  code = bytes;
  views = onView;
  sents = onSent;
  context = new AudioContext({ latencyHint: "interactive" });
  await context.audioWorklet.addModule("stage.js");
  node = new AudioWorkletNode(context, "stage", {
    numberOfInputs: 0, outputChannelCount: [2], processorOptions: { code },
  });
  node.port.onmessage = ({ data }) => hear(data);
  node.onprocessorerror = () => { state.ready = false; state.broken = true; };
  node.connect(context.destination);
  call("live_ready_patterns");
  state.ready = true;
  state.of = recordings.length;
  piano(recordings);
}

function hear(data) {
  if (typeof data === "number") return sents([(data >> 16) & 255, (data >> 8) & 255, data & 255]);
  if (data.paper) {
    const text = new TextDecoder().decode(new Uint8Array(data.paper, 0, data.bytes));
    node.port.postMessage({ paper: data.paper }, [data.paper]);
    return views(JSON.parse(text));
  }
  if (data.learned !== undefined) state.learned += 1;
  for (const tell of [...told]) tell(data);
}

// The recordings, the most needed first; the first note sounds before all have come.
async function piano(keys) {
  const { decode, done } = decoder();
  for (const key of keys) {
    try {
      const response = await fetch(`piano/${key}.ogg`);
      if (!response.ok) throw new Error(response.status);
      const { ok, file } = await decode(key, await response.arrayBuffer());
      if (ok) node.port.postMessage({ recording: { key, rate: ok.rate, samples: file.buffer } }, [file.buffer]);
    } catch {
      state.missing = (state.missing ?? 0) + 1;
    }
  }
  done();
}

// In a gesture: browsers start no sound without one.
export async function on() {
  if (!context) return false;
  await context.resume();
  state.running = context.state === "running";
  return state.running;
}

export async function off() {
  await context?.suspend();
  state.running = false;
}

export const call = (...words) => node?.port.postMessage({ call: words });
export const midi = ([status, first = 0, second = 0], at = 0) =>
  node?.port.postMessage({ midi: status | (first << 8) | (second << 16), at });
export const text = (name, value) =>
  node?.port.postMessage({ text: [name, [...new TextEncoder().encode(value)]] });
export const listen = (tell) => { told.push(tell); return () => told.splice(told.indexOf(tell), 1); };
export const rate = () => context.sampleRate;
export const inside = () => ({ context, node });

// What was just played.
export function log() {
  return new Promise((got) => {
    const end = listen((data) => {
      if (data.log === undefined) return;
      end();
      got(data.log);
    });
    node.port.postMessage({ log: true });
  });
}

// Plays `[ms, status, first, second]`; resolves to the context's time of their start.
export function cues(list) {
  const bytes = new DataView(new ArrayBuffer(list.length * 16));
  list.forEach(([ms, status, first, second], n) => {
    bytes.setFloat64(n * 16, Math.round((ms / 1000) * context.sampleRate), true);
    [status, first, second].forEach((byte, place) => bytes.setUint8(n * 16 + 8 + place, byte));
  });
  return new Promise((begun) => {
    const end = listen((data) => {
      if (data.begun === undefined) return;
      end();
      begun(data.begun);
    });
    node.port.postMessage({ cues: bytes.buffer }, [bytes.buffer]);
  });
}

export const cuesEnd = () => call("live_cues_end");

// The context's time of what was heard when the computer's clock said `stamp`, ms.
export function heardAt(stamp) {
  const out = context.getOutputTimestamp?.();
  if (out?.performanceTime > 0) return out.contextTime + (stamp - out.performanceTime) / 1000;
  return context.currentTime - (performance.now() - stamp) / 1000 - (context.outputLatency || context.baseLatency || 0);
}
