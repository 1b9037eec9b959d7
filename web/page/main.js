// Starts the page: the code, the desk, the sections.
import * as desk from "./desk.js";
import * as sound from "./sound.js";
import * as store from "./store.js";
import * as link from "./link.js";
import * as play from "./play.js";
import * as practise from "./practise.js";
import * as make from "./make.js";
import { $, say } from "./dom.js";

const SECTIONS = ["play", "practise", "make"];

function show(name) {
  for (const section of SECTIONS) {
    $(section).hidden = section !== name;
    $(section).classList.toggle("printed", section === name);
    const tab = $(`to-${section}`);
    if (section === name) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  dispatchEvent(new Event("resize"));
  practise.shown(name === "practise");
  make.shown(name === "make");
}

async function route() {
  const lesson = await link.read(location.hash);
  if (lesson) {
    make.take(lesson);
    practise.take(lesson);
    show("make");
    say("A lesson came with the link: hear it, print it, or practise it.");
    return;
  }
  if (location.hash.startsWith("#chart=")) say("The link did not arrive whole: ask for it again.", true);
  const name = location.hash.slice(1);
  show(SECTIONS.includes(name) ? name : "play");
}

// Sound begins in a gesture; the first one that plays something is one.
async function soundOn() {
  const button = $("sound-on");
  if (await sound.on()) {
    button.textContent = "Sound is on";
    button.classList.remove("first");
    button.setAttribute("aria-pressed", "true");
  }
}

async function start() {
  store.wire((why) => say(why, true));
  performance.mark("start");
  const response = await fetch("sinistra.wasm");
  if (!response.ok) throw new Error(`sinistra.wasm: ${response.status}`);
  const code = await response.arrayBuffer();
  desk.start(code);
  const { ok: catalogue } = await desk.ask({ ask: "catalogue" });
  const context = { catalogue, desk, sound, store, link, soundOn };
  await sound.prepare(code, catalogue.recordings, (view) => { play.view(view); practise.view(view); make.view(view); }, play.sent);
  await play.start(context);
  practise.start(context);
  make.start(context);

  $("sound-on").onclick = async () => {
    if (sound.state.running) {
      await sound.off();
      $("sound-on").textContent = "Sound on";
      $("sound-on").removeAttribute("aria-pressed");
      $("sound-on").classList.add("first");
    } else await soundOn();
  };
  const volume = $("volume");
  // It begins low on every visit, whatever it was: another room, other headphones.
  const louder = () => sound.call("live_volume", (volume.value / 100) ** 2 * 1.5 > 1 ? 1 : (volume.value / 100) ** 2 * 1.5);
  volume.oninput = louder;
  louder();
  $("panic").onclick = play.panic;
  addEventListener("keydown", (event) => event.code === "Escape" && play.panic());
  addEventListener("hashchange", route);
  await route();
  performance.mark("ready");
  document.documentElement.dataset.ready = "yes";
  if (!$("status").textContent) say("Ready. Turn the volume down before the first sound.");
  if ("serviceWorker" in navigator) {
    try {
      await navigator.serviceWorker.register("sw.js");
      await navigator.serviceWorker.ready;
      document.documentElement.dataset.offline = "yes";
    } catch {
      // Without it the page works as long as there is a network.
    }
  }
}

start().catch((error) => say(`The page could not start: ${error.message}. Load it again; a browser from 2023 or later is needed.`, true));
