// Figures of the page, to be read, not tested:
// node --expose-gc tests/page/figures.mjs
import { spawnSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { PerformanceObserver } from "node:perf_hooks";
import zlib from "node:zlib";
import { browser, built, live, open, root, serve } from "./harness.mjs";

const show = (what, value) => console.log(`${what.padEnd(58)} ${value}`);
const at = (sorted, part) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))];
const MB = 1e6, RATE = 48_000, BLOCK = 128;

function size() {
  const code = ["sinistra.wasm", ...fs.readdirSync(built).filter((name) => /\.(js|css|html)$/.test(name))];
  const packed = code.map((name) => zlib.gzipSync(fs.readFileSync(path.join(built, name)), { level: 9 }).length);
  show("code, gzip, without the piano", `${(packed.reduce((a, b) => a + b) / MB).toFixed(2)} MB`);
}

// The same minute and a half four times, each block by its best: another program's
// turn on this processor is not ours.
function blocks() {
  const block = (BLOCK / RATE) * 1000, times = [];
  for (let run = 0; run < 4; run++) {
    const { wasm, stage } = live();
    wasm.live_midi(stage, 0, 0xb0, 64, 127);
    for (let n = 0; n < 30_000; n++) {
      // Thirty-two strings sound throughout: the pedal is down and keys follow one another.
      if (n % 60 === 0) for (let k = 0; k < 4; k++) wasm.live_midi(stage, k, 0x90, 60 + ((n / 60 + k * 4) % 36), 80);
      if (n % 60 === 50) for (let k = 0; k < 4; k++) wasm.live_midi(stage, k, 0x80, 60 + (((n - 50) / 60 + k * 4) % 36), 64);
      const from = performance.now();
      wasm.live_process(stage, BLOCK);
      const part = ((performance.now() - from) / block) * 100;
      if (n >= 4000) times[n - 4000] = Math.min(times[n - 4000] ?? Infinity, part);
    }
  }
  times.sort((a, b) => a - b);
  show("a block of 128 frames, 32 or more voices, of its time", `median ${at(times, 0.5).toFixed(1)} %, 99.9 % ${at(times, 0.999).toFixed(1)} %`);
  const words = ["run", "--quiet", "--release", "-p", "sinistra-web", "--example", "block_figures", "--", path.join(built, "piano")];
  const native = spawnSync("cargo", words, { cwd: root, encoding: "utf8" });
  show("  the same as the machine's own code", native.stdout.trim() || native.stderr.trim());
}

// From a key to its sound, in blocks: the first that is not silent.
function latency() {
  const { wasm, stage } = live();
  let worst = 0;
  for (let key = 36; key < 97; key += 5) {
    for (let n = 0; n < 2000; n++) wasm.live_process(stage, BLOCK);
    wasm.live_midi(stage, 0, 0x90, key, 80);
    for (let block = 1; ; block++) {
      wasm.live_process(stage, BLOCK);
      const side = new Float32Array(wasm.memory.buffer, wasm.live_side(stage, 0), BLOCK);
      if (side.some((sample) => Math.abs(sample) > 1e-5)) { worst = Math.max(worst, block); break; }
    }
    wasm.live_midi(stage, 0, 0x80, key, 64);
    wasm.live_panic(stage);
  }
  show("from a key to its sound in the worklet's output, at most", `${worst} block(s) of 128 frames`);
}

// What is read in the worklet while sound runs: a block has 2.7 ms.
function laid() {
  const { wasm, give, ask, stage } = live();
  wasm.live_ready_patterns(stage);
  const took = (name, text) => {
    const bytes = new TextEncoder().encode(text), at = give(bytes), from = performance.now();
    wasm[name](stage, at, bytes.length);
    const ms = performance.now() - from;
    wasm.room_back(at, bytes.length);
    return ms;
  };
  const { patterns } = ask({ ask: "catalogue" }).ok;
  const worst = Math.max(...patterns.map(({ slug }) => took("live_pattern", slug)));
  show("choosing a pattern, the dearest", `${worst.toFixed(2)} ms`);
  for (const bars of [32, 200, 1200]) {
    const text = Array.from({ length: bars }, (_, n) => `| ${["C Am7", "F G7", "Dm7", "E7 Bb"][n % 4]} ${n % 4 === 3 ? "|\n" : ""}`).join("");
    const times = Array.from({ length: 21 }, () => took("live_chart", text));
    show(`laying a chart of ${bars} bars, the first time, the median`, `${times[0].toFixed(2)} ms, ${at(times.sort((a, b) => a - b), 0.5).toFixed(2)} ms`);
  }
}

// The worklet's own loop, driven here as fast as it goes: an hour of play.
async function hour() {
  const stage = await worklet(), outputs = [[new Float32Array(BLOCK), new Float32Array(BLOCK)]];
  const chord = (n, status) => [0, 4, 7].forEach((up) => stage.hear({ midi: status | ((60 + ((n * 5 + up) % 12)) << 8) | (80 << 16) }));
  const minutes = async (count, from) => {
    for (let n = from; n < from + count * 22_500; n++) {
      if (n % 750 === 0) chord(n / 750, 0x90);
      if (n % 750 === 700) chord((n - 700) / 750, 0x80);
      stage.process([], outputs);
      if (n % 256 === 0) await new Promise(setImmediate);
    }
  };
  await minutes(1, 0);
  globalThis.gc?.();
  let sweeps = 0;
  new PerformanceObserver((list) => { sweeps += list.getEntries().length; }).observe({ entryTypes: ["gc"] });
  const memory = stage.memory.buffer.byteLength, heap = process.memoryUsage().heapUsed;
  await minutes(10, 22_500);
  const made = process.memoryUsage().heapUsed - heap, swept = sweeps;
  globalThis.gc?.();
  const left = process.memoryUsage().heapUsed - heap;
  show("the worklet's loop, ten minutes: on the heap at their end", `${(made / MB).toFixed(2)} MB after ${swept} sweeps; ${(left / MB).toFixed(2)} MB stay`);
  await minutes(49, 22_500 * 11);
  globalThis.gc?.();
  const grown = process.memoryUsage().heapUsed - heap;
  show("an hour: growth of the module's memory and of the heap", `${stage.memory.buffer.byteLength - memory} bytes, ${(grown / MB).toFixed(2)} MB`);
}

// The page's worklet in this thread.
async function worklet() {
  let Stage, stage;
  // What the page gives back at once: the paper of a view.
  const port = { postMessage: (data) => { if (data.paper) setImmediate(() => stage.hear({ paper: data.paper })); } };
  Object.assign(globalThis, {
    sampleRate: RATE, currentTime: 0, registerProcessor: (_, kind) => { Stage = kind; },
    AudioWorkletProcessor: class { port = port; },
  });
  await import(path.join(built, "stage.js"));
  stage = new Stage({ processorOptions: { code: fs.readFileSync(path.join(built, "sinistra.wasm")) } });
  return stage;
}

async function inTheBrowser() {
  const server = await serve(7560), chromium = await browser();
  const context = await chromium.newContext({ viewport: { width: 1366, height: 768 } });
  const began = performance.now();
  const page = await open(context, server.url);
  show("cold start to ready, from the local server", `${Math.round(performance.now() - began)} ms`);
  await page.click("#sound-on");
  for (const key of ["a", "d", "g"]) await page.keyboard.down(key);
  await page.waitForSelector("#keyboard .key.left");
  show("frames a second with the picture moving", await page.evaluate(() => new Promise((done) => {
    let frames = 0;
    const from = performance.now();
    const frame = (now) => { frames += 1; if (now - from < 5000) requestAnimationFrame(frame); else done(((frames * 1000) / (now - from)).toFixed(1)); };
    requestAnimationFrame(frame);
  })));
  show("latency of the audio context (base, output)", await page.evaluate(async () => {
    const { context } = (await import("./sound.js")).inside();
    return `${(context.baseLatency * 1000).toFixed(1)} ms, ${(context.outputLatency * 1000).toFixed(1)} ms`;
  }));
  await chromium.close();
  server.end();
}

size();
blocks();
latency();
laid();
await hour();
await inTheBrowser();
