// Practise: hear it, together, alone, and what was late.
import { $, fileName, fill, keepChorus, pages, readFile, save, say, sentence } from "./dom.js";
import { chosen } from "./play.js";
import * as wait from "./wait.js";

let at, lesson, round, progress = "", visible = false, own;
const STAGES = { hear: "Listen.", together: "Play with it.", alone: "You alone." };

export function start(context) {
  at = context;
  const { catalogue, store } = context;
  fill($("lesson-chart"), [...catalogue.charts.map(({ slug, title }) => ({ value: slug, text: title })), { value: "*", text: "the one under Make" }]);
  fill($("lesson-pattern"), catalogue.patterns.map(({ slug, name }, n) => ({ value: slug, text: `${n + 1}  ${name}` })));
  fill($("lesson-key"), catalogue.keys.map((key) => ({ value: key, text: key })), 1);
  progress = store.get("progress", "");
  listProgress();
  for (const id of ["lesson-chart", "lesson-pattern", "lesson-key", "lesson-hands", "lesson-bars", "lesson-free"]) $(id).onchange = () => write();
  for (const stage of Object.keys(STAGES)) $(`go-${stage}`).onclick = () => go(stage);
  $("go-wait").onclick = waitForMe;
  $("go-stop").onclick = () => stop("Stopped: this round is not judged.");
  $("go-slower").onclick = () => tempo(-1);
  $("go-faster").onclick = () => tempo(1);
  $("go-next").onclick = nextLesson;
  $("go-keep").onclick = () => lesson && keepChorus(fileName(lesson.name), lesson);
  $("progress-out").onclick = () => save(progress || "{}", "sinistra-progress.json", "application/json");
  $("progress-in").onchange = bring;
  $("progress-forget").onclick = forget;
  addEventListener("struck", ({ detail }) => heard(detail));
  addEventListener("panic", () => (round || wait.waits()) && stop("Stopped: this round is not judged."));
  addEventListener("keydown", shortcut);
  document.addEventListener("visibilitychange", () => document.hidden && (round || wait.waits()) && stop("The page was left: this round is not judged."));
}

export function shown(now) {
  visible = now;
  if (now && !lesson) write();
}

// A lesson from a link.
export function take(from) {
  own = from;
  $("lesson-chart").value = "*";
  if (at.catalogue.patterns.some(({ slug }) => slug === from.pattern)) $("lesson-pattern").value = from.pattern;
  $("lesson-key").value = at.catalogue.keys.includes(from.key) ? from.key : "";
  lesson = undefined;
}

const chartText = () => {
  const slug = $("lesson-chart").value;
  return slug === "*" ? $("chart-text").value : at.catalogue.charts.find((chart) => chart.slug === slug).text;
};

const state = (words) => { $("lesson-state").textContent = words; };

async function write() {
  stop();
  const written = $("lesson-bars").value.trim();
  const bars = written && written.match(/^(\d+)\s*[-–]\s*(\d+)$/);
  if (written && !bars) return say("Bars are written such as 5-8.", true);
  const question = {
    chart: chartText(), pattern: $("lesson-pattern").value, key: $("lesson-key").value,
    hands: $("lesson-hands").value, free: $("lesson-free").checked, settings: own?.settings ?? chosen(),
    tempo: $("lesson-chart").value === "*" ? own?.tempo ?? 0 : 0,
  };
  const link = await at.link.write({ chart: question.chart, pattern: question.pattern, key: question.key, tempo: question.tempo, settings: question.settings });
  const { ok, faults } = await at.desk.ask({ ask: "lesson", ...question, bars: bars ? [Number(bars[1]), Number(bars[2])] : null, progress, link });
  if (faults) {
    lesson = undefined;
    $("lesson-about").textContent = "";
    return say(sentence(faults), true);
  }
  lesson = ok;
  $("verdict").replaceChildren();
  $("lesson-about").textContent = ok.about;
  $("go-next").disabled = !ok.next;
  pages($("lesson-pages"), ok.pages);
  standing();
}

function standing() {
  const { tempo, goal, rounds, clean_rounds } = lesson;
  state(`Tempo ${Math.round(tempo)} of ${Math.round(goal)}; ${clean_rounds} of ${rounds} rounds clean.`);
}

async function go(stage) {
  if (!lesson) await write();
  if (!lesson) return;
  stop();
  await at.soundOn();
  const { ok, faults } = await at.desk.ask({ ask: "round", stage });
  if (faults) return say(sentence(faults), true);
  const begun = await at.sound.cues(ok.cues);
  round = { stage, begun, end_ms: ok.end_ms, strokes: [], open: new Map() };
  round.timer = setTimeout(ended, ok.end_ms + 250);
  $("go-stop").disabled = false;
  state(`${STAGES[stage]} Tempo ${Math.round(ok.tempo)}.`);
}

// Note by note: time stands until what is lit has been struck.
async function waitForMe() {
  if (!lesson) await write();
  if (!lesson) return;
  stop();
  await at.soundOn();
  $("go-stop").disabled = false;
  await wait.begin(at, state, (words) => {
    stop();
    propose("together", words);
  });
}

// Milliseconds into the round, as the player heard it.
const msAt = (stamp) => (at.sound.heardAt(stamp) - round.begun) * 1000;

function heard({ bytes: [status, key, velocity], stamp }) {
  const kind = status & 0xf0;
  if (wait.waits() && kind === 0x90 && velocity > 0) return wait.struck(key);
  if (!round) return;
  if (kind === 0x90 && velocity > 0) {
    const stroke = [msAt(stamp), msAt(stamp), key, velocity];
    round.open.set(key, stroke);
    round.strokes.push(stroke);
  } else if (kind === 0x80 || kind === 0x90) {
    const stroke = round.open.get(key);
    if (stroke) stroke[1] = msAt(stamp);
    round.open.delete(key);
  }
}

function stop(why) {
  if (round) {
    clearTimeout(round.timer);
    round = undefined;
    at.sound.cuesEnd();
    if (why) say(why);
    if (lesson) standing();
  }
  if (wait.waits()) {
    wait.end();
    if (why) say(why);
    if (lesson) standing();
  }
  $("go-stop").disabled = true;
}

async function ended() {
  const { stage, strokes } = round;
  stop();
  if (stage === "hear") return propose("together", "Now play it together (T).");
  const { ok, faults } = await at.desk.ask({ ask: "tell", strokes, progress, now: Math.floor(Date.now() / 1000) });
  if (faults) return say(sentence(faults), true);
  progress = ok.progress;
  at.store.set("progress", progress);
  listProgress();
  Object.assign(lesson, { tempo: ok.tempo, rounds: ok.rounds, clean_rounds: ok.clean_rounds });
  verdict(ok);
  standing();
  const climbed = { up: `Up to ${Math.round(ok.tempo)}.`, down: `Down to ${Math.round(ok.tempo)}, and together again.`, there: "Clean at the goal.", stay: "" }[ok.climb];
  if (ok.next) propose(ok.next, climbed);
  else say(lesson.next ? `${climbed} Next (N): ${lesson.next.name}. ${lesson.next.about}` : `${climbed} That was the last step.`);
}

function propose(stage, words) {
  for (const name of Object.keys(STAGES)) $(`go-${name}`).classList.toggle("first", name === stage);
  say(words);
}

function verdict({ heard: any, clean, words }) {
  const box = $("verdict");
  box.replaceChildren();
  const line = (tag, text, look = "") => {
    const element = document.createElement(tag);
    element.textContent = text;
    element.className = look;
    box.append(element);
    return element;
  };
  if (!any) return line("p", "Nothing of it was heard.");
  line("p", words.summary, clean ? "clean" : "");
  for (const habit of words.habits) line("p", habit);
  if (words.places.length > 0) {
    const list = line("ul", "");
    for (const place of words.places) {
      const item = document.createElement("li");
      item.textContent = place;
      list.append(item);
    }
  }
  for (const advice of words.advice) line("p", advice);
}

async function tempo(by) {
  const { ok } = await at.desk.ask({ ask: "tempo", tempo: by });
  if (!ok || !lesson) return;
  lesson.tempo = ok.tempo;
  standing();
}

function nextLesson() {
  if (!lesson?.next) return;
  $("lesson-pattern").value = lesson.next.slug;
  write();
}

const KEYS = { KeyH: "go-hear", KeyW: "go-wait", KeyT: "go-together", KeyL: "go-alone", KeyN: "go-next", KeyK: "go-keep", Minus: "go-slower", NumpadSubtract: "go-slower", Equal: "go-faster", NumpadAdd: "go-faster" };
function shortcut(event) {
  if (!visible || event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select")) return;
  const button = KEYS[event.code];
  if (button && !$(button).disabled) {
    event.preventDefault();
    $(button).click();
  }
}

function listProgress() {
  const list = $("progress-list");
  list.replaceChildren();
  let exercises = {};
  try { exercises = JSON.parse(progress || "{}").exercises ?? {}; } catch { progress = ""; }
  for (const [name, { clean, rounds, cleanest, tempo: now }] of Object.entries(exercises)) {
    const item = document.createElement("li");
    item.textContent = `${name}: ${clean} of ${rounds} rounds clean, best ${Math.round(cleanest)}, now at ${Math.round(now)}`;
    list.append(item);
  }
  if (list.childElementCount === 0) {
    const item = document.createElement("li");
    item.textContent = "Nothing yet.";
    list.append(item);
  }
}

async function bring() {
  const [file] = $("progress-in").files;
  if (!file) return;
  try {
    const text = new TextDecoder().decode(await readFile(file, 5e6));
    const { faults } = await at.desk.ask({ ask: "lesson", chart: chartText(), pattern: $("lesson-pattern").value, progress: text });
    if (faults) throw new Error(`${file.name}: ${sentence(faults)}`);
    progress = text;
    at.store.set("progress", progress);
    listProgress();
    await write();
    say(`Brought ${file.name}.`);
  } catch (error) {
    say(error.message, true);
  }
  $("progress-in").value = "";
}

function forget() {
  if (!confirm("Forget all progress that this browser keeps?")) return;
  progress = "";
  at.store.set("progress", "");
  listProgress();
  write();
}

export function view() {}
