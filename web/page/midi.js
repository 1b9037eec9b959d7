// Web MIDI, where the browser has it; ports come and go while it plays.
let access, heard = () => {}, changed = () => {};
const chosen = { from: "", to: "" };

export const has = () => typeof navigator.requestMIDIAccess === "function";

export function wire(onMessage, onChange) {
  heard = onMessage;
  changed = onChange;
}

// `null` when all is well, else why not, in words.
export async function look() {
  if (!has()) return "This browser has no Web MIDI. Play on the screen's keys or the computer's keyboard, or open the page in a browser that has it.";
  try {
    access = await navigator.requestMIDIAccess({ sysex: false });
  } catch {
    return "The browser was not allowed to use MIDI. Its settings for this page can allow it.";
  }
  access.onstatechange = (event) => {
    connect();
    if (event.port?.state === "disconnected") release(event.port);
    changed(ports());
  };
  connect();
  changed(ports());
  return null;
}

function connect() {
  for (const port of access.inputs.values()) {
    port.onmidimessage = chosen.from && port.id !== chosen.from ? null : (event) => message(port, event);
  }
}

// Keys that are down, by port: a keyboard that is unplugged lets go of them.
const down = new Map();

function message(port, { data, timeStamp }) {
  const [status, first = 0, second = 0] = data;
  if (status >= 0xf0 && status < 0xf8) return;
  const keys = down.get(port.id) ?? new Set();
  down.set(port.id, keys);
  const name = ((status & 15) << 8) | first;
  if ((status & 0xf0) === 0x90 && second > 0) keys.add(name);
  if ((status & 0xf0) === 0x80 || ((status & 0xf0) === 0x90 && second === 0)) keys.delete(name);
  heard([status, first, second], timeStamp);
}

function release(port) {
  for (const name of down.get(port.id) ?? []) heard([0x80 | (name >> 8), name & 255, 64], performance.now());
  down.delete(port.id);
  for (let channel = 0; channel < 16; channel++) heard([0xb0 | channel, 64, 0], performance.now());
}

const list = (map) => [...map.values()].filter((port) => port.state === "connected").map(({ id, name }) => ({ id, name: name || "a port without a name" }));
export const ports = () => (access ? { from: list(access.inputs), to: list(access.outputs) } : { from: [], to: [] });

export function choose(from, to) {
  Object.assign(chosen, { from, to });
  if (access) connect();
}

export function send(bytes) {
  const port = access?.outputs.get(chosen.to);
  if (port?.state === "connected") port.send(bytes);
}
export const sends = () => Boolean(chosen.to && access?.outputs.get(chosen.to));
