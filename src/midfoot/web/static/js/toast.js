/** One line at the foot: what was done, and a way back while it shows. */

let timer = 0;

/**
 * @param {string} text what was done, or what stands in the way
 * @param {{label?: string, undo?: () => void, stays?: boolean}} [more] `undo` gives a button; `stays` until closed
 */
export function toast(text, more = {}) {
  const place = document.getElementById("toast");
  if (!place) return;
  const line = document.createElement("div");
  line.className = "toast";
  const words = document.createElement("span");
  words.textContent = text;
  line.append(words);
  const gone = () => { clearTimeout(timer); line.remove(); };
  if (more.undo) {
    const back = document.createElement("button");
    back.type = "button"; back.textContent = more.label ?? "Undo";
    back.addEventListener("click", () => { gone(); more.undo?.(); });
    line.append(back);
  }
  const close = document.createElement("button");
  close.type = "button"; close.textContent = "Close"; close.addEventListener("click", gone);
  line.append(close);
  place.replaceChildren(line);
  clearTimeout(timer);
  if (!more.stays) timer = setTimeout(() => { if (!line.matches(":hover, :focus-within")) gone(); }, more.undo ? 12000 : 7000);
}
