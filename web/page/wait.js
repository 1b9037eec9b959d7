// Wait for me: time stands until what is lit has been struck.
import { $, pages, say, sentence } from "./dom.js";
import * as keys from "./keys.js";

// The other hand plays on a channel of its own, so that the learner's keys are theirs.
const BESIDE = 1;
// The last is heard before it ends, ms.
const LAST = 1200;

let at, state, done, turn = 0, rings = new Set(), asking = Promise.resolve();

export const waits = () => done !== undefined;

// `show` tells what to strike; `over` is told what is to be said at the end.
export async function begin(context, show, over) {
  [at, state] = [context, show];
  const mine = ++turn;
  const { ok, faults } = await at.desk.ask({ ask: "wait" });
  if (faults) return say(sentence(faults), true);
  if (mine !== turn) return;
  done = over;
  // No left hand of its own meanwhile: what sounds is the learner and the hand beside.
  await at.sound.cues([]);
  look(ok);
}

// A key of the learner's. One answer after the other, in the order of the keys.
export function struck(key) {
  const mine = turn;
  asking = asking.then(async () => {
    if (mine !== turn || !done) return;
    const { ok } = await at.desk.ask({ ask: "strike", struck: key });
    if (!ok || mine !== turn || !done) return;
    for (const key of ok.beside.ended) ring(key, 0);
    for (const [key, velocity] of ok.beside.begun) ring(key, velocity);
    look(ok);
  });
}

function ring(key, velocity) {
  at.sound.midi([(velocity > 0 ? 0x90 : 0x80) | BESIDE, key, velocity || 64]);
  if (velocity > 0) rings.add(key);
  else rings.delete(key);
}

function look({ asked, words, done: steps, all, over, staff }) {
  keys.ask(asked);
  $("wait-staff").hidden = !staff;
  if (staff) pages($("wait-staff"), [staff], () => `These two bars. ${words}`);
  if (over === null) return state(`${words}. ${steps} of ${all}.`);
  const mine = turn;
  state(over);
  setTimeout(() => mine === turn && done?.(over), LAST);
}

export function end() {
  turn += 1;
  done = undefined;
  for (const key of [...rings]) ring(key, 0);
  at.sound.cuesEnd();
  keys.ask([]);
  $("wait-staff").hidden = true;
  $("wait-staff").replaceChildren();
}
