// A chart and its settings in the part of a link that no server sees.
const HEAD = "#chart=";
// A link longer than this is no lesson's, and fits no QR code.
const MOST = 8000;

const through = async (bytes, stream) =>
  new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer());

export async function write(lesson) {
  const packed = await through(new TextEncoder().encode(JSON.stringify(lesson)), new CompressionStream("deflate-raw"));
  const text = btoa(String.fromCharCode(...packed)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  return location.href.split("#")[0] + HEAD + text;
}

// The lesson of a fragment; `null` where it is none, or came torn.
export async function read(fragment) {
  if (!fragment.startsWith(HEAD) || fragment.length > MOST) return null;
  try {
    const text = atob(fragment.slice(HEAD.length).replaceAll("-", "+").replaceAll("_", "/"));
    const bytes = await bounded(Uint8Array.from(text, (letter) => letter.charCodeAt(0)));
    const { chart, pattern, key, tempo, settings } = JSON.parse(new TextDecoder().decode(bytes));
    if (typeof chart !== "string") return null;
    const numbers = Object.entries(settings ?? {}).filter(([, value]) => Number.isInteger(value));
    return { chart, pattern: String(pattern ?? ""), key: String(key ?? ""), tempo: Number(tempo) || 0, settings: Object.fromEntries(numbers) };
  } catch {
    return null;
  }
}

// What a few kilobytes unpack to is read no further than a chart can be long.
async function bounded(bytes) {
  const reader = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw")).getReader();
  const parts = [];
  let length = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    length += value.length;
    if (length > 100_000) throw new Error("too long");
    parts.push(value);
  }
  return new Uint8Array(await new Blob(parts).arrayBuffer());
}
