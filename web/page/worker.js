// The free world: charts, files, sheets and lessons, away from the page's own thread.
import { open } from "./wasm.js";

let opening;
self.onmessage = async ({ data }) => {
  if (data.code) {
    opening = open(data.code).then((desk) => Object.assign(desk, { at: desk.desk_new() }));
    return;
  }
  const { id, question, file } = data;
  try {
    const desk = await opening;
    const words = new TextEncoder().encode(JSON.stringify(question));
    const bytes = file ? new Uint8Array(file) : new Uint8Array(0);
    const [q, f] = [desk.give(words), desk.give(bytes)];
    desk.desk_ask(desk.at, q, words.length, f, bytes.length);
    desk.room_back(q, words.length);
    desk.room_back(f, bytes.length);
    const part = (n) => desk.take(desk.desk_answer(desk.at, n), desk.desk_answer_bytes(desk.at, n));
    const answer = JSON.parse(new TextDecoder().decode(part(0)));
    const out = part(1);
    self.postMessage({ id, answer, file: out }, [out.buffer]);
  } catch (error) {
    // The module has stopped (no memory is left): it is of no more use.
    self.postMessage({ id, answer: { faults: [{ what: `that was too much for this browser (${error.message})` }] }, broken: true });
  }
};
