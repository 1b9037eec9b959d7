// Make: a chart to hear, to see, to print and to take along.
import { $, MUSICXML, faults, fileName, fill, keepChorus, pages, readFile, save, say, sentence } from "./dom.js";
import { chosen } from "./play.js";

let at, made, hands, timer, ending, visible = false, asked = 0;
const MIDI_MOST = 20e6, CHART_MOST = 2e6;

export function start(context) {
  at = context;
  const { catalogue, store } = context;
  fill($("make-chart"), catalogue.charts.map(({ slug, title }) => ({ value: slug, text: title })));
  fill($("make-pattern"), catalogue.patterns.map(({ slug, name }, n) => ({ value: slug, text: `${n + 1}  ${name}` })));
  fill($("make-key"), catalogue.keys.map((key) => ({ value: key, text: key })), 1);
  $("make-pattern").value = store.get("make pattern", catalogue.usual);
  $("chart-text").value = store.get("chart", catalogue.charts[0].text);
  $("make-chart").onchange = () => write(catalogue.charts.find(({ slug }) => slug === $("make-chart").value).text);
  $("chart-text").oninput = () => { store.set("chart", $("chart-text").value); later(); };
  for (const id of ["make-pattern", "make-key", "make-tempo", "make-why"]) $(id).onchange = () => { store.set("make pattern", $("make-pattern").value); later(0); };
  $("chart-file").onchange = chartFile;
  $("make-hear").onclick = hear;
  $("make-print").onclick = async () => { if (await ready()) print(); };
  $("make-midi").onclick = async () => { if (await ready()) save(made.file, `${title()}.mid`, "audio/midi"); };
  $("make-xml").onclick = async () => { if (await ready()) save(made.ok.musicxml, `${title()}.musicxml`, MUSICXML); };
  $("make-keep").onclick = async () => { if (await ready()) keepChorus(title(), made.ok); };
  $("make-keys").onclick = everyKey;
  $("make-link").onclick = copyLink;
  $("midi-file").onchange = midiFile;
  $("two-hear").onclick = () => sounds(hands.ok);
  $("two-save").onclick = () => save(hands.file, `${fileName(hands.name)} with a left hand.mid`, "audio/midi");
  $("two-chart").onclick = () => write(hands.ok.chart);
  addEventListener("panic", stopped);
}

export function shown(now) {
  visible = now;
  if (now && !made) later(0);
}

// A lesson from a link.
export function take({ chart, pattern, key, tempo }) {
  if (at.catalogue.patterns.some(({ slug }) => slug === pattern)) $("make-pattern").value = pattern;
  $("make-key").value = at.catalogue.keys.includes(key) ? key : "";
  $("make-tempo").value = tempo || "";
  write(chart);
}

function write(text) {
  $("chart-text").value = text;
  at.store.set("chart", text);
  later(0);
}

function later(ms = 350) {
  made = undefined;
  clearTimeout(timer);
  timer = setTimeout(perform, ms);
}

export const lesson = () => ({
  chart: $("chart-text").value,
  pattern: $("make-pattern").value,
  key: $("make-key").value,
  tempo: Number($("make-tempo").value) || 0,
  settings: chosen(),
});

async function perform() {
  clearTimeout(timer);
  const mine = ++asked;
  const now = lesson();
  const link = await at.link.write(now);
  const answer = await at.desk.ask({ ask: "perform", ...now, why: why(), link });
  if (mine !== asked) return; // something newer was asked for meanwhile
  faults($("chart-faults"), answer.faults, now.chart);
  $("chart-text").setAttribute("aria-invalid", String(Boolean(answer.faults)));
  if (answer.faults) return;
  made = { ...answer, link };
  if (answer.ok.fitted) say(answer.ok.fitted);
  pages($("make-pages"), answer.ok.pages);
}

async function ready() {
  if (!made) await perform();
  if (!made) say("The chart has faults: they are shown under it.", true);
  return Boolean(made);
}

const why = () => $("make-why").checked;
const title = () => fileName(made.ok.about.title);

async function hear() {
  if (ending) return stop();
  if (await ready()) sounds(made.ok);
}

async function sounds({ cues, end_ms }) {
  await at.soundOn();
  await at.sound.cues(cues);
  $("make-hear").textContent = "Stop";
  ending = setTimeout(stop, end_ms + 2500);
}

function stop() {
  at.sound.cuesEnd();
  stopped();
}

function stopped() {
  clearTimeout(ending);
  ending = undefined;
  $("make-hear").textContent = "Hear it";
}

export function view({ cued }) {
  if (ending && visible && cued !== undefined && made) {
    const now = made.ok.chord_ms.findLastIndex((ms) => ms <= cued * 1000 + 1);
    const chord = made.ok.about.chords[now];
    if (chord && $("make-hear").textContent !== `Stop (${chord})`) $("make-hear").textContent = `Stop (${chord})`;
  }
}

// All twelve keys around the circle of fifths, as one print and as MIDI files.
async function everyKey() {
  if (!(await ready())) return;
  const first = made.ok.about.key;
  const minor = first.endsWith("m");
  const circle = ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"];
  const minors = ["A", "E", "B", "F#", "C#", "G#", "Eb", "Bb", "F", "C", "G", "D"].map((key) => `${key}m`);
  const keys = minor ? minors : circle;
  const begin = Math.max(0, keys.indexOf(first.replace("♭", "b").replace("♯", "#")));
  const all = [];
  for (let n = 0; n < 12; n++) {
    const key = keys[(begin + n) % 12];
    say(`Writing ${key}: ${n + 1} of 12.`);
    const { ok, faults: found } = await at.desk.ask({ ask: "perform", ...lesson(), why: why(), key });
    if (found) return say(sentence(found), true);
    all.push(...ok.pages);
  }
  pages($("make-pages"), all);
  say(`${title()} in twelve keys: ${all.length} pages below, ready to print.`);
}

async function copyLink() {
  if (!(await ready())) return;
  try {
    await navigator.clipboard.writeText(made.link);
    say("The link is copied: whoever opens it has the chart and its settings.");
  } catch {
    history.replaceState(null, "", made.link);
    say("The link is in the address bar: copy it from there.");
  }
}

async function chartFile() {
  const [file] = $("chart-file").files;
  if (!file) return;
  try {
    const { ok, faults: found } = await at.desk.ask({ ask: "load", name: file.name }, await readFile(file, CHART_MOST));
    if (found) throw new Error(`${file.name}: ${sentence(found)}`);
    write(ok.text);
    say(`Read ${file.name}.`);
  } catch (error) {
    say(error.message, true);
  }
  $("chart-file").value = "";
}

async function midiFile() {
  const [file] = $("midi-file").files;
  if (!file) return;
  $("two-hands").hidden = true;
  try {
    const bytes = await readFile(file, MIDI_MOST);
    say(`Listening to ${file.name}…`);
    const name = file.name.replace(/\.midi?$/i, "");
    const question = { ask: "harmonise", name, pattern: $("make-pattern").value, settings: chosen(), right_only: $("right-only").checked };
    if ($("with-chart").checked) question.chart = $("chart-text").value;
    const answer = await at.desk.ask(question, bytes);
    if (answer.faults) throw new Error(`${file.name}: ${sentence(answer.faults)}`);
    hands = { ...answer, name };
    $("two-hands").hidden = false;
    $("two-chart").hidden = !answer.ok.chart;
    const none = "No notes for the left hand: it rests while the file's own plays below the split, unless that is left out.";
    say(answer.ok.left_notes > 0 ? `${answer.ok.left_notes} notes for the left hand.` : none);
  } catch (error) {
    say(error.message, true);
  }
  $("midi-file").value = "";
}
