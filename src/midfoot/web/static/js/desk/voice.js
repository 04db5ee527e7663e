/** The voice-over: the microphone, and what the player did meanwhile. Played back, taken again in parts, deleted. */

import { ask, get, post, refusal } from "../api.js";
import { hear } from "../events.js";
import { bind } from "../keys.js";
import { toast } from "../toast.js";
import { Notes, round } from "./notes.js";

const KINDS = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus", "audio/mp4"];
const LEAST_S = 0.5, STEP_MS = 100;
/** A recorder hears from the moment it is asked to, and says so once its first piece is encoded (60 ms of Opus and a little)
 * and the page has time to listen. Only where that takes very long did the microphone begin late. */
const FIRST_MS = 70, SLOW_MS = 400;
/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
/** @param {number} s */
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;

class Voice {
  /** @param {any} desk the page's SetDesk */
  constructor(desk) {
    this.desk = desk;
    this.player = desk.player;
    this.set = desk.set;
    /** @type {any} */ this.state = { takes: [], whole: [], length_s: 0, files: [], without_sound: [] };
    /** @type {MediaRecorder | null} */ this.recorder = null;
    this.notes = new Notes(this.player, this.desk.overlay, () => this.recorder?.state === "recording");
    /** @type {{name: string, meta: any, sound: Blob}[]} takes that the desk has not confirmed */ this.unsent = [];
    this.line = -1;
    this.playing = false;
    this.sound = new Audio();
    at("voice-record").addEventListener("click", () => void this.record());
    at("voice-again").addEventListener("click", () => void this.record(this._section()));
    at("voice-stop").addEventListener("click", () => this.stop());
    at("voice-line").addEventListener("click", () => this.next());
    at("voice-play").addEventListener("click", () => { if (this.playing) this.halt(); else void this.play(); });
    at("voice-make").addEventListener("click", () => void this.make());
    at("voice-place").addEventListener("input", () => this._place());
    bind("Alt+r", "record the voice-over, or end it", () => { if (this.recorder) this.stop(); else void this.record(); }, { group: "Voice-over" });
    bind("Alt+n", "next line of the script", () => this.next(), { group: "Voice-over", when: () => !!this.recorder });
    bind("Alt+p", "play the voice-over, or stop it", () => { if (this.playing) this.halt(); else void this.play(); }, { group: "Voice-over" });
    addEventListener("beforeunload", (event) => { if (this.recorder || this.unsent.length) event.preventDefault(); });
    hear("job", (job) => {
      if (job.kind !== "take" || job.set !== this.set) return;
      if (job.state === "done") { this.say("The videos are made."); void this.load(); }
      else if (job.state === "failed") this.say(job.error || "The videos could not be made.");
      else this.say(`Making the videos${job.message ? `: ${job.message}` : ""} ${Math.round(100 * (job.progress ?? 0))} %`);
    });
  }

  /** When the recording began, on the page's clock; 0 before. */
  get begun() { return this.notes.begun; }

  /** @param {string} words */
  say(words) { at("voice-words").textContent = words; }

  async load() { this.show(await get(`/sets/${this.set}/takes.json`, { quiet: true })); }

  /** @param {any} state */
  show(state) {
    this.state = state;
    const some = state.takes.length > 0, now = !!this.recorder;
    at("voice-record").hidden = now; at("voice-stop").hidden = at("voice-live").hidden = !now;
    at("voice-whole").hidden = now || !some;
    at("voice-empty").hidden = some || now;
    at("voice-record").textContent = some ? "Record all again" : "Record";
    at("voice-length").textContent = clock(state.length_s);
    const place = at("voice-place");
    place.max = String(state.length_s); place.step = "0.1";
    this._place();
    at("voice-takes").replaceChildren(...state.takes.map((/** @type {any} */ t) => this._row(t)));
    at("voice-files").replaceChildren(...state.files.map((/** @type {string} */ name) => {
      const li = document.createElement("li"), a = document.createElement("a");
      a.href = `/sets/${this.set}/voice/${name}`; a.download = name;
      a.textContent = { "voice-over.mp4": "Video, wide", "voice-over-upright.mp4": "Video, upright", "voice-over.vtt": "Subtitles" }[name] ?? name;
      li.append(a);
      return li;
    }));
  }

  /** @param {any} take */
  _row(take) {
    const li = document.createElement("li"), words = document.createElement("span"), gone = document.createElement("button");
    const again = take.replaces ? `, for a part of take ${this.state.takes.find((/** @type {any} */ t) => t.id === take.replaces)?.n ?? ""}` : "";
    words.textContent = `Take ${take.n}, ${clock(take.duration_s)}${again}${take.used ? "" : ", not heard any more"}`;
    gone.type = "button"; gone.className = "plain"; gone.textContent = "Delete";
    gone.setAttribute("aria-label", `Delete take ${take.n} and its sound`);
    gone.addEventListener("click", async () => {
      if (gone.dataset.sure) { this.halt(); this.show(await ask("DELETE", `/takes/${take.id}`)); toast(`Take ${take.n} and its sound are deleted.`); return; }
      gone.dataset.sure = "1"; gone.textContent = "Delete its sound for good?";
    });
    li.append(words, gone);
    return li;
  }

  _place() { at("voice-at").textContent = clock(Number(at("voice-place").value)); }

  /** From the place on the line to the end of what was said with it: the script's line, or the whole rest. */
  _section() {
    const from = Number(at("voice-place").value);
    return { from_s: from, to_s: at("voice-rest").checked ? this.state.length_s : this._lineEnd(from) };
  }

  /** @param {number} from */
  _lineEnd(from) {
    const next = this._timeline().find((e) => e.kind === "line" && e.whole_s > from + 0.2);
    return next ? next.whole_s : this.state.length_s;
  }

  /** All events with their moment of the voice-over. @returns {any[]} */
  _timeline() {
    const out = [];
    let begun = 0;
    for (const s of this.state.whole) {
      const take = this.state.takes.find((/** @type {any} */ t) => t.id === s.take);
      for (const e of take?.events ?? []) if (e.at_s >= s.from_s && e.at_s < s.to_s) out.push({ ...e, whole_s: begun + e.at_s - s.from_s });
      begun += s.to_s - s.from_s;
    }
    return out;
  }

  /** The lines of the script as they stand in the preview. @returns {string[]} */
  lines() { return [...document.querySelectorAll("ol.script li p")].map((l) => l.textContent?.trim() ?? ""); }

  next() {
    if (!this.recorder) return;
    const lines = this.lines();
    if (this.line + 1 >= lines.length) return;
    this.line += 1;
    this.notes.note("line", { line: this.line });
    at("voice-script").textContent = lines[this.line];
    at("voice-then").textContent = lines[this.line + 1] ? `Then: ${lines[this.line + 1]}` : "That was the last line.";
  }

  /** @param {{from_s: number, to_s: number}} [again] */
  async record(again) {
    if (this.recorder) return;
    this.halt();
    if (!navigator.mediaDevices?.getUserMedia || !("MediaRecorder" in window)) { this.say("This browser gives no microphone here; open the desk at http://localhost on this machine."); return; }
    let stream;
    try { stream = await navigator.mediaDevices.getUserMedia({ audio: true }); }
    catch { this.say("The browser did not give the microphone; allow it for this page, then press Record."); return; }
    const kind = KINDS.find((k) => MediaRecorder.isTypeSupported(k));
    const recorder = new MediaRecorder(stream, kind ? { mimeType: kind } : {});
    /** @type {Blob[]} */ const pieces = [];
    recorder.addEventListener("dataavailable", (event) => { if (event.data.size) pieces.push(event.data); });
    recorder.addEventListener("start", () => {
      const late = 1000 * (stream.getAudioTracks()[0]?.getSettings().latency ?? 0);
      const now = performance.now();
      this.notes.begin((now - asked < SLOW_MS ? asked : now - FIRST_MS) - late);
      this.line = again ? this._lineAt(again.from_s) - 1 : -1;
      this.next();
      this.timer = setInterval(() => { at("voice-time").textContent = clock((performance.now() - this.begun) / 1000); }, STEP_MS);
    });
    recorder.addEventListener("stop", () => {
      clearInterval(this.timer);
      for (const track of stream.getTracks()) track.stop();
      const seconds = ((this.ended ?? performance.now()) - this.begun) / 1000;
      this.recorder = null;
      this.player.pause();
      if (seconds < LEAST_S) { this.say("That was too short to be kept."); this.show(this.state); return; }
      const name = `${Date.now().toString(36)}${Math.random().toString(36).slice(2, 8)}`;
      this.unsent.push({ name, meta: { name, duration_s: round(seconds), events: this.notes.events, again: again ?? null }, sound: new Blob(pieces, { type: recorder.mimeType || "audio/webm" }) });
      void this.send();
    });
    this.recorder = recorder;
    this.show(this.state);
    this.say(again ? `Recording again from ${clock(again.from_s)} to ${clock(again.to_s)}.` : "Recording. Use the player as you speak.");
    const asked = performance.now();
    recorder.start(1000);
    at("voice-stop").focus();
  }

  /** @param {number} s */
  _lineAt(s) { return this._timeline().filter((e) => e.kind === "line" && e.whole_s <= s + 0.05).at(-1)?.line ?? 0; }

  stop() {
    if (!this.recorder || this.recorder.state === "inactive") return;
    this.ended = performance.now();
    this.recorder.stop();
  }

  /** Send what is not sent; what the desk did not take stays here and is tried again. */
  async send() {
    while (this.unsent.length) {
      const { meta, sound } = this.unsent[0];
      this.say("Keeping the recording …");
      try {
        const { id } = await post(`/sets/${this.set}/takes`, meta, { quiet: true });
        const answer = await fetch(`/takes/${id}/sound`, { method: "PUT", body: sound, headers: { "content-type": sound.type.split(";")[0], accept: "application/json" } });
        if (!answer.ok) throw await refusal(answer);
        this.unsent.shift();
        this.show(await answer.json());
        this.say("The recording is kept.");
      } catch (error) {
        this.show(this.state);
        const status = /** @type {any} */ (error).status ?? 0;
        if (status >= 400 && status < 500) { this.unsent.shift(); this.say(/** @type {Error} */ (error).message); return; }
        this.say(`${/** @type {Error} */ (error).message} The recording waits in this page; do not close it.`);
        setTimeout(() => void this.send(), 5000);
        return;
      }
    }
  }

  async play() {
    if (!this.state.whole.length || this.recorder) return;
    this.playing = true;
    at("voice-play").textContent = "Stop";
    const from = Number(at("voice-place").value), start = from < this.state.length_s - 0.3 ? from : 0;
    let begun = 0;
    for (const s of this.state.whole) {
      const length = s.to_s - s.from_s;
      if (start < begun + length && this.playing) await this._stretch(s, begun, Math.max(0, start - begun));
      begun += length;
    }
    this.halt();
  }

  /** @param {any} s @param {number} begun @param {number} skip @returns {Promise<void>} */
  _stretch(s, begun, skip) {
    const take = this.state.takes.find((/** @type {any} */ t) => t.id === s.take);
    const sound = this.sound, events = take.events, p = this.player;
    let next = 0;
    return new Promise((resolve) => {
      const end = () => { sound.pause(); clearInterval(timer); resolve(); };
      const tick = () => {
        if (!this.playing) { end(); return; }
        const now = sound.currentTime;
        at("voice-place").value = String(begun + now - s.from_s); this._place();
        while (next < events.length && events[next].at_s <= now) this._do(events[next++], now);
        if (now >= s.to_s || sound.ended) { p.pause(); end(); }
      };
      const timer = setInterval(tick, 30);
      sound.src = `/takes/${take.id}/sound`;
      sound.addEventListener("loadedmetadata", () => { sound.currentTime = s.from_s + skip; void sound.play().catch(() => end()); }, { once: true });
      sound.addEventListener("error", () => { this.say("The recording cannot be played."); end(); }, { once: true });
    });
  }

  /** @param {any} e @param {number} now */
  _do(e, now) {
    const p = this.player, o = this.desk.overlay;
    if (e.kind === "layers") { for (const name of Object.keys(o.layers)) o.layers[name] = (e.layers ?? []).includes(name); o.draw(); }
    else if (e.kind === "mark") { o.pointed = e.mark ? [...o.pointed, e.mark] : []; o.draw(); }
    else if (e.kind === "line") at("voice-words").textContent = this.lines()[e.line ?? 0] ?? "";
    else if (e.kind === "rate") p.rate = e.rate ?? 1;
    else if (e.kind === "play") { p.rate = e.rate ?? 1; p.seek(e.t_s + (now - e.at_s) * (e.rate ?? 1)); p.play(); }
    else { p.pause(); if (e.kind === "seek") o.pointed = []; p.seek(e.t_s); }
  }

  halt() {
    if (!this.playing) return;
    this.playing = false;
    this.sound.pause();
    this.player.pause();
    at("voice-play").textContent = "Play";
  }

  async make() {
    this.say("The videos are being made; you can go on.");
    await post(`/sets/${this.set}/takes/videos`);
  }
}

document.addEventListener("desk:ready", (event) => {
  if (!document.getElementById("voice-part")) return;
  const voice = new Voice(/** @type {CustomEvent} */ (event).detail.desk);
  /** @type {any} */ (window).midfootVoice = voice;
  void voice.load();
});
