/** The inbox: rows that follow what happens, what can be done with them, and all of it by keyboard. */

import { get, post, Refused } from "./api.js";
import { bring, watchMessage } from "./bring.js";
import { hear } from "./events.js";
import { draw } from "./kept.js";
import { bind, isText } from "./keys.js";
import { toast } from "./toast.js";

/** The list of sets; there is none as long as nothing has come in. */
const list = () => document.getElementById("rows");
const show = list()?.dataset.show ?? "open";
const files = /** @type {HTMLInputElement | null} */ (document.getElementById("files"));
const box = document.getElementById("bring");

/* rows */

/** Sets that were heard of. @type {Set<string>} */
const known = new Set();
/** Drawings that were asked for and have not begun, and those that are under way. @type {Map<string, Promise<void>>} */
const asked = new Map(), underWay = new Map();

/** @param {string} id */
function rowOf(id) { return document.getElementById(`set-${id}`); }

/** Draw a set's row again, after what is under way; a new one takes its place at the end. @param {string} id @returns {Promise<void>} */
function redraw(id) {
  const waits = asked.get(id);
  if (waits) return waits;
  const mine = (underWay.get(id) ?? Promise.resolve()).then(() => {
    asked.delete(id);
    const run = drawRow(id).finally(() => { if (underWay.get(id) === run) underWay.delete(id); });
    underWay.set(id, run);
    return run;
  });
  asked.set(id, mine);
  return mine;
}

/** @param {string} id */
async function drawRow(id) {
  if (!list()) await (listing ??= bringList());
  const response = await fetch(`/inbox/rows/${id}?show=${encodeURIComponent(show)}`, { headers: { accept: "text/html" } }).catch(() => null);
  if (!response?.ok) return; // without an answer it stays as it is: the next thing that happens draws it
  const holder = document.createElement("template");
  holder.innerHTML = await response.text();
  const fresh = holder.content.firstElementChild, old = rowOf(id);
  if (!(fresh instanceof HTMLElement)) return;
  if (!old) { list()?.append(fresh); return; }
  fresh.classList.toggle("here", old.classList.contains("here"));
  draw(old, fresh, { sent: old.querySelector("form[data-sent]"), otherwise: ".row-open" });
}

async function recount() {
  const counts = await get("/inbox/counts", { quiet: true }).catch(() => null);
  if (!counts) return;
  for (const place of document.querySelectorAll("[data-count]")) {
    if (place instanceof HTMLElement) place.textContent = String(counts[place.dataset.count ?? ""] ?? "");
  }
  const says = document.getElementById("inbox-says");
  if (says && list()) says.textContent = `${counts.ready} ready, ${counts.measuring} being measured, ${counts.new} to confirm.`;
}

let counting = 0;
function countSoon() { clearTimeout(counting); counting = setTimeout(recount, 400); }

const first = performance.now();
hear("set", (set) => {
  const before = known.has(set.id), row = rowOf(set.id);
  known.add(set.id);
  const said = [set.state, set.picked, set.waiting, set.confirmed ? "confirmed" : "open"].join(" ");
  if (row ? row.dataset.said === said : before || show !== "open" || performance.now() - first < 3000) return;
  redraw(set.id);
  countSoon();
});

/** @type {Map<string, string>} */
const jobStates = new Map();
hear("job", (job) => {
  const row = job.set && rowOf(job.set);
  const before = jobStates.get(job.id);
  jobStates.set(job.id, job.state);
  if (!(row instanceof HTMLElement)) return;
  const live = job.state === "running" || job.state === "queued";
  const shown = row.querySelector("[data-work] [data-do=cancel]")?.getAttribute("data-job");
  const bar = row.querySelector("[data-work] progress");
  const says = row.querySelector("[data-work] [data-says]");
  if (job.state === "running" && shown === job.id && bar instanceof HTMLProgressElement && says) {
    if (job.progress !== null) bar.value = job.progress;
    says.textContent = job.message || "Under way";
  } else if (before !== undefined ? before !== job.state : live !== !!bar) redraw(job.set);
});

/* what can be done */

/** @type {Record<string, (id: string) => Promise<void>>} */
const deeds = {
  async review(id) { await pick(id, "review"); },
  async edition(id) { await pick(id, "edition"); },
  async refilm(id) {
    await post(`/sets/${id}/wait`, { waiting: "refilm" });
    await redraw(id);
    document.getElementById(`film-${id}`)?.focus();
    toast("It waits for a re-film; the message to copy stands in its row.", { undo: () => deeds["wait-none"](id) });
  },
  async "wait-none"(id) { toast((await post(`/sets/${id}/wait`, { waiting: "none" })).done); await redraw(id); },
  async asked(id) { toast((await post(`/sets/${id}/asked`)).done); await redraw(id); },
  async archive(id) { await archive(id, true); },
  async restore(id) { await archive(id, false); },
};

/** @param {string} id @param {string} what */
async function pick(id, what) {
  const button = rowOf(id)?.querySelector(`[data-do="${what}"]`);
  const on = button?.getAttribute("aria-pressed") === "true";
  toast((await post(`/sets/${id}/pick`, { picked: on ? "none" : what })).done);
  await redraw(id);
  countSoon();
}

/** @param {string} id @param {boolean} away */
async function archive(id, away) {
  const row = rowOf(id);
  const next = row?.nextElementSibling ?? row?.previousElementSibling;
  const got = await post(`/sets/${id}/archive`, { archived: away });
  row?.remove();
  if (next instanceof HTMLElement) goTo(next);
  toast(got.done, { undo: async () => { await post(`/sets/${id}/archive`, { archived: !away }); await redraw(id); countSoon(); } });
  countSoon();
}

document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-do]") : null;
  if (!(button instanceof HTMLElement)) return;
  const id = button.closest(".row")?.getAttribute("data-set") ?? "";
  const deed = button.dataset.do ?? "";
  try {
    if (button.dataset.job) { toast((await post(`/jobs/${button.dataset.job}/${deed}`)).done); await redraw(id); }
    else await deeds[deed]?.(id);
  } catch (error) { if (!(error instanceof Refused)) throw error; }
});

document.addEventListener("click", (event) => {
  const fill = event.target instanceof Element ? event.target.closest("[data-fill]") : null;
  if (!(fill instanceof HTMLElement)) return;
  const form = fill.closest("form");
  const field = form?.elements.namedItem(fill.dataset.fill ?? "");
  if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement || field instanceof HTMLTextAreaElement) {
    field.value = fill.dataset.value ?? "";
    field.focus();
  }
});

/** The other sets on the page, for a clip that is another view of one of them. */
document.addEventListener("focusin", (event) => {
  const choice = event.target;
  if (!(choice instanceof HTMLSelectElement) || !choice.dataset.join || choice.options.length > 1) return;
  const own = choice.closest(".row");
  for (const row of allRows()) {
    if (row === own) continue;
    const words = [row.querySelector("h3")?.textContent, row.querySelector(".row-who")?.textContent].join(" ");
    choice.add(new Option(words.replace(/\s+/g, " ").trim().slice(0, 80), row.dataset.set));
  }
});
document.addEventListener("change", async (event) => {
  const choice = event.target;
  if (!(choice instanceof HTMLSelectElement) || !choice.dataset.join || !choice.value) return;
  try {
    toast((await post(`/clips/${choice.dataset.join}/join`, { set: choice.value })).done);
    choice.closest(".row")?.remove();
    await redraw(choice.value);
    countSoon();
  } catch { choice.value = ""; }
});

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.dataset.context) return;
  event.preventDefault();
  const id = form.dataset.context;
  const wrong = form.querySelector("[data-wrong]");
  try {
    const got = await post(`/sets/${id}/context`, { fields: Object.fromEntries(new FormData(form)) }, { quiet: true });
    form.dataset.sent = "1";
    const row = rowOf(id);
    const next = row?.nextElementSibling;
    toast(got.done);
    await redraw(id);
    const open = [...document.querySelectorAll("form[data-context]")].find((f) => f !== form);
    const field = open?.querySelector("input, select");
    if (field instanceof HTMLElement) { goTo(/** @type {HTMLElement} */ (open?.closest(".row"))); } else if (next instanceof HTMLElement) goTo(next);
    countSoon();
  } catch (error) {
    if (wrong instanceof HTMLElement) { wrong.textContent = /** @type {Error} */ (error).message; wrong.hidden = false; wrong.scrollIntoView({ block: "nearest" }); }
  }
});

/* keys */

/** @returns {HTMLElement[]} */
function allRows() { return [...document.querySelectorAll(".row")].filter((r) => r instanceof HTMLElement); }
function here() { return /** @type {HTMLElement | null} */ (document.querySelector(".row:focus-within") ?? document.querySelector(".row.here")); }

/** @param {HTMLElement} row */
function goTo(row) {
  for (const r of document.querySelectorAll(".row.here")) r.classList.remove("here");
  row.classList.add("here");
  const link = row.querySelector(".row-open");
  if (link instanceof HTMLElement) link.focus({ preventScroll: true });
  row.scrollIntoView({ block: "nearest" });
}

/** @param {number} way */
function step(way) {
  const all = allRows();
  const at = all.indexOf(/** @type {HTMLElement} */ (here()));
  const next = all[at < 0 ? (way > 0 ? 0 : all.length - 1) : Math.min(all.length - 1, Math.max(0, at + way))];
  if (next) goTo(next);
}

const group = { group: "Inbox" };
/** @param {string} deed */
const withRow = (deed) => () => {
  const row = here();
  if (row) deeds[deed]?.(row.dataset.set ?? "").catch(() => {});
  else toast("Go to a set first with J or the arrow keys.");
};
bind("j", "next set (or ↓)", () => step(1), group);
bind("ArrowDown", "next set (or ↓)", () => step(1), { ...group, listed: false });
bind("k", "set before (or ↑)", () => step(-1), group);
bind("ArrowUp", "set before (or ↑)", () => step(-1), { ...group, listed: false });
bind("o", "open the set (or Enter)", () => { const row = here(); if (row) location.href = `/sets/${row.dataset.set}`; }, group);
bind("c", "to what is to be confirmed", () => {
  const form = here()?.querySelector("form[data-context]") ?? document.querySelector("form[data-context]");
  const field = form?.querySelector("input, select");
  const details = form?.closest("details");
  if (details) details.open = true;
  if (field instanceof HTMLElement) { field.focus(); field.scrollIntoView({ block: "center" }); } else toast("Nothing is left to confirm.");
}, group);
bind("p", "pick for a review", withRow("review"), group);
bind("e", "pick for an edition", withRow("edition"), group);
bind("f", "ask for a re-film", withRow("refilm"), group);
bind("x", "archive", withRow("archive"), group);
bind("n", "choose clips to bring in", () => files?.click(), group);
bind("m", "to the message box", () => document.getElementById("message")?.focus(), group);
bind("/", "search", () => document.getElementById("q")?.focus(), group);
document.addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key === "Enter" && event.target instanceof Element) {
    event.target.closest("form")?.requestSubmit();
  }
});

/* bringing in */

/** @type {Promise<void> | undefined} */
let listing;
/** The first sets bring the list: it takes the place of what stood there; files on their way and the message stay. */
async function bringList() {
  const answer = await fetch("/", { headers: { accept: "text/html" } }).catch(() => null);
  if (!answer?.ok) { listing = undefined; return; }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html"), fresh = page.getElementById("bring");
  if (!box || !fresh) return;
  box.className = fresh.className;
  for (const what of ["#bring-title", "#drop > p:not(.buttons)", "#inbox-says"]) {
    const mine = document.querySelector(what);
    if (mine) mine.textContent = page.querySelector(what)?.textContent ?? "";
  }
  document.getElementById("choose")?.classList.remove("first");
  while (box.nextSibling) box.nextSibling.remove();
  while (fresh.nextSibling) box.parentElement?.append(fresh.nextSibling);
}

/** @param {string} id */
function arrived(id) {
  redraw(id);
  countSoon();
  document.dispatchEvent(new Event("sets-came"));
}
watchMessage(arrived);
document.getElementById("choose")?.addEventListener("click", () => files?.click());
files?.addEventListener("change", () => { if (files.files?.length) bring([...files.files], arrived); files.value = ""; });

let inside = 0;
document.addEventListener("dragenter", (event) => { if (event.dataTransfer?.types.includes("Files")) { inside += 1; box?.classList.add("over"); } });
document.addEventListener("dragleave", () => { inside = Math.max(0, inside - 1); if (!inside) box?.classList.remove("over"); });
document.addEventListener("dragover", (event) => { if (event.dataTransfer?.types.includes("Files")) event.preventDefault(); });
document.addEventListener("drop", (event) => {
  inside = 0; box?.classList.remove("over");
  const dropped = event.dataTransfer?.files;
  if (!dropped?.length) return;
  event.preventDefault();
  bring([...dropped], arrived);
});
document.addEventListener("paste", (event) => {
  if (isText(event.target)) return;
  const message = document.getElementById("message");
  const text = event.clipboardData?.getData("text/plain");
  if (message instanceof HTMLTextAreaElement && text) { message.value = text; message.dispatchEvent(new Event("input")); message.focus(); }
  if (event.clipboardData?.files.length) bring([...event.clipboardData.files], arrived);
});
