// A browser, the page served as `cargo xtask web --serve` serves it, and the module
// alone for what needs no browser.
import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath } from "node:url";

export const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../..");
export const built = process.env.SINISTRA_PAGE ?? path.join(root, "target/web");
export const program = process.env.SINISTRA ?? path.join(root, "target/debug/sinistra");
const xtask = process.env.SINISTRA_XTASK ?? path.join(root, "target/debug/xtask");
export const scratch = fs.mkdtempSync("/tmp/sinistra-page-");
// Libraries lie in the target folder, not beside the checks.
export const need = createRequire(path.join(process.env.SINISTRA_NODE ?? path.join(root, "target/page-checks"), "x.js"));

export async function serve(port) {
  const server = spawn(xtask, ["web", "--built", String(port)], { cwd: root, stdio: ["ignore", "pipe", "inherit"] });
  await new Promise((ready, no) => {
    server.stdout.once("data", ready);
    server.once("exit", () => no(new Error("the server ended")));
  });
  return { url: `http://localhost:${port}/`, end: () => server.kill() };
}

export async function browser() {
  const { chromium } = need("playwright-core");
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu"],
  });
}

// A page that is ready, and whatever went wrong in it.
export async function open(context, url, before) {
  const page = await context.newPage();
  page.troubles = [];
  page.on("pageerror", (error) => page.troubles.push(`error: ${error.message}`));
  page.on("console", (message) => message.type() === "error" && page.troubles.push(`console: ${message.text()}`));
  page.on("request", (request) => {
    const to = request.url();
    if (!to.startsWith("http://localhost:") && !to.startsWith("blob:") && !to.startsWith("data:")) page.troubles.push(`asked for ${to}`);
  });
  if (before) await page.addInitScript(before);
  await page.goto(url);
  await page.waitForSelector("html[data-ready]", { timeout: 60_000 });
  return page;
}

// The module alone.
export function desk() {
  const module = new WebAssembly.Module(fs.readFileSync(path.join(built, "sinistra.wasm")));
  const wasm = new WebAssembly.Instance(module, {}).exports;
  const give = (bytes) => {
    const at = wasm.room(bytes.length);
    new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
    return at;
  };
  const at = wasm.desk_new();
  const ask = (question, file = new Uint8Array(0)) => {
    const words = new TextEncoder().encode(JSON.stringify(question));
    wasm.desk_ask(at, give(words), words.length, give(file), file.length);
    const part = (n) => new Uint8Array(wasm.memory.buffer, wasm.desk_answer(at, n), wasm.desk_answer_bytes(at, n)).slice();
    return { ...JSON.parse(new TextDecoder().decode(part(0))), file: part(1) };
  };
  return { wasm, give, ask };
}

// The worklet's half of the module, every recording learned.
export function live(rate = 48_000) {
  const half = desk();
  const { wasm, ask } = half;
  const stage = wasm.live_new(rate);
  for (const key of ask({ ask: "catalogue" }).ok.recordings) {
    const { ok, file } = ask({ ask: "decode", recording: key }, fs.readFileSync(path.join(built, `piano/${key}.ogg`)));
    const room = wasm.frames_room(file.length / 4);
    new Uint8Array(wasm.memory.buffer, room, file.length).set(file);
    wasm.live_learn(stage, key, ok.rate, room, file.length / 4);
  }
  return { ...half, stage };
}

export function cueBytes(cues, rate) {
  const bytes = new DataView(new ArrayBuffer(cues.length * 16));
  cues.forEach(([ms, ...message], n) => {
    bytes.setFloat64(n * 16, Math.round((ms / 1000) * rate), true);
    message.forEach((byte, place) => bytes.setUint8(n * 16 + 8 + place, byte));
  });
  return new Uint8Array(bytes.buffer);
}

// A MIDI system of our own, before the page's scripts run: `midiSystem.plug()`.
export const midiDevice = () => {
  const ports = { inputs: new Map(), outputs: new Map() };
  const access = { ...ports, onstatechange: null };
  const told = (port) => access.onstatechange?.({ port });
  globalThis.midiSystem = {
    sent: [],
    plug(id = "k1", name = "Test keyboard") {
      const input = { id, name, state: "connected", type: "input", onmidimessage: null };
      const output = { id: `${id}-out`, name: `${name} sound`, state: "connected", type: "output", send: (bytes) => globalThis.midiSystem.sent.push([...bytes]) };
      ports.inputs.set(input.id, input);
      ports.outputs.set(output.id, output);
      told(input);
    },
    unplug(id = "k1") {
      for (const port of [ports.inputs.get(id), ports.outputs.get(`${id}-out`)]) port.state = "disconnected";
      const port = ports.inputs.get(id);
      ports.inputs.delete(id);
      ports.outputs.delete(`${id}-out`);
      told(port);
    },
    play(...bytes) {
      ports.inputs.get("k1").onmidimessage?.({ data: Uint8Array.from(bytes), timeStamp: performance.now() });
    },
  };
  Object.defineProperty(navigator, "requestMIDIAccess", { value: async () => access, configurable: true });
};
