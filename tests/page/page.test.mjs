// The page in Debian's Chromium: real keys and fingers, a MIDI device of our own, sound
// measured by numbers.
import { after, before, test } from "node:test";
import assert from "node:assert";
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { browser, midiDevice, need, open, root, scratch, serve } from "./harness.mjs";

let server, chromium;
before(async () => {
  server = await serve(7552);
  chromium = await browser();
});
after(async () => {
  await chromium?.close();
  server?.end();
});

const SIZES = { phone: [360, 740], tablet: [820, 1180], laptop: [1366, 768] };

async function fresh(options = {}, init = midiDevice) {
  const context = await chromium.newContext({ viewport: { width: 1280, height: 900 }, serviceWorkers: "block", ...options });
  return { context, page: await open(context, server.url + (options.hash ?? ""), init) };
}

// The loudest sample of the next `ms` of what goes to the speakers.
const loudest = (page, ms) => page.evaluate(async (ms) => {
  const { context, node } = (await import("./sound.js")).inside();
  const ear = new AnalyserNode(context, { fftSize: 8192 });
  node.connect(ear);
  const samples = new Float32Array(8192);
  let peak = 0;
  for (const end = performance.now() + ms; performance.now() < end; await new Promise((on) => setTimeout(on, 40))) {
    ear.getFloatTimeDomainData(samples);
    for (const sample of samples) peak = Math.max(peak, Math.abs(sample));
  }
  node.disconnect(ear);
  return peak;
}, ms);

const piano = (page) => page.waitForFunction(async () => (await import("./sound.js")).state.learned > 4);
const says = (page, id, words) => page.waitForFunction(([id, words]) => new RegExp(words).test(document.getElementById(id).textContent), [id, words], { timeout: 15_000 });

test("keys of the computer's keyboard sound, are named, and get a left hand; Escape is silence", async () => {
  const { context, page } = await fresh();
  await piano(page);
  await page.click("#sound-on");
  assert.ok((await loudest(page, 200)) < 1e-4, "silent before a key");
  for (const key of ["a", "d", "g"]) await page.keyboard.down(key);
  await says(page, "chord", "^C$");
  assert.ok((await loudest(page, 600)) > 0.003, "it sounds");
  await page.waitForSelector("#keyboard .key.left");
  const label = await page.getAttribute("#keyboard", "aria-label");
  assert.match(label, /Right hand: C4, E4, G4\. Left hand: /);
  assert.match(await page.textContent("#where"), /^Bar \d+, 4\/4, 120 quarters/);
  // What was just played, kept.
  const files = [];
  page.on("download", (download) => files.push(download.suggestedFilename()));
  await page.waitForTimeout(1500);
  await page.click("#play-keep");
  await says(page, "status", "Kept: the sheet");
  while (files.length < 3) await page.waitForEvent("download");
  assert.deepEqual(files.sort(), ["Take, kept.toml", "Take.mid", "Take.musicxml"]);
  await page.keyboard.press("Escape");
  await page.waitForTimeout(800);
  assert.ok((await loudest(page, 300)) < 1e-3, "silent after Escape");
  await page.waitForFunction(() => document.querySelectorAll("#keyboard .key.left").length === 0);
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("the loudness starts low on every visit", async () => {
  const { context, page } = await fresh();
  assert.equal(await page.inputValue("#volume"), "25");
  await context.close();
});

test("several fingers on the screen's keys hold a chord", async () => {
  const { context, page } = await fresh({ hasTouch: true, viewport: { width: 820, height: 1180 } });
  await piano(page);
  const client = await context.newCDPSession(page);
  await page.locator("#keyboard").scrollIntoViewIfNeeded();
  const points = [];
  for (const key of [60, 63, 67]) {
    const box = await page.locator(`#keyboard [data-key="${key}"]`).boundingBox();
    points.push({ x: box.x + box.width / 2, y: box.y + box.height * 0.8, id: key });
  }
  await client.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: points });
  await says(page, "chord", "^Cm$");
  await client.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  await page.waitForFunction(() => document.querySelectorAll("#keyboard .key.right").length === 0);
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("a MIDI keyboard is heard when it is plugged in, let go when it is not, and is sent the left hand", async () => {
  const { context, page } = await fresh();
  await page.click("#midi-ask");
  await says(page, "midi-state", "No MIDI keyboard is plugged in");
  await page.evaluate(() => midiSystem.plug());
  await says(page, "midi-state", "Hears Test keyboard");
  await page.selectOption("#midi-out", { label: "Test keyboard sound" });
  await page.click("#sound-on");
  await page.evaluate(() => [62, 65, 69].forEach((key) => midiSystem.play(0x90, key, 80)));
  await says(page, "chord", "^Dm$");
  await page.waitForFunction(() => midiSystem.sent.filter(([status, key]) => status === 0x90 && key < 60).length >= 2);
  assert.ok(await page.evaluate(() => midiSystem.sent.filter(([status, key]) => status === 0x90 && key === 65).length === 1), "the right hand goes through once");
  await page.evaluate(() => midiSystem.unplug());
  await page.waitForFunction(() => document.querySelectorAll("#keyboard .key.right").length === 0);
  await page.evaluate(() => midiSystem.plug());
  await says(page, "midi-state", "Hears Test keyboard");
  await page.evaluate(() => [60, 64, 67].forEach((key) => midiSystem.play(0x90, key, 80)));
  await says(page, "chord", "^C$");
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("MIDI clock leads", async () => {
  const { context, page } = await fresh();
  await page.click("#midi-ask");
  await page.evaluate(() => midiSystem.plug());
  await page.click("#sound-on");
  await page.check("#clock-in");
  await page.evaluate(() => {
    let next = performance.now(), clocks = 0;
    globalThis.sender = setInterval(() => {
      for (; next <= performance.now(); next += 60_000 / 90 / 24, clocks++) {
        if (clocks === 24) midiSystem.play(0xfa);
        midiSystem.play(0xf8);
      }
    }, 4);
  });
  await page.waitForFunction(() => {
    const tempo = document.getElementById("where").textContent.match(/(\d+) quarters/)?.[1];
    return tempo && Math.abs(tempo - 90) <= 4;
  });
  await page.evaluate(() => { clearInterval(globalThis.sender); midiSystem.play(0xfc); });
  await says(page, "where", "^Stopped");
  await context.close();
});

test("a browser without Web MIDI says so and goes on", async () => {
  const { context, page } = await fresh({}, () => Object.defineProperty(navigator, "requestMIDIAccess", { value: undefined }));
  await says(page, "midi-state", "no Web MIDI");
  assert.ok(await page.isDisabled("#midi-ask"));
  await page.keyboard.down("a");
  await page.waitForSelector('#keyboard [data-key="60"].right');
  await context.close();
});

test("a chart is seen, heard, printed, taken along, and shown where it is wrong", async () => {
  const { context, page } = await fresh({ hash: "#make", acceptDownloads: true });
  await page.waitForSelector("#make-pages svg");
  await page.fill("#chart-text", "title: Ferry Steps\nkey: G\ntempo: 90\n\n| G | Dq7 | C | G |\n");
  await page.waitForSelector("#chart-faults li");
  assert.match(await page.textContent("#chart-faults"), /^Line 5, column 8: `q7` makes no sense/);
  assert.equal(await page.getAttribute("#chart-text", "aria-invalid"), "true");
  await page.fill("#chart-text", "title: Ferry Steps\nkey: G\ntempo: 90\n\n| G | D7 | C | G |\n");
  await page.waitForFunction(() => document.querySelector("#make-pages svg")?.textContent.includes("Ferry Steps"));
  const saved = async (button) => {
    const [download] = await Promise.all([page.waitForEvent("download"), page.click(button)]);
    return { name: download.suggestedFilename(), bytes: fs.readFileSync(await download.path()) };
  };
  const midi = await saved("#make-midi");
  assert.equal(midi.name, "Ferry Steps.mid");
  assert.equal(midi.bytes.subarray(0, 4).toString(), "MThd");
  const xml = await saved("#make-xml");
  assert.match(xml.bytes.toString(), /<score-partwise version="4.0"/);
  assert.doesNotMatch(xml.bytes.toString(), /italic" font-size="8"/);
  await page.check("#make-why");
  await page.waitForFunction(() => document.querySelector("#make-pages svg")?.textContent.includes("the song ends"));
  assert.match((await saved("#make-xml")).bytes.toString(), /the song ends: lands<\/words>/);
  await page.uncheck("#make-why");
  // "That one": the sheet and the pattern, with one button.
  const kept = [];
  page.on("download", (download) => kept.push(download));
  await page.click("#make-keep");
  await says(page, "status", "Kept: the sheet, and the left hand as a pattern file");
  while (kept.length < 2) await page.waitForEvent("download");
  const names = kept.map((download) => download.suggestedFilename()).sort();
  assert.deepEqual(names, ["Ferry Steps, kept.toml", "Ferry Steps.musicxml"]);
  const pattern = kept.find((download) => download.suggestedFilename().endsWith(".toml"));
  assert.match(fs.readFileSync(await pattern.path(), "utf8"), /^name = "Ferry Steps, kept"/m);
  const pdf = path.join(scratch, "ferry.pdf");
  await page.pdf({ path: pdf, preferCSSPageSize: true });
  const text = execFileSync("pdftotext", [pdf, "-"]).toString();
  assert.match(text, /Ferry Steps/);
  assert.doesNotMatch(text, /Write a chart|Sound on/);
  assert.match(execFileSync("pdfinfo", [pdf]).toString(), /Pages: +1\n/);
  await piano(page);
  await page.click("#make-hear");
  assert.ok((await loudest(page, 1500)) > 0.003, "it is heard");
  await page.click("#make-hear");
  await page.click("#make-keys");
  await says(page, "status", "in twelve keys");
  assert.equal(await page.locator("#make-pages svg").count(), 12);
  // A waltz on four says so, here and where it is played.
  await page.selectOption("#make-pattern", "waltz");
  await says(page, "status", "is written for 3/4: in 4/4 it is fitted to the bar");
  await page.click("#to-play");
  await page.selectOption("#pattern", "waltz");
  await page.selectOption("#play-chart", "*");
  await says(page, "status", "knows Ferry Steps.* fitted to the bar");
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("a link carries a chart where no server sees it, and the sheet has it as a code", async () => {
  const { context, page } = await fresh({ hash: "#make" });
  await page.waitForSelector("#make-pages svg");
  await page.fill("#chart-text", "title: Night Bus\nkey: Dm\n| Dm | Gm | A7 | Dm |\n");
  await page.waitForFunction(() => document.querySelector("#make-pages svg")?.textContent.includes("Night Bus"));
  await page.evaluate(() => Object.defineProperty(navigator, "clipboard", { value: { writeText: async (text) => { globalThis.copied = text; } } }));
  await page.click("#make-link");
  await says(page, "status", "link is copied");
  const link = await page.evaluate(() => globalThis.copied);
  assert.match(link, /^http:\/\/localhost:\d+\/#chart=[\w-]+$/);
  // The code as a scanner sees it.
  const code = page.locator("#make-pages svg .code").first();
  await page.setViewportSize({ width: 1280, height: 2000 });
  const picture = await code.screenshot({ scale: "css", path: path.join(scratch, "code.png") }).catch(() => null);
  const sheet = await page.evaluate(async () => {
    const path = document.querySelector("#make-pages svg .code path").getAttribute("d");
    const size = Math.max(...[...path.matchAll(/M(\d+) (\d+)/g)].map(([, x, y]) => Math.max(x, y))) + 1;
    const scale = 4, edge = 4, width = (size + 2 * edge) * scale;
    const pixels = new Uint8ClampedArray(width * width * 4).fill(255);
    for (const [, x, y] of path.matchAll(/M(\d+) (\d+)/g))
      for (let dy = 0; dy < scale; dy++) for (let dx = 0; dx < scale; dx++) {
        const at = (((Number(y) + edge) * scale + dy) * width + (Number(x) + edge) * scale + dx) * 4;
        pixels.set([0, 0, 0], at);
      }
    return { pixels: [...pixels], width };
  });
  assert.ok(picture);
  const jsqr = need("jsqr");
  const read = (jsqr.default ?? jsqr)(Uint8ClampedArray.from(sheet.pixels), sheet.width, sheet.width);
  assert.equal(read?.data, link);
  const other = await open(context, link, midiDevice);
  assert.match(await other.inputValue("#chart-text"), /Night Bus/);
  await other.goto(`${server.url}#chart=torn!`);
  await says(other, "status", "did not arrive whole");
  assert.deepEqual(other.troubles, []);
  await context.close();
});

test("a MIDI file gets its left hand; a broken one and a huge one are refused in a sentence", async () => {
  const { context, page } = await fresh({ hash: "#make", acceptDownloads: true });
  await page.setInputFiles("#midi-file", path.join(root, "presets/takes/slow-ferry.mid"));
  await says(page, "status", "notes for the left hand");
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("#two-save")]);
  assert.equal(download.suggestedFilename(), "slow-ferry with a left hand.mid");
  assert.match(fs.readFileSync(await download.path()).toString("latin1"), /Left hand/);
  const broken = path.join(scratch, "broken.mid"), huge = path.join(scratch, "huge.mid");
  fs.writeFileSync(broken, "MThd\0\0\0\x06\0\x01\0\x01\x01\xe0MTrk\0\0\xff\xff");
  fs.writeFileSync(huge, "");
  fs.truncateSync(huge, 100_000_000);
  await page.setInputFiles("#midi-file", broken);
  await says(page, "status", "^broken.mid: ");
  await page.setInputFiles("#midi-file", huge);
  await says(page, "status", "huge.mid is too large: 100 MB");
  assert.ok(await page.isHidden("#two-hands"));
  assert.deepEqual(page.troubles, []);
  await context.close();
});

// A keyboard, and the roots of one bar to practise on it.
async function oneBar(page) {
  await page.click("#to-play");
  await page.click("#midi-ask");
  await page.evaluate(() => midiSystem.plug());
  await page.click("#to-practise");
  await page.selectOption("#lesson-chart", "four-bar-loop");
  await page.selectOption("#lesson-pattern", "roots-on-the-beat");
  await page.fill("#lesson-bars", "1-1");
  await page.locator("#lesson-bars").blur();
  await says(page, "lesson-state", "0 of 0 rounds");
}

test("a round is played, judged and remembered", async () => {
  const { context, page } = await fresh({ hash: "#practise" });
  await oneBar(page);
  // A player with perfect time: struck when the page's own cues for the left hand sound.
  await page.evaluate(async () => {
    const desk = await import("./desk.js"), sound = await import("./sound.js");
    const heard = sound.listen((data) => {
      if (data.begun === undefined) return;
      heard();
      globalThis.begun = data.begun;
    });
    globalThis.hear = (await desk.ask({ ask: "round", stage: "hear" })).ok.cues.filter(([, status, , velocity]) => status === 0x90 && velocity > 0);
  });
  await page.keyboard.press("l");
  await page.waitForFunction(() => globalThis.begun !== undefined);
  await page.evaluate(async () => {
    const { heardAt } = await import("./sound.js");
    const now = performance.now(), at = (heardAt(now) - globalThis.begun) * 1000;
    for (const [ms, , key] of globalThis.hear) {
      setTimeout(() => midiSystem.play(0x90, key, 80), ms - at);
      setTimeout(() => midiSystem.play(0x80, key, 64), ms - at + 250);
    }
  });
  await page.waitForSelector("#verdict p", { timeout: 30_000 });
  const verdict = await page.textContent("#verdict");
  assert.match(verdict, /(\d+) of \1 notes right/, verdict);
  assert.match(await page.textContent("#lesson-state"), /of 1 rounds clean/);
  const kept = await page.evaluate(() => JSON.parse(JSON.parse(localStorage.getItem("sinistra.progress"))));
  assert.equal(kept.version, 1);
  assert.equal(Object.values(kept.exercises)[0].rounds, 1);
  await page.reload();
  await page.waitForSelector("html[data-ready]");
  assert.match(await page.textContent("#progress-list"), /of 1 rounds clean/);
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("wait for me: time stands until the lit key is struck, a wrong one is named", async () => {
  const { context, page } = await fresh({ hash: "#practise" });
  await piano(page);
  await oneBar(page);
  await page.keyboard.press("w");
  const lit = () => page.locator("#keyboard-2 .key.asked").evaluateAll((keys) => keys.map((key) => Number(key.dataset.key)));
  const strike = (key) => page.evaluate((key) => { midiSystem.play(0x90, key, 70); midiSystem.play(0x80, key, 64); }, key);
  await page.waitForSelector("#keyboard-2 .key.asked");
  const [first, ...more] = await lit();
  assert.equal(more.length, 0, "one root is asked for");
  assert.match(await page.textContent("#lesson-state"), /when you are ready\. 0 of \d+\./);
  assert.equal(await page.locator("#wait-staff svg .asked").count(), 1, "where it is, on the staff");
  const all = Number((await page.textContent("#lesson-state")).match(/of (\d+)/)[1]);
  await strike(first + 2);
  await says(page, "lesson-state", "^That was .*is a step lower");
  assert.deepEqual(await lit(), [first], "time stands");
  if (process.env.PICTURES) await page.screenshot({ path: path.join(process.env.PICTURES, "wait.png"), fullPage: true });
  // The right one: what is beside sounds with it.
  await strike(first);
  assert.ok((await loudest(page, 600)) > 0.003, "it is heard");
  for (let n = 1; n < all; n++) {
    await says(page, "lesson-state", ` ${n} of ${all}\\.`);
    await strike((await lit())[0]);
  }
  await says(page, "status", "One key beside the way. Now with the beat.");
  const dark = () => page.waitForFunction(() => !document.querySelector("#keyboard-2 .key.asked"));
  await dark();
  assert.ok(await page.isHidden("#wait-staff"));
  assert.equal(await page.locator("#go-together.first").count(), 1, "then together");
  // Once more, and away in the midst of it.
  await page.keyboard.press("w");
  await page.waitForSelector("#keyboard-2 .key.asked");
  await page.keyboard.press("Escape");
  await says(page, "status", "^Stopped");
  await dark();
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("storage that is forbidden is told once, and the page goes on", async () => {
  const { context, page } = await fresh({}, () => { Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); }; });
  await page.selectOption("#pattern", "fifths");
  await says(page, "status", "keeps nothing for the page");
  await page.keyboard.down("a");
  await page.waitForSelector('#keyboard [data-key="60"].right');
  assert.deepEqual(page.troubles, []);
  await context.close();
});

test("the page opens without a network once it was loaded", async () => {
  const { context, page } = await fresh({ serviceWorkers: "allow" });
  await page.waitForSelector("html[data-offline]", { timeout: 30_000 });
  await context.setOffline(true);
  await page.reload();
  await page.waitForSelector("html[data-ready]");
  await piano(page);
  await context.close();
});

test("every section is fit for those who see little or use keys alone, by day and by night", async () => {
  const axe = fs.readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");
  for (const colorScheme of ["light", "dark"]) {
    const { context, page } = await fresh({ colorScheme, bypassCSP: true });
    await page.evaluate(axe);
    for (const section of ["play", "practise", "make"]) {
      await page.click(`#to-${section}`);
      if (section !== "play") await page.waitForSelector(`#${section} .pages svg`);
      const { violations } = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
      assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), [], `${section}, ${colorScheme}`);
    }
    await context.close();
  }
});

test("Tab reaches every button, and Enter presses it", async () => {
  const { context, page } = await fresh();
  const reached = [];
  for (let n = 0; n < 40; n++) {
    await page.keyboard.press("Tab");
    reached.push(await page.evaluate(() => document.activeElement.id || document.activeElement.textContent));
  }
  for (const id of ["to-practise", "sound-on", "volume", "panic", "run", "tap", "tempo", "metre", "midi-ask", "pattern"]) assert.ok(reached.includes(id), `${id} among ${reached}`);
  await page.focus("#to-make");
  await page.keyboard.press("Enter");
  await page.waitForSelector("#make-pages svg");
  await context.close();
});

test("a phone, a tablet and a laptop show all of it without scrolling sideways", async () => {
  for (const [name, [width, height]] of Object.entries(SIZES)) {
    const { context, page } = await fresh({ viewport: { width, height } });
    for (const section of ["play", "practise", "make"]) {
      await page.click(`#to-${section}`);
      if (section !== "play") await page.waitForSelector(`#${section} .pages svg`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= width, `${section} on a ${name}: ${wide} of ${width} pixels`);
      if (process.env.PICTURES) await page.screenshot({ path: path.join(process.env.PICTURES, `${section}-${name}.png`), fullPage: true });
    }
    await context.close();
  }
});
