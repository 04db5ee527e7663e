/** Bringing clips in: dropped or chosen files and the message that goes with them. */

import { post } from "./api.js";
import { toast } from "./toast.js";
import { Line, send } from "./upload.js";

const line = new Line();
/** Sets that came in with the message that stands in the box now. @type {string[]} */
let together = [];
let inFlight = 0;

addEventListener("beforeunload", (event) => { if (inFlight) event.preventDefault(); });

/** @param {string} tag @param {string} [name] @param {string} [text] */
function part(tag, name = "", text = "") {
  const element = document.createElement(tag);
  if (name) element.className = name;
  element.textContent = text;
  return element;
}

/** @param {Iterable<File>} files @param {(setId: string) => void} arrived */
export function bring(files, arrived) {
  const list = document.getElementById("sending");
  if (!list) return;
  list.hidden = false;
  for (const file of files) {
    const item = part("li");
    const bar = /** @type {HTMLProgressElement} */ (part("progress"));
    bar.max = 1; bar.value = 0; bar.setAttribute("aria-label", `Sending ${file.name}`);
    const says = part("span", "says", "waits");
    const stop = /** @type {HTMLButtonElement} */ (part("button", "plain", "Stop"));
    stop.type = "button"; stop.setAttribute("aria-label", `Stop ${file.name}`);
    item.append(part("span", "name", file.name), bar, says, stop);
    list.append(item);
    let stopped = false;
    stop.addEventListener("click", () => { stopped = true; item.remove(); if (!list.children.length) list.hidden = true; });
    inFlight += 1;
    line.add(async () => {
      if (stopped) { inFlight -= 1; return; }
      const address = `/inbox/clips?${new URLSearchParams({ name: file.name })}`;
      const sending = send(file, address, (share) => {
        bar.value = share;
        says.textContent = share < 1 ? `${Math.round(share * 100)} %` : "being stored";
      });
      stop.addEventListener("click", () => sending.stop());
      try {
        const got = await sending.done;
        bar.value = 1;
        says.textContent = got.already ? "was here already" : "received";
        stop.remove();
        if (!got.already) together.push(got.set);
        arrived(got.set);
        setTimeout(() => { item.remove(); if (!list.children.length) list.hidden = true; }, got.already ? 8000 : 2500);
      } catch (error) {
        if (stopped) return;
        says.textContent = "not received";
        item.append(part("p", "wrong", /** @type {Error} */ (error).message));
        stop.textContent = "Send again";
        stop.addEventListener("click", () => bring([file], arrived), { once: true });
      } finally {
        if (inFlight === 1) await settle(arrived, true);
        inFlight -= 1;
      }
    });
  }
}

/** When all have come, the message goes to each of them.
 * @param {(setId: string) => void} arrived @param {boolean} [last] called by the last file on its way */
export async function settle(arrived, last = false) {
  const box = /** @type {HTMLTextAreaElement | null} */ (document.getElementById("message"));
  const text = box?.value.trim() ?? "";
  if ((inFlight && !last) || !box) return;
  if (!text) return;
  if (!together.length) return;
  const sets = together;
  together = [];
  try {
    const got = await post("/inbox/text", { sets, text });
    box.value = "";
    toast(got.done);
    for (const id of sets) arrived(id);
  } catch {
    together = sets;
  }
}

/** A message pasted after the clips came goes to the last ones that came without. @param {(setId: string) => void} arrived */
export function watchMessage(arrived) {
  const box = /** @type {HTMLTextAreaElement | null} */ (document.getElementById("message"));
  const says = document.getElementById("message-says");
  if (!box || !says) return;
  const give = document.createElement("button");
  give.type = "button"; give.hidden = true;
  says.after(give);
  const look = () => {
    const waits = box.value.trim() && together.length && !inFlight;
    give.hidden = !waits;
    give.textContent = together.length === 1 ? "Give it to the clip that just came" : `Give it to the ${together.length} clips that just came`;
  };
  box.addEventListener("input", look);
  document.addEventListener("sets-came", look);
  give.addEventListener("click", async () => { await settle(arrived); look(); });
}
