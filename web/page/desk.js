// Asks the worker; a question, an answer.
const waiting = new Map();
let worker, code, next = 1;

function hire() {
  worker = new Worker("worker.js", { type: "module" });
  worker.onmessage = ({ data }) => {
    const answered = waiting.get(data.id);
    waiting.delete(data.id);
    if (data.broken) {
      // A module that has stopped stays so: another takes its place.
      worker.terminate();
      hire();
    }
    answered?.({ ...data.answer, file: data.file });
  };
  worker.postMessage({ code });
}

export function start(bytes) {
  code = bytes;
  hire();
}

// `{ ok }` or `{ faults }`, and `file` where there is one.
export function ask(question, file) {
  return new Promise((answered) => {
    const id = next++;
    waiting.set(id, answered);
    worker.postMessage({ id, question, file }, file ? [file] : []);
  });
}

// Recordings are decoded by a worker of their own, which goes when they are done.
export function decoder() {
  const own = new Worker("worker.js", { type: "module" });
  own.postMessage({ code });
  return {
    decode: (recording, file) => new Promise((answered) => {
      own.onmessage = ({ data }) => answered({ ...data.answer, file: data.file });
      own.postMessage({ id: 0, question: { ask: "decode", recording }, file }, [file]);
    }),
    done: () => own.terminate(),
  };
}
