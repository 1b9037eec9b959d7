// What the browser remembers, where it is allowed to; the page goes on without.
let refused = "";
let tell = () => {};
export const wire = (onRefusal) => { tell = onRefusal; };

export function get(name, otherwise) {
  try {
    const text = localStorage.getItem(`sinistra.${name}`);
    return text === null ? otherwise : JSON.parse(text);
  } catch {
    return otherwise;
  }
}

export function set(name, value) {
  try {
    localStorage.setItem(`sinistra.${name}`, JSON.stringify(value));
    return true;
  } catch {
    if (!refused) {
      refused = "This browser keeps nothing for the page (its storage is full or forbidden): save your progress as a file before you leave.";
      tell(refused);
    }
    return false;
  }
}
