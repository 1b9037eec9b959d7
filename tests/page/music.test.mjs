// The page's module makes the same music as the program.
import { test } from "node:test";
import assert from "node:assert";
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { cueBytes, desk, live, program, root, scratch } from "./harness.mjs";

const songs = [
  "presets/takes/slow-ferry.mid",
  ...fs.readdirSync(path.join(root, "tests/data/pop909-cl")).filter((name) => name.endsWith(".mid")).map((name) => `tests/data/pop909-cl/${name}`),
];

test("the page adds the left hand that harmonise adds, byte for byte", () => {
  const { ask } = desk();
  let notes = 0;
  for (const song of songs) {
    const input = path.join(root, song), output = path.join(scratch, "two hands.mid");
    for (const pattern of ["free-hand", "everything-mixed"]) {
      const options = ["--pattern", pattern, "--right-only", "--force"];
      execFileSync(program, ["harmonise", input, "-o", output, ...options]);
      const question = { ask: "harmonise", name: song, pattern, right_only: true };
      const { ok, faults, file } = ask(question, fs.readFileSync(input));
      assert.equal(faults, undefined);
      notes += ok.left_notes;
      assert.ok(Buffer.from(file).equals(fs.readFileSync(output)), `${song}, ${pattern}: not the same bytes`);
    }
  }
  assert.ok(notes > 2000, `${notes} notes were compared`);
});

test("the page's piano sounds like the program's, within rounding", () => {
  const { wasm, give, ask, stage } = live();
  const chart = fs.readFileSync(path.join(root, "presets/charts/lantern-street.txt"), "utf8");
  const wav = path.join(scratch, "lantern.wav");
  execFileSync(program, ["perform", path.join(root, "presets/charts/lantern-street.txt"), "--wav", wav, "--force"]);
  const { ok } = ask({ ask: "perform", chart, pattern: ask({ ask: "catalogue" }).ok.usual });
  wasm.live_volume(stage, 1);
  for (let n = 0; n < 750; n++) wasm.live_process(stage, 128); // the volume goes there
  const cues = cueBytes(ok.cues, 48_000);
  wasm.live_cues(stage, give(cues), cues.length);
  const data = fs.readFileSync(wav);
  const begin = data.indexOf("data") + 8;
  const samples = new Int16Array(data.buffer.slice(data.byteOffset + begin, data.byteOffset + begin + 20 * 48_000 * 4));
  let [worst, loudest] = [0, 0];
  // A sound file begins quietly, and rises for four seconds of sound.
  const risen = 4.5 * 48_000;
  for (let frame = 0; frame < samples.length / 2; frame += 128) {
    wasm.live_process(stage, 128);
    if (frame < risen) continue;
    for (const side of [0, 1]) {
      const ours = new Float32Array(wasm.memory.buffer, wasm.live_side(stage, side), 128);
      for (let n = 0; n < 128 && frame + n < samples.length / 2; n++) {
        const theirs = samples[(frame + n) * 2 + side];
        loudest = Math.max(loudest, Math.abs(theirs));
        worst = Math.max(worst, Math.abs(ours[n] * 32_767 - theirs));
      }
    }
  }
  assert.ok(loudest > 2000, `it sounds: ${loudest}`);
  // The file's own rounding is half a step.
  assert.ok(worst < 1.5, `apart by ${worst} of 32767`);
});

test("a live left hand joins in, ends what it began, and panic is silent", () => {
  const { wasm, stage } = live();
  const down = new Set();
  let strokes = 0;
  const run = (blocks) => {
    for (let n = 0; n < blocks; n++) {
      wasm.live_process(stage, 128);
      for (let m = 0; m < wasm.live_sent(stage); m++) {
        const word = wasm.live_sent_message(stage, m), [status, key] = [word >> 16, (word >> 8) & 127];
        if ((status & 0xf0) === 0x90) { down.add(key); strokes += 1; } else down.delete(key);
      }
    }
  };
  for (let bar = 0; bar < 8; bar++) {
    const chord = [[60, 64, 67], [65, 69, 72], [67, 71, 74], [60, 64, 67]][bar % 4];
    for (const key of chord) wasm.live_midi(stage, 0, 0x90, key, 80);
    run(750);
    for (const key of chord) wasm.live_midi(stage, 0, 0x80, key, 64);
  }
  assert.ok(strokes >= 16, `${strokes} strokes`);
  wasm.live_panic(stage);
  run(1);
  assert.equal(down.size, 0, "every note of the left hand has ended");
  run(400);
  assert.ok(new Float32Array(wasm.memory.buffer, wasm.live_side(stage, 0), 128).every((x) => Math.abs(x) < 1e-3), "silent");
});

test("ten minutes of play need no more memory than one", () => {
  const { wasm, stage } = live(8_000);
  const hold = (minutes) => {
    for (let second = 0; second < minutes * 60; second++) {
      const root = 60 + ((second * 5) % 12);
      for (const key of [root, root + 4, root + 7]) wasm.live_midi(stage, 0, second % 2 ? 0x80 : 0x90, key, 80);
      for (let n = 0; n < 2; n++) wasm.live_process(stage, 4000);
      wasm.live_view(stage);
    }
  };
  hold(1);
  const before = wasm.memory.buffer.byteLength;
  hold(Number(process.env.MINUTES ?? 10));
  assert.equal(wasm.memory.buffer.byteLength, before);
});
