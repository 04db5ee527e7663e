/** The review's half of one set's page: cards kept, reworded, dropped, accepted by key or mouse; preview; nothing lost. */

import { get } from "./api.js";
import { hear } from "./events.js";
import { drawInside } from "./kept.js";
import { bind, isText } from "./keys.js";
import { Order } from "./review_order.js";
import { Walk, isOpen, nameOf, waits } from "./review_walk.js";
import { observing } from "./review_observe.js";
import { Sender, newName } from "./review_send.js";
import { toast } from "./toast.js";

const root = /** @type {HTMLElement} */ (document.getElementById("review-root"));
const setId = root.dataset.set ?? "";
const KG_PER_LB = 0.45359237;
const SAID = { keep: "kept", drop: "dropped", accept: "accepted" };

/** @type {{version: number, unseen: string[], marks: any[], [name: string]: any} | null} */
let state = null;
/** A state that came while something was being written: it is drawn when that is done. @type {any} */
let pending = null;
/** Where the picture stands. @type {{t_s: number, rep: number | null}} */
let now = { t_s: 0, rep: null };
const others = "BroadcastChannel" in window ? new BroadcastChannel(`midfoot.review.${setId}`) : null;

const sender = new Sender(setId, {
  state: (fresh) => {
    if (!sender.queue.length) take(fresh);
    others?.postMessage("changed");
    if (fresh.kept) toast(`From now on: ${fresh.kept.sentence}`, { undo: () => sender.push("/wording/undo", fresh.kept) });
  },
  refused: (why) => { toast(why.message, { stays: true }); refresh(); },
  waiting: (count, gone) => {
    const line = document.getElementById("review-saved");
    if (!line) return;
    line.classList.toggle("gone", gone);
    line.textContent = gone
      ? `${count} not saved yet: the desk does not answer. They are kept in this browser and sent again.`
      : count ? "Saving…" : "All saved.";
  },
});

/* ---- what stands on the page ---- */

/** @param {string} name @returns {HTMLElement} */
const byId = (name) => /** @type {HTMLElement} */ (document.getElementById(name));
const walk = new Walk(root, seek, () => byId("publish-link")?.focus());
const stops = () => walk.stops(), here = () => walk.here(), hereCard = () => walk.card();
/** @param {HTMLElement | undefined} stop @param {{look?: boolean, focus?: boolean}} [how] */
const goTo = (stop, how) => walk.goTo(stop, how);
const order = new Order(root, (section, parts) => send([{ kind: "order", section, order: parts }]), goTo);

/** @param {number} t_s @param {number | null} rep @param {HTMLElement | null} card */
function seek(t_s, rep, card) {
  const part = card?.dataset.part ?? "";
  const marks = (state?.marks ?? []).filter((m) => m.part === part);
  document.dispatchEvent(new CustomEvent("desk:seek", { detail: { t_s, rep, marks, what: card?.dataset.about ?? "" } }));
}

/** Look at the card's evidence, at its next rep each time. */
let looked = { part: "", k: 0 };
function evidence() {
  const card = hereCard();
  if (!card) return;
  const places = [...card.querySelectorAll(".places [data-seek]")];
  if (!places.length) { toast("This one stands on no single moment."); return; }
  looked = { part: walk.current, k: looked.part === walk.current ? (looked.k + 1) % places.length : 0 };
  /** @type {HTMLElement} */ (places[looked.k]).click();
}

/* ---- state from the desk ---- */

/** @param {any} fresh */
function take(fresh) {
  const same = state && JSON.stringify(state.html) === JSON.stringify(fresh.html);
  state = fresh;
  if (same && !pending) return;
  document.dispatchEvent(new CustomEvent("desk:marks", { detail: { marks: fresh.marks ?? [] } }));
  if (order.moving || document.querySelector("#review-cards form.act:not([hidden])") || isWriting()) { pending = fresh; drawRest(fresh); return; }
  pending = null;
  draw(fresh);
}

function isWriting() {
  const at = document.activeElement;
  return at instanceof HTMLElement && !!at.closest("#review-cards form") && at.matches("textarea, input");
}

/** @param {any} fresh */
function drawRest(fresh) {
  for (const name of ["page", "script"]) byId(`review-${name}`).innerHTML = fresh.html[name];
  const open = byId("unseen-list")?.hidden === false;
  drawInside(byId("review-head"), fresh.html.head);
  if (open && fresh.unseen?.length) byId("unseen-list").hidden = false;
  if (observer.on) document.querySelector("[data-do=observe]")?.setAttribute("aria-expanded", "true");
}

/** @param {any} fresh */
function draw(fresh) {
  drawRest(fresh);
  const cards = byId("review-cards");
  const inside = document.activeElement instanceof HTMLElement && cards.contains(document.activeElement);
  const does = inside && document.activeElement instanceof HTMLElement && !!document.activeElement.dataset.do;
  drawInside(cards, fresh.html.cards);
  observer.draw(fresh.html.palette);
  root.dataset.version = String(fresh.version ?? -1);
  const stop = here();
  if (stop) goTo(stop, { focus: inside && !does && !isText(document.activeElement) });
  else if (!walk.current) goTo(stops().find(waits), { focus: false });
  document.dispatchEvent(new CustomEvent("desk:review", { detail: { version: fresh.version, unseen: fresh.unseen } }));
}

async function refresh() {
  if (sender.queue.length) return;
  try { take(await get(`/sets/${setId}/review/state`, { quiet: true })); } catch { /* it is asked again */ }
}

others?.addEventListener("message", refresh);
document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
hear("set", (one) => { if (one.id === setId && state && one.state === "ready") refresh(); });
hear("job", (one) => { if (one.set === setId && one.kind === "measure" && one.state === "done" && state) refresh(); });

/* ---- what is done ---- */

/** @param {HTMLElement} card @param {string} kind @param {Record<string, any>} [more] */
function editOf(card, kind, more = {}) {
  const list = (/** @type {string | undefined} */ text) => (text ?? "").split(",").filter(Boolean).map(Number);
  return { kind, part: card.dataset.part, reps: list(card.dataset.reps), at_s: list(card.dataset.at), saw: card.dataset.saw, ...more };
}

/** @param {Record<string, any>[]} rows all of one key press */
function send(rows) {
  const batch = newName();
  return sender.push("/edits", { edits: rows.map((row, k) => ({ id: `${batch}/${k}`, ...row })) });
}

/** Show at once what the desk is about to confirm. @param {HTMLElement} card @param {string} as @param {string} words */
function atOnce(card, as, words) {
  card.dataset.state = as;
  const line = card.querySelector(".state");
  if (line) line.textContent = words;
  const group = card.closest(".group");
  const all = group?.querySelector("[data-keep-all]");
  const left = [...group?.querySelectorAll(".card") ?? []].filter((c) => isOpen(/** @type {HTMLElement} */ (c))).length;
  if (all instanceof HTMLButtonElement) { all.disabled = !left; all.textContent = left ? `Keep all ${left}` : "All read"; }
}

/** @param {HTMLElement[]} cards */
function keep(cards) {
  const able = cards.filter((c) => !c.querySelector(".text.open"));
  if (able.length < cards.length) {
    toast("This one has no words yet: reword it first.");
    const first = cards.find((c) => !able.includes(c));
    if (first && !able.length) { goTo(first); openForm(first, "reword"); return; }
  }
  for (const card of able) atOnce(card, "kept", SAID.keep);
  send(able.map((card) => editOf(card, "keep")));
  walk.advance();
}

function keepHere() {
  const stop = here() ?? stops().find(waits);
  if (!stop) return;
  if (nameOf(stop) !== walk.current) { goTo(stop, { look: true }); return; }
  keep(stop.dataset.part ? [stop] : /** @type {HTMLElement[]} */ ([...stop.querySelectorAll(".card")].filter((c) => isOpen(/** @type {HTMLElement} */ (c)))));
}

/** @param {HTMLElement} card @param {string} what */
function openForm(card, what) {
  closeForms();
  goTo(card, { focus: false });
  const form = /** @type {HTMLFormElement | null} */ (card.querySelector(`form[data-act="${what}"]`));
  if (!form) { toast("That cannot be done with this one."); return; }
  form.hidden = false;
  card.classList.add("writing");
  const field = /** @type {HTMLInputElement | HTMLTextAreaElement | null} */ (what === "mark" ? form.querySelector("[data-meaning]") : form.querySelector("textarea, input"));
  field?.focus({ preventScroll: true });
  if (field && "select" in field && what === "drop") field.select();
  walk.bring(form);
}

function closeForms() {
  for (const form of root.querySelectorAll("form.act:not([hidden])")) {
    /** @type {HTMLFormElement} */ (form).hidden = true;
    form.closest(".card")?.classList.remove("writing");
  }
  if (pending) { const fresh = pending; pending = null; draw(fresh); }
}

/** @param {HTMLFormElement} form @param {HTMLElement} card */
function submit(form, card) {
  const data = new FormData(form);
  const text = (/** @type {string} */ name) => String(data.get(name) ?? "").trim();
  const edits = [];
  switch (form.dataset.act) {
    case "reword": {
      for (const area of form.querySelectorAll("textarea")) {
        const words = area.value.trim();
        if (words === area.defaultValue.trim()) continue;
        if (!words && (area.name === "text" || area.name === "aloud")) { toast("Words are needed; drop the card to say nothing."); area.focus(); return; }
        const which = area.name === "aloud" ? { length: "on_air" } : { which: area.name };
        edits.push(editOf(card, "reword", { ...which, text: words }));
        const line = card.querySelector(area.name === "text" ? ".said .text" : area.name === "why" ? ".said .why" : "none");
        if (line) line.textContent = words;
      }
      if (!edits.length) { form.hidden = true; card.classList.remove("writing"); keep([card]); return; }
      atOnce(card, "kept", SAID.keep);
      send(edits);
      if (data.get("always")) {
        const to = edits.some((e) => e.which === "text") ? "lifter" : "on_air";
        sender.push("/wording", { part: card.dataset.part, to });
      }
      break;
    }
    case "drop":
      if (!text("reason")) { toast("A word on why; only you see it."); return; }
      atOnce(card, "dropped", `dropped: ${text("reason")}`);
      send([editOf(card, "drop", { reason: text("reason") })]);
      break;
    case "accept": {
      const load = text("load") ? Number(text("load").replace(",", ".")) * (document.body.dataset.unit === "lb" ? KG_PER_LB : 1) : null;
      if (!text("until") && load === null) { toast("Until when, or up to which load?"); return; }
      if (load !== null && !(load > 0)) { toast("The load is a number."); return; }
      atOnce(card, "accepted", "accepted for this lifter");
      send([editOf(card, "accept", { until: text("until") || null, up_to_kg: load })]);
      break;
    }
    case "note":
      if (!text("text")) return;
      send([{ kind: "note", part: card.dataset.part, text: text("text") }]);
      break;
    default: return;
  }
  for (const area of form.querySelectorAll("textarea")) if (form.dataset.act === "reword") area.defaultValue = area.value;
  form.reset(); // what was sent is not kept beside what comes of it
  const stays = form.dataset.act === "note";
  form.hidden = true;
  card.classList.remove("writing");
  if (stays) goTo(card); else walk.advance();
}

/* marks: asked of the player, which lets points be clicked on the frame that stands */
/** @type {{card: HTMLElement, words: string} | null} */
let marking = null;

/** @param {HTMLElement} card @param {HTMLElement} button */
function mark(card, button) {
  const meaning = button.dataset.meaning ?? "where";
  const form = /** @type {HTMLFormElement} */ (button.closest("form"));
  const words = /** @type {HTMLInputElement} */ (form.elements.namedItem("words")).value.trim();
  marking = { card, words };
  closeForms();
  document.dispatchEvent(new CustomEvent("desk:mark-request", {
    detail: { meaning, points: Number(button.dataset.points), prompt: `Mark ${button.textContent?.replace(/^\d\s*/, "").trim()}: ${card.dataset.name}` },
  }));
}

document.addEventListener("desk:mark-made", (event) => {
  const made = /** @type {CustomEvent} */ (event).detail;
  const was = marking;
  marking = null;
  if (!was || made.cancelled) return;
  const rep = made.rep ?? now.rep;
  if (!rep) { toast("A mark belongs to a rep: move to a frame within one."); return; }
  const card = /** @type {HTMLElement} */ (document.getElementById(was.card.id) ?? was.card);
  send([{ kind: "mark", part: card.dataset.part, meaning: made.meaning, reps: [rep], at_s: [made.t_s], points_px: made.points_px, text: was.words }]);
  goTo(card);
});

document.addEventListener("desk:time", (event) => {
  now = /** @type {CustomEvent} */ (event).detail;
  observer.at(now);
});

document.addEventListener("desk:ready", () => { if (state) document.dispatchEvent(new CustomEvent("desk:marks", { detail: { marks: state.marks ?? [] } })); });
document.addEventListener("desk:remeasured", () => refresh());
document.addEventListener("desk:finding", (event) => {
  const stop = stops().find((s) => s.dataset.about && s.dataset.about === /** @type {CustomEvent} */ (event).detail.id);
  if (stop) { show("cards"); goTo(stop, { focus: false }); walk.bring(stop); }
});

/* ---- views ---- */

/** @param {string} view */
function show(view) {
  for (const button of byId("review-views").querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(button.dataset.view === view));
  }
  for (const part of root.querySelectorAll("[data-shows]")) {
    /** @type {HTMLElement} */ (part).hidden = /** @type {HTMLElement} */ (part).dataset.shows !== view;
  }
}
function nextView() {
  const views = ["cards", "page", "script"];
  const at = views.indexOf(byId("review-views").querySelector("[aria-pressed=true]")?.getAttribute("data-view") ?? "cards");
  show(views[(at + 1) % views.length]);
}

function publish() {
  const link = /** @type {HTMLAnchorElement | null} */ (document.getElementById("publish-link"));
  if (!link) return;
  const left = stops().filter((s) => s.dataset.part && !s.closest(".spare") && isOpen(s)).length;
  if (!left && !sender.queue.length && !state?.unseen?.length) { location.href = link.href; return; }
  if (!left && sender.queue.length) { sender.flush().then(() => { if (!sender.queue.length) publish(); }); return; }
  byId("unseen-list").hidden = false;
  show("cards");
  const first = stops().find((s) => waits(s) && !s.closest(".spare"));
  if (first) goTo(first, { look: true });
  toast("Nothing goes out unread: what is left is listed above.");
}

/* ---- clicks, forms, keys ---- */

root.addEventListener("click", (event) => {
  const target = event.target instanceof Element ? event.target : null;
  const button = /** @type {HTMLElement | null} */ (target?.closest("button, a"));
  const card = /** @type {HTMLElement | null} */ (target?.closest(".card"));
  if (!button) {
    if (card && !target?.closest("form, details")) goTo(card, { look: false, focus: !getSelection()?.toString() });
    return;
  }
  const d = button.dataset;
  if (d.seek) { if (card) goTo(card, { focus: false }); seek(Number(d.seek), Number(d.rep) || null, card); return; }
  if (d.view) return show(d.view);
  if (d.goto) { show("cards"); const stop = stops().find((s) => s.dataset.part === d.goto); if (stop) { goTo(stop, { look: true }); openForm(stop, "reword"); } return; }
  if (d.keepAll) { const group = /** @type {HTMLElement} */ (button.closest(".group")); goTo(group); keepHere(); return; }
  if (d.meaning && card) return mark(card, button);
  if (d.unmark) { sender.push("/edits", { edits: [{ id: `${newName()}/0`, kind: "undo", undoes: d.unmark }] }); return; }
  if (d.takeChange && card) { send([editOf(card, "reword", { which: "try_text", text: d.takeChange })]); atOnce(card, "kept", SAID.keep); return; }
  if (d.answer) { sender.push("/edits/answer", { edit: d.edit, choice: d.answer }); return; }
  if (d.verdictOf) {
    const pressed = button.getAttribute("aria-pressed") === "true";
    const why = /** @type {HTMLInputElement | null} */ (button.closest("li")?.querySelector("[data-why]"));
    if (pressed && why) why.value = "";
    sender.push("/verdicts", { change: d.verdictOf, verdict: pressed ? "" : d.say, why: why?.value ?? "" });
    return;
  }
  if ("close" in d) { button.closest("form")?.reset(); closeForms(); if (card) goTo(card); return; }
  switch (d.do) {
    case "keep": if (card) { goTo(card, { focus: false }); keep([card]); } return;
    case "reword": case "drop": case "accept": case "mark": case "note": if (card) openForm(card, d.do); return;
    case "undo": sender.push("/edits/undo", { name: newName() }); return;
    case "redo": sender.push("/edits/redo", { name: newName() }); return;
    case "observe": observer.toggle(); return;
    case "observe-end": observer.end(); return;
  }
  if (button.id === "publish-link") { event.preventDefault(); publish(); }
});

root.addEventListener("submit", async (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  const card = /** @type {HTMLElement | null} */ (form.closest(".card"));
  if (form.dataset.act && card) { event.preventDefault(); submit(form, card); return; }
  const field = /** @type {HTMLTextAreaElement | null} */ (form.elements.namedItem("text"));
  if (form.dataset.frame && field) { event.preventDefault(); if (field.value.trim()) { send([{ kind: "reword", part: form.dataset.frame, text: field.value.trim() }]); field.blur(); } return; }
  if ("note" in form.dataset && field) { event.preventDefault(); if (field.value.trim()) { send([{ kind: "note", part: "", text: field.value.trim() }]); field.value = ""; field.blur(); } return; }
  if (form.dataset.context) {
    event.preventDefault();
    const wrong = /** @type {HTMLElement | null} */ (form.querySelector("[data-wrong]"));
    const { post } = await import("./api.js");
    try {
      const done = await post(`/sets/${form.dataset.context}/context`, { fields: Object.fromEntries(new FormData(form)) }, { quiet: true });
      if (wrong) wrong.hidden = true;
      toast(done.done ?? "Confirmed.");
      refresh();
    } catch (error) {
      if (wrong) { wrong.textContent = /** @type {Error} */ (error).message; wrong.hidden = false; wrong.scrollIntoView({ block: "nearest" }); }
    }
  }
});

root.addEventListener("keydown", (event) => {
  const form = event.target instanceof Element ? /** @type {HTMLFormElement | null} */ (event.target.closest("form.act")) : null;
  if (!form) return;
  const card = /** @type {HTMLElement} */ (form.closest(".card"));
  if (event.key === "Escape") { event.preventDefault(); event.stopPropagation(); form.reset(); closeForms(); goTo(card); }
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); form.requestSubmit(); }
  const text = event.target instanceof HTMLInputElement;
  if (form.dataset.act === "mark" && !text && /^[1-4]$/.test(event.key)) {
    event.preventDefault(); event.stopPropagation();
    mark(card, /** @type {HTMLElement} */ (form.querySelectorAll("[data-meaning]")[Number(event.key) - 1]));
  }
});

root.addEventListener("focusout", () => {
  setTimeout(() => { if (pending && !isWriting() && !document.querySelector("#review-cards form.act:not([hidden])")) { const fresh = pending; pending = null; draw(fresh); } }, 0);
});

/** @param {(card: HTMLElement) => void} run */
const withCard = (run) => () => { const card = hereCard(); if (card) run(card); else toast("Choose a card first: arrow up and down."); };
const onCards = { group: "Review" };
/** Arrows move between cards unless they belong to what has the focus. */
const free = () => { const at = document.activeElement; return !(at instanceof HTMLElement && at.closest("#timeline, [role=slider], select, .desk-view")); };

bind("ArrowDown", "next card", () => walk.move(1), { ...onCards, when: free });
bind("ArrowUp", "card before", () => walk.move(-1), { ...onCards, when: free });
bind("k", "keep, and on to the next", (event) => { if (!event.repeat) keepHere(); }, onCards);
bind("w", "reword", withCard((c) => openForm(c, "reword")), onCards);
bind("x", "drop, with a reason", withCard((c) => openForm(c, "drop")), onCards);
bind("a", "accept for this lifter", withCard((c) => openForm(c, "accept")), onCards);
bind("e", "evidence, the next rep each time", evidence, onCards);
bind("m", "mark on the frame", withCard((c) => openForm(c, "mark")), onCards);
bind("n", "private note", withCard((c) => openForm(c, "note")), onCards);
bind("o", "observe: then one key marks what you see", () => observer.toggle(), onCards);
bind("z", "undo", () => { sender.push("/edits/undo", { name: newName() }); }, onCards);
bind("Shift+z", "do it again", () => { sender.push("/edits/redo", { name: newName() }); }, onCards);
bind("Alt+ArrowUp", "move the card up", withCard((c) => order.shift(c, -1)), onCards);
bind("Alt+ArrowDown", "move the card down", withCard((c) => order.shift(c, 1)), onCards);
bind("t", "cards, lifter's page, script", nextView, onCards);
bind("Shift+p", "publish", publish, onCards);

const observer = observing(root, {
  mark: (body) => sender.push("/observations", body),
  rekey: (body) => sender.push("/keys", body),
});

refresh().then(() => { if (!walk.current) goTo(stops().find(waits), { focus: false }); });
