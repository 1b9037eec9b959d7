// The module, and bytes in and out of its memory.
export async function open(code) {
  const { instance } = await WebAssembly.instantiate(code, {});
  return dress(instance);
}

export function dress(instance) {
  const wasm = instance.exports;
  return {
    ...wasm,
    give(bytes) {
      const at = wasm.room(bytes.length);
      new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
      return at;
    },
    take: (at, bytes) => new Uint8Array(wasm.memory.buffer, at, bytes).slice(),
  };
}
