// Play: the left hand, live.
import * as keys from "./keys.js";
import * as midi from "./midi.js";
import { $, faults, fill, keepChorus, save, say } from "./dom.js";

let at, values = {}, taps = [], last = {};

const EXAMPLE = `name = "My own"
about = "Root, then the fifth."

[[bar]]
metre = "4/4"
count = "1    &    2     &    3    &    4     &"
play  = "root -    fifth -    root -    fifth lead/root"
`;

export async function start(context) {
  at = context;
  const { catalogue, sound, store } = context;
  keys.wire(struck);
  keys.board($("keyboard"));
  keys.board($("keyboard-2"));
  midi.wire(heard, ports);
  patterns(catalogue);
  settings(catalogue);
  fill($("play-chart"), [...catalogue.charts.map(({ slug, title }) => ({ value: slug, text: title })), { value: "*", text: "the one under Make" }], 1);
  $("play-chart").onchange = chart;
  $("run").onclick = () => { at.soundOn(); sound.call("live_play", last.playing ? 0 : 1); };
  $("tempo").oninput = () => set("tempo", Number($("tempo").value));
  $("tap").onclick = tap;
  $("play-keep").onclick = keepTake;
  $("metre").onchange = () => sound.call("live_metre", ...$("metre").value.split("/").map(Number));
  $("by-hand").onchange = () => sound.call("live_start_by_hand", Number($("by-hand").checked));
  $("click").onchange = () => sound.call("live_metronome", Number($("click").checked));
  $("clock-in").onchange = () => sound.call("live_clock_in", Number($("clock-in").checked));
  $("midi-ask").onclick = look;
  $("midi-in").onchange = $("midi-out").onchange = () => midi.choose($("midi-in").value, $("midi-out").value);
  if (!midi.has()) await look();
  // Where it was allowed before, keyboards are there at once.
  else if ((await navigator.permissions?.query({ name: "midi" }).catch(() => null))?.state === "granted") await look();
  for (const [id, value] of Object.entries(store.get("settings", {}))) set(id, value, false);
}

async function look() {
  const why = await midi.look();
  $("midi-state").textContent = why ?? $("midi-state").textContent;
  if (why) $("midi-ask").disabled = !midi.has();
}

function ports({ from, to }) {
  for (const [select, list] of [[$("midi-in"), from], [$("midi-out"), to]]) {
    const before = select.value;
    fill(select, list.map(({ id, name }) => ({ value: id, text: name })), 1);
    select.value = list.some(({ id }) => id === before) ? before : "";
  }
  midi.choose($("midi-in").value, $("midi-out").value);
  const names = from.map(({ name }) => name).join(", ");
  $("midi-state").textContent = names ? `Hears ${names}.` : "No MIDI keyboard is plugged in; it is heard when it is.";
}

// From a MIDI port.
function heard(bytes, stamp) {
  if (bytes[0] > 0xf0) return at.sound.midi(bytes);
  struck(bytes, stamp);
}

// From the screen, the computer's keyboard or a port.
function struck(bytes, stamp) {
  if (!at.sound.state.running) at.soundOn();
  at.sound.midi(bytes);
  if (midi.sends() && values.thru !== 0) midi.send(bytes);
  dispatchEvent(new CustomEvent("struck", { detail: { bytes, stamp } }));
}

// The left hand's, on its way out.
export const sent = (bytes) => midi.send(bytes);

export function panic() {
  keys.release();
  at.sound.call("live_panic");
  for (let channel = 0; channel < 16; channel++) for (const controller of [64, 120, 123]) midi.send([0xb0 | channel, controller, 0]);
  dispatchEvent(new Event("panic"));
}

async function keepTake() {
  const { ok, faults: found, file } = await at.desk.ask({ ask: "take", name: "Take", settings: values }, await at.sound.log());
  if (!ok) return say(found[0].what);
  save(file, "Take.mid", "audio/midi");
  if (ok.musicxml) return keepChorus("Take", ok);
  say("Kept: both hands as a MIDI file. No left hand to chords was heard in it.");
}

function tap() {
  const now = performance.now();
  if (now - taps.at(-1) > 2000) taps = [];
  taps = [...taps.slice(-4), now];
  const gaps = taps.slice(1).map((time, n) => time - taps[n]).sort((a, b) => a - b);
  if (gaps.length === 0) return;
  const middle = (gaps[(gaps.length - 1) >> 1] + gaps[gaps.length >> 1]) / 2;
  set("tempo", Math.round(60000 / middle));
}

const control = (id) => at.catalogue.controls.find((control) => control.id === id);

function set(id, value, keep = true) {
  const spec = control(id);
  if (!spec || !Number.isFinite(value)) return;
  const inside = Math.max(spec.min, Math.min(spec.max, Math.round(value)));
  values[id] = inside;
  at.sound.call("live_set", spec.index, inside);
  if (id === "tempo" && document.activeElement !== $("tempo")) $("tempo").value = inside;
  const row = $(`set-${id}`);
  if (row) shown(spec, row, inside);
  if (keep) at.store.set("settings", values);
}

// The settings that differ from the first ones: what a link carries.
export const chosen = () => Object.fromEntries(Object.entries(values).filter(([id, value]) => value !== control(id)?.default && id !== "tempo"));

function shown(spec, input, value) {
  if (spec.switch) input.checked = value === 1;
  else input.value = value;
  const said = spec.names[value - spec.min] ?? `${value} ${spec.unit}`.trim();
  const out = $(`value-${spec.id}`);
  if (out) out.textContent = said;
  input.setAttribute("aria-valuetext", said);
}

function settings({ controls }) {
  const groups = new Map();
  for (const spec of controls.filter(({ offered, id }) => offered && id !== "tempo")) {
    if (!groups.has(spec.group)) {
      const set = document.createElement("fieldset");
      set.className = "group";
      const legend = document.createElement("legend");
      legend.textContent = spec.group;
      set.append(legend);
      groups.set(spec.group, set);
      $("settings").append(set);
    }
    groups.get(spec.group).append(row(spec));
  }
  $("settings-back").onclick = () => controls.forEach(({ id, offered, default: first }) => offered && set(id, first));
}

function row(spec) {
  const line = document.createElement("div");
  line.className = "setting";
  const label = document.createElement("label");
  label.textContent = spec.name;
  label.htmlFor = `set-${spec.id}`;
  let input;
  if (spec.choices.length > 0) {
    input = document.createElement("select");
    fill(input, spec.choices.map((text, n) => ({ value: n + spec.min, text })));
  } else {
    input = document.createElement("input");
    input.type = spec.switch ? "checkbox" : "range";
    Object.assign(input, { min: spec.min, max: spec.max });
  }
  input.id = `set-${spec.id}`;
  const help = document.createElement("p");
  help.className = "small";
  help.id = `help-${spec.id}`;
  help.textContent = spec.help;
  input.setAttribute("aria-describedby", help.id);
  const field = document.createElement("div");
  field.append(input);
  if (input.type === "range") {
    const value = document.createElement("output");
    value.id = `value-${spec.id}`;
    value.className = "value small";
    value.htmlFor = input.id;
    field.append(" ", value);
  }
  input.oninput = () => set(spec.id, spec.switch ? Number(input.checked) : Number(input.value));
  line.append(label, field, help);
  queueMicrotask(() => shown(spec, input, values[spec.id] ?? spec.default));
  return line;
}

function patterns({ patterns: list, usual }) {
  const select = $("pattern");
  fill(select, [...list.map(({ slug, name }, n) => ({ value: slug, text: `${n + 1}  ${name}` })), { value: "*", text: "My own pattern" }]);
  const kept = at.store.get("pattern", usual);
  select.value = list.some(({ slug }) => slug === kept) || kept === "*" ? kept : usual;
  const text = $("pattern-text");
  text.value = at.store.get("own pattern", EXAMPLE);
  const change = async () => {
    const own = select.value === "*";
    $("own-pattern").hidden = !own;
    $("pattern-about").textContent = list.find(({ slug }) => slug === select.value)?.about ?? "Yours, as text: counts, and under them what is played.";
    const value = own ? text.value : select.value;
    const { faults: found } = await at.desk.ask({ ask: "pattern", pattern: value });
    if (faults($("pattern-faults"), found, value)) return;
    at.sound.text("live_pattern", value);
    at.store.set("pattern", select.value);
    if (own) at.store.set("own pattern", text.value);
    const { ok } = charted() ? await at.desk.ask({ ask: "check", chart: charted(), pattern: value }) : {};
    if (ok?.fitted) say(ok.fitted);
  };
  select.onchange = text.oninput = change;
  change();
}

// The chart that is played from; empty by ear.
function charted() {
  const slug = $("play-chart").value;
  return slug === "*" ? $("chart-text").value : at.catalogue.charts.find((chart) => chart.slug === slug)?.text ?? "";
}

async function chart() {
  const text = charted();
  const pattern = $("pattern").value === "*" ? $("pattern-text").value : $("pattern").value;
  let about;
  if (text) {
    const { ok, faults: found } = await at.desk.ask({ ask: "check", chart: text, pattern });
    if (found) return say(`The chart has faults: they are shown under Make. ${found[0].what}`, true);
    about = ok;
  }
  at.sound.text("live_chart", text);
  at.sound.call("live_forget");
  if (about?.tempo) set("tempo", about.tempo);
  say(about ? `The left hand knows ${about.title}: ${about.bars} bars in ${about.key}.${about.fitted ? ` ${about.fitted}` : ""}` : "By ear.");
}

const text = (id, words) => { if ($(id).textContent !== words) $(id).textContent = words; };

export function view(now) {
  last = now;
  if (now.right === undefined || $("play").hidden && $("practise").hidden) return;
  keys.show(now);
  text("chord", now.chord ?? "none");
  text("sure", now.chord ? now.sure : "");
  text("next", now.next ? now.next.chord : "not known yet");
  text("why", now.next ? `${now.next.sure} (${now.next.percent} %)${now.next.or}, ${now.next.source}` : "");
  text("where", now.playing ? `Bar ${now.bar}, ${now.beats}/${now.unit}, ${Math.round(now.tempo)} quarters a minute, ${now.key}` : `Stopped. ${now.key}`);
  text("run", now.playing ? "Stop" : "Start");
  $("run").setAttribute("aria-pressed", String(now.playing));
  if (now.playing && document.activeElement !== $("tempo")) $("tempo").value = Math.round(now.tempo);
  count(now);
}

// The bar in eighths (or its own unit), what is played on each, and where we are.
function count({ playing, beats, unit, beat, slots }) {
  const parts = unit === 8 ? beats : beats * 2;
  const strip = $("count");
  while (strip.childElementCount < parts) {
    const place = document.createElement("span");
    place.append(document.createElement("b"), document.createElement("i"));
    strip.append(place);
  }
  while (strip.childElementCount > parts) strip.lastChild.remove();
  const letters = Array(parts).fill("");
  for (const [offset, letter] of slots) letters[Math.round(offset * 2) % parts] ||= letter;
  const here = playing ? Math.floor(beat * 2 + 0.001) : -1;
  [...strip.children].forEach((place, n) => {
    const [letter, name] = place.children;
    if (letter.textContent !== letters[n]) letter.textContent = letters[n];
    const said = unit === 8 ? `${n + 1}` : n % 2 ? "&" : `${n / 2 + 1}`;
    if (name.textContent !== said) name.textContent = said;
    place.classList.toggle("here", n === here);
  });
}
