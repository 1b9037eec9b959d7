// Small things that every section needs.
export const $ = (id) => document.getElementById(id);

const status = $("status");
export function say(words, fault = false) {
  status.textContent = words;
  status.classList.toggle("fault", fault);
}

export function fill(select, list, keep = 0) {
  while (select.options.length > keep) select.options[keep].remove();
  for (const { value, text } of list) select.append(new Option(text, value));
}

// Every fault with its line and a caret; `text` is what was read.
export function faults(list, found, text = "") {
  list.replaceChildren();
  const lines = text.split("\n");
  for (const { what, hint, line, column, width } of found ?? []) {
    const item = document.createElement("li");
    item.append(line ? `Line ${line}, column ${column}: ${what}` : what);
    if (line && lines[line - 1] !== undefined) {
      const code = document.createElement("code");
      code.textContent = `${lines[line - 1]}\n${" ".repeat(column - 1)}${"^".repeat(width || 1)}`;
      item.append(code);
    }
    if (hint) {
      const more = document.createElement("span");
      more.className = "hint";
      more.textContent = ` ${hint}`;
      item.append(more);
    }
    list.append(item);
  }
  return (found ?? []).length > 0;
}

export const sentence = (found) => (found ?? []).map(({ what, hint }) => (hint ? `${what} (${hint})` : what)).join("; ");

// Pages of music as the engraver drew them.
export function pages(into, drawn, name = (n) => `Sheet, page ${n + 1} of ${drawn.length}`) {
  into.replaceChildren();
  drawn.forEach((text, n) => {
    const svg = document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", name(n));
    // Signs are defined page by page; in one document their names must differ.
    for (const path of svg.querySelectorAll("defs [id]")) path.id = `${into.id}-${n}-${path.id}`;
    for (const use of svg.querySelectorAll("use")) {
      const name = use.getAttributeNS("http://www.w3.org/1999/xlink", "href").slice(1);
      use.removeAttributeNS("http://www.w3.org/1999/xlink", "href");
      use.setAttribute("href", `#${into.id}-${n}-${name}`);
    }
    into.append(svg);
  });
}

export function save(bytes, name, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([bytes], { type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

// "That one": a chorus of the left hand as a pattern file, and its sheet.
export function keepChorus(title, { kept, musicxml }) {
  save(musicxml, `${title}.musicxml`, MUSICXML);
  if (kept) save(kept, `${title}, kept.toml`, "application/toml");
  say(kept ? "Kept: the sheet, and the left hand as a pattern file to practise from." : "Kept: the sheet. So long a chorus, or one whose metre changes, is no pattern.");
}

export const MUSICXML = "application/vnd.recordare.musicxml+xml";

export const fileName = (title) => title.replaceAll(/[^\p{L}\p{N} _'-]/gu, "-").trim().slice(0, 80) || "Untitled";

// A file of the player's, where it is one that may be read whole.
export async function readFile(file, most) {
  if (file.size > most) throw new Error(`${file.name} is too large: ${Math.round(file.size / 1e6)} MB, and ${most / 1e6} MB are read at most`);
  return file.arrayBuffer();
}
