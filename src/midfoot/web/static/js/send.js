/** Sending a set: what is said first, then each clip in parts that go on where they broke off. */

import { get, post, Refused } from "./api.js";

const PART = 4 * 1024 * 1024, TUS = "1.0.0", LOOK_MS = 2500, MOST_WAIT_MS = 30_000;
/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const form = /** @type {HTMLFormElement} */ (at("send"));
const here = `/send/${form.dataset.token}`;
/** @param {string} text */
const encoded = (text) => btoa(String.fromCharCode(...new TextEncoder().encode(text)));
/** @param {number} ms */
const wait = (ms) => new Promise((done) => setTimeout(done, ms));
/** @param {string} words */
const say = (words) => { at("says").textContent = words; };

/** @type {{file: File, row: HTMLElement, sent: boolean}[]} */
let chosen = [];
/** @type {string} */
let set = "";

at("clips").addEventListener("change", () => {
  for (const file of at("clips").files) {
    if (chosen.some((c) => c.file.name === file.name && c.file.size === file.size)) continue;
    const row = at("file-row").content.firstElementChild.cloneNode(true);
    row.querySelector(".name").textContent = `${file.name}, ${(file.size / 1e6).toFixed(0)} MB`;
    const label = row.querySelector("label"), view = row.querySelector("select");
    view.id = `view-${chosen.length}-${file.size}`; label.htmlFor = view.id; label.textContent = `Filmed from, ${file.name}`;
    const one = { file, row, sent: false };
    const out = row.querySelector("button");
    out.setAttribute("aria-label", `Leave out ${file.name}`);
    out.addEventListener("click", () => { chosen = chosen.filter((c) => c !== one); row.remove(); });
    chosen.push(one);
    at("files").append(row);
  }
  at("clips").value = "";
});

at("minor").addEventListener("change", () => {
  const minor = at("minor").checked;
  at("guardian").hidden = !minor;
  for (const row of document.querySelectorAll("[data-adults]")) {
    /** @type {HTMLElement} */ (row).hidden = minor;
    if (minor) /** @type {HTMLInputElement} */ (row.querySelector("input")).checked = false;
  }
});

let typing = 0;
for (const name of ["s-question", "s-pain"]) at(name).addEventListener("input", () => {
  clearTimeout(typing);
  typing = setTimeout(async () => {
    const words = `${at("s-question").value}\n${at("s-pain").value}`;
    const { stop } = words.trim() ? await post(`${here}/words`, { words }, { quiet: true }).catch(() => ({ stop: "" })) : { stop: "" };
    at("stop").textContent = stop; at("stop").hidden = !stop;
  }, 350);
});

/** What is missing, and where. @returns {[string, HTMLElement] | null} */
function missing() {
  if (!chosen.length) return ["Choose the clip of your set first.", at("clips")];
  if (!form.lift.value) return ["Say which lift it is.", at("lift-squat")];
  if (!at("s-load").value.trim()) return ["Say what is on the bar, such as 140 kg or 315 lb.", at("s-load")];
  if (at("minor").checked && !at("s-guardian").value.trim()) return ["Give the name of the parent or guardian who sends this.", at("s-guardian")];
  if (!at("mine").checked) return ["Say that you are the person filmed or have that person's permission.", at("mine")];
  if (!at("use-review").checked) return ["Allow your coach to look at the set.", at("use-review")];
  return null;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const lacks = missing();
  if (lacks) { say(lacks[0]); lacks[1].setAttribute("aria-invalid", "true"); lacks[1].focus(); lacks[1].addEventListener("input", () => lacks[1].removeAttribute("aria-invalid"), { once: true }); return; }
  at("go").disabled = true;
  try {
    if (!set) {
      /** @type {Record<string, string>} */ const fields = {};
      for (const e of /** @type {any} */ (form.elements)) if (e.name && e.value && !["checkbox", "radio", "file"].includes(e.type) && !["guardian", "effort"].includes(e.name)) fields[e.name] = e.value;
      fields.lift = form.lift.value;
      if (at("s-effort").value) fields.rpe = at("s-effort").value;
      const uses = [...form.querySelectorAll("input[name=use]:checked")].map((e) => /** @type {HTMLInputElement} */ (e).value);
      say("Sending what you wrote …");
      const answer = await post(`${here}/sets`, { fields, uses, mine: at("mine").checked, minor: at("minor").checked, guardian: at("s-guardian").value }, { quiet: true });
      set = answer.set;
      if (answer.stop) { at("stop").textContent = answer.stop; at("stop").hidden = false; }
    }
    for (const one of chosen) if (!one.sent) { await upload(one); one.sent = true; }
    await finished();
  } catch (error) {
    say(`${/** @type {Error} */ (error).message} ${set ? "Press Send again: what arrived is kept, and it goes on from there." : ""}`);
  }
  at("go").disabled = false;
});

/** @param {{file: File, row: HTMLElement}} one */
async function upload({ file, row }) {
  const bar = /** @type {HTMLProgressElement} */ (row.querySelector("progress")), said = /** @type {HTMLElement} */ (row.querySelector(".said"));
  const view = /** @type {HTMLSelectElement} */ (row.querySelector("select")).value;
  bar.hidden = false; bar.setAttribute("aria-label", `How much of ${file.name} is sent`);
  const kept = `midfoot.send ${set} ${file.name} ${file.size} ${file.lastModified}`;
  let place = localStorage.getItem(kept) ?? "", offset = 0, pause = 1000;
  for (;;) {
    try {
      if (!place) {
        const made = await talk("POST", `${here}/files`, { "upload-length": String(file.size), "upload-metadata": `set ${encoded(set)},filename ${encoded(file.name)},filetype ${encoded(file.type || "video/mp4")},view ${encoded(view)}` });
        place = new URL(made.headers.get("location") ?? "", location.href).pathname;
        localStorage.setItem(kept, place);
        offset = 0;
      } else offset = Number((await talk("HEAD", place)).headers.get("upload-offset"));
      while (offset < file.size) {
        const answer = await talk("PATCH", place, { "upload-offset": String(offset), "content-type": "application/offset+octet-stream" }, file.slice(offset, offset + PART));
        offset = Number(answer.headers.get("upload-offset"));
        bar.value = offset / file.size;
        said.textContent = `${Math.round(100 * bar.value)} % sent`;
        say(`Sending ${file.name}; leave this page open.`);
        pause = 1000;
      }
      localStorage.removeItem(kept);
      said.textContent = "Arrived.";
      return;
    } catch (error) {
      const status = error instanceof Refused ? error.status : 0;
      if (status === 404 && place) { localStorage.removeItem(kept); place = ""; continue; }
      if (status >= 400 && status !== 409 && status !== 423 && status !== 429 && status < 500) { localStorage.removeItem(kept); said.textContent = /** @type {Error} */ (error).message; throw error; }
      if (status === 429) {
        said.textContent = `${/** @type {Error} */ (error).message} It goes on by itself if you leave this page open.`;
        await wait(Math.max(pause, 1000 * /** @type {any} */ (error).waitS));
        continue;
      }
      said.textContent = "The connection broke; it goes on by itself as soon as there is one.";
      await wait(pause);
      pause = Math.min(MOST_WAIT_MS, 2 * pause);
    }
  }
}

/** One exchange of the upload's protocol. @param {string} method @param {string} address @param {Record<string, string>} [headers] @param {Blob} [body] */
async function talk(method, address, headers = {}, body) {
  const answer = await fetch(address, { method, body, headers: { "tus-resumable": TUS, ...headers } });
  if (answer.ok) return answer;
  let said = "It could not be sent.";
  try { const { error } = await answer.json(); said = `${error.says} ${error.remedy}`; } catch { /* no words came */ }
  throw Object.assign(new Refused(answer.status, said, ""), { waitS: Number(answer.headers.get("retry-after")) || 0 });
}

async function finished() {
  form.hidden = true;
  document.querySelector(".guide")?.removeAttribute("open");
  at("done").hidden = false;
  at("done-words").textContent = `${chosen.length === 1 ? "The clip has" : `All ${chosen.length} clips have`} arrived. You may close this page.`;
  at("done").focus();
  const stop = at("stop");
  if (!stop.hidden) at("done").prepend(stop);  // before anything else is read
  for (let tries = 0; tries < 240; tries++) {
    const { clips } = await get(`${here}/sets/${set}`, { quiet: true }).catch(() => ({ clips: [] }));
    at("judged").replaceChildren(...clips.map(told));
    if (clips.length && clips.every((/** @type {any} */ c) => c.measured)) return;
    await wait(LOOK_MS);
  }
}

/** What is known of one clip so far: first what a first look shows, later what the measuring found. @param {any} clip */
function told(clip) {
  const box = document.createElement("div"), head = document.createElement("h3");
  head.textContent = clip.name;
  box.append(head);
  const first = clip.first, counted = clip.can !== null && clip.can !== undefined;
  if (counted) line(box, `Measured. Seen ${clip.view || "from where it was filmed"}: ${clip.can} of ${clip.of} things can be judged in it.`);
  else if (first) {
    line(box, first.view);
    if (first.can !== null) line(box, `From there up to ${first.can} of ${first.of} things can be judged. How many of them this clip shows is said once it is measured, which takes about as long as the clip.`);
    if (first.hidden) line(box, first.hidden);
  } else line(box, clip.looked ? "It plays. Where it was filmed from is being looked at." : "It is being looked at.");
  if (clip.told.length) list(box, "Next time", clip.told);
  const without = counted ? clip.without : first?.without ?? [];
  if (without.length) list(box, "To see the rest", without);
  return box;
}

/** @param {HTMLElement} box @param {string} words */
function line(box, words) {
  const p = document.createElement("p");
  p.textContent = words;
  box.append(p);
}

/** @param {HTMLElement} box @param {string} title @param {string[]} rows */
function list(box, title, rows) {
  const head = document.createElement("h4"), ul = document.createElement("ul");
  head.textContent = title;
  for (const words of rows) { const li = document.createElement("li"); li.textContent = words; ul.append(li); }
  box.append(head, ul);
}

at("another").addEventListener("click", () => location.reload());
