// Keys on the screen (several fingers) and on the computer's keyboard.
const BLACK = [1, 3, 6, 8, 10];
const isBlack = (key) => BLACK.includes(key % 12);
// By the place of a key, not by its letter: the same on every layout.
const PLACES = ["KeyA", "KeyW", "KeyS", "KeyE", "KeyD", "KeyF", "KeyT", "KeyG", "KeyY", "KeyH", "KeyU", "KeyJ", "KeyK", "KeyO", "KeyL", "KeyP", "Semicolon", "Quote"];
const NAMES = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"];
const VELOCITY = 76;
const boards = [];
let play = () => {}, octave = 60;
// Keys that a learner is waited for to strike, and what each is to its chord.
let asked = new Map();
let seen;

export const nameOf = (key) => `${NAMES[key % 12]}${Math.floor(key / 12) - 1}`;

export function wire(onKey) {
  play = onKey;
  new ResizeObserver(layAll).observe(document.body);
  addEventListener("keydown", computer);
  addEventListener("keyup", computer);
  addEventListener("blur", release);
  document.addEventListener("visibilitychange", () => document.hidden && release());
}

export function board(element) {
  element.setAttribute("role", "img");
  element.setAttribute("aria-label", "Keyboard");
  const made = { element, keys: new Map(), fingers: new Map() };
  boards.push(made);
  const at = (event) => {
    const found = document.elementFromPoint(event.clientX, event.clientY)?.closest(".key");
    return found && element.contains(found) ? Number(found.dataset.key) : undefined;
  };
  const move = (event, key) => {
    const before = made.fingers.get(event.pointerId);
    if (before === key) return;
    if (before !== undefined) strike(before, 0, event.timeStamp);
    if (key === undefined) made.fingers.delete(event.pointerId);
    else {
      made.fingers.set(event.pointerId, key);
      strike(key, VELOCITY, event.timeStamp);
    }
  };
  element.addEventListener("pointerdown", (event) => { event.preventDefault(); element.setPointerCapture?.(event.pointerId); move(event, at(event)); });
  element.addEventListener("pointermove", (event) => made.fingers.has(event.pointerId) && move(event, at(event)));
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) element.addEventListener(end, (event) => move(event, undefined));
  element.addEventListener("contextmenu", (event) => event.preventDefault());
  lay(made);
}

// As many octaves as a finger can hit; the right hand's first.
function lay(made) {
  const width = made.element.clientWidth;
  if (width === 0) return;
  const octaves = Math.max(2, Math.min(7, Math.round(width / 30 / 7)));
  const usual = { 2: 48, 3: 48, 4: 36, 5: 36, 6: 24, 7: 24 }[octaves];
  // What is asked for is to be seen.
  const low = Math.min(usual, ...[...asked.keys()].map((key) => key - (key % 12)));
  const high = Math.max(low + octaves * 12, ...[...asked.keys()].map((key) => key - (key % 12) + 12));
  if (made.low === low && made.high === high) return;
  Object.assign(made, { low, high });
  made.element.replaceChildren();
  made.keys.clear();
  made.shown = undefined;
  const whites = ((high - low) / 12) * 7 + 1;
  let white = 0;
  for (let key = low; key <= high; key++) {
    const box = document.createElement("div");
    box.className = `key ${isBlack(key) ? "black" : "white"}`;
    box.dataset.key = key;
    const share = 100 / whites;
    // The look's own sheet allows no inline style attribute; the object model is not one.
    if (isBlack(key)) {
      box.style.left = `${white * share - share * 0.31}%`;
      box.style.width = `${share * 0.62}%`;
    } else {
      box.style.left = `${white * share}%`;
      box.style.width = `${share}%`;
      white += 1;
      if (key % 12 === 0) {
        const name = document.createElement("span");
        name.className = "name";
        name.textContent = nameOf(key);
        box.append(name);
      }
    }
    made.element.append(box);
    made.keys.set(key, box);
  }
}

const held = new Map();
function strike(key, velocity, stamp) {
  const count = (held.get(key) ?? 0) + (velocity > 0 ? 1 : -1);
  held.set(key, Math.max(0, count));
  if (velocity > 0 || count <= 0) play(velocity > 0 ? [0x90, key, velocity] : [0x80, key, 64], stamp);
}

const pressed = new Map();
const writing = (target) => target.closest?.("textarea, input:not([type=range]):not([type=checkbox]), select");
function computer(event) {
  const down = event.type === "keydown";
  if (!down && pressed.has(event.code)) {
    const key = pressed.get(event.code);
    pressed.delete(event.code);
    if (key === "pedal") play([0xb0, 64, 0], event.timeStamp);
    else strike(key, 0, event.timeStamp);
    return;
  }
  if (!down || event.repeat || event.ctrlKey || event.metaKey || event.altKey || writing(event.target)) return;
  if (document.querySelector("#play").hidden) return;
  const place = PLACES.indexOf(event.code);
  if (place >= 0) {
    event.preventDefault();
    pressed.set(event.code, octave + place);
    strike(octave + place, VELOCITY, event.timeStamp);
  } else if (event.code === "KeyZ" || event.code === "KeyX") {
    octave = Math.max(24, Math.min(84, octave + (event.code === "KeyZ" ? -12 : 12)));
  } else if (event.code === "Space" && !event.target.closest("button, summary, a, input")) {
    event.preventDefault();
    pressed.set("Space", "pedal");
    play([0xb0, 64, 127], event.timeStamp);
  }
}

// The page is left: nothing stays down.
export function release() {
  for (const [code, key] of pressed) {
    pressed.delete(code);
    if (key === "pedal") play([0xb0, 64, 0], performance.now());
  }
  for (const [key, count] of held) if (count > 0) play([0x80, key, 64], performance.now());
  held.clear();
  boards.forEach((made) => made.fingers.clear());
}

// Lights `[key, letter]` as asked for; none are none.
export function ask(keys) {
  asked = new Map(keys);
  layAll();
}

// Keys that were laid anew show at once what those before them showed.
function layAll() {
  boards.forEach(lay);
  if (seen) show(seen);
}

export function show(view) {
  seen = view;
  const { right, own, left } = view;
  const roles = new Map(left.map(([key, letter]) => [key, letter]));
  const [rights, owns] = [BigInt(`0x${right || 0}`), BigInt(`0x${own || 0}`)];
  for (const made of boards) {
    if (made.element.offsetParent === null) continue;
    for (const [key, box] of made.keys) {
      const letter = roles.get(key) ?? asked.get(key);
      const bit = 1n << BigInt(key);
      const look = asked.has(key) ? "asked" : letter ? "left" : rights & bit ? "right" : owns & bit ? "own" : "";
      if (made.shown?.get(key) === look + (letter ?? "")) continue;
      (made.shown ??= new Map()).set(key, look + (letter ?? ""));
      for (const name of ["left", "right", "own", "asked"]) box.classList.toggle(name, name === look);
      box.textContent = letter ?? (look === "right" ? "●" : key % 12 === 0 ? nameOf(key) : "");
    }
    const list = (keys) => keys.join(", ") || "nothing";
    const rightNames = [...made.keys.keys()].filter((key) => rights & (1n << BigInt(key))).map(nameOf);
    const asks = asked.size > 0 ? ` Asked for: ${list([...asked.keys()].map(nameOf))}.` : "";
    const said = `Keyboard.${asks} Right hand: ${list(rightNames)}. Left hand: ${list(left.map(([key, , role]) => `${nameOf(key)} ${role}`))}`;
    if (made.said !== said) made.element.setAttribute("aria-label", (made.said = said));
  }
}
