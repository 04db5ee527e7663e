/** The clip, frame by frame: what is shown is known by its timestamp, a seek goes to the middle of a frame. */

/** @typedef {import("./clock.js").Clock} Clock */

export const RATES = [0.125, 0.25, 0.5, 1];
/** A frame that was sought is reported within some 30 ms; after so long it is asked for again. */
const LATE_MS = 200, MOST_TRIES = 3;

export class Player {
  /** @param {HTMLVideoElement} video @param {Clock} clock */
  constructor(video, clock) {
    this.video = video;
    this.clock = clock;
    /** the frame that is wanted: steps count from it */
    this.frame = 0;
    /** the frame that stands in the picture, -1 before the first */
    this.shown = -1;
    /** @type {{a: number, b: number, name: string} | null} frames first and last */
    this.span = null;
    /** @type {Map<string, Set<(detail: any) => void>>} */
    this._hearers = new Map();
    this._exact = "requestVideoFrameCallback" in HTMLVideoElement.prototype;
    /** @type {number | null} */ this._until = null;
    this._tries = 0;
    /** @type {ReturnType<typeof setTimeout> | undefined} */ this._timer = undefined;
    if (this._exact) this._watch();
    else this._guess();
    video.addEventListener("seeked", () => this._seeked());
    video.addEventListener("play", () => { this._emit("play", null); if (!this._exact) this._tick(); });
    video.addEventListener("pause", () => {
      // a seek that came with the pause has said already which frame is wanted
      if (!this._ended && !video.seeking && this._until === null) this.frame = Math.max(0, this.shown);
      this._emit("pause", null);
    });
    video.addEventListener("ended", () => { if (this.span) this._again(); });
    video.addEventListener("ratechange", () => this._emit("rate", { rate: video.playbackRate }));
    if (video.readyState >= 2) this.show(0);
    else video.addEventListener("loadeddata", () => this.show(this.frame), { once: true });
  }

  /** @param {string} name @param {(detail: any) => void} run */
  on(name, run) {
    if (!this._hearers.has(name)) this._hearers.set(name, new Set());
    this._hearers.get(name)?.add(run);
    return () => this._hearers.get(name)?.delete(run);
  }

  /** @param {string} name @param {any} detail */
  _emit(name, detail) { for (const run of this._hearers.get(name) ?? []) run(detail); }

  get playing() { return !this.video.paused && !this.video.ended; }
  get _ended() { return this.video.ended; }
  /** Time of the wanted frame on the clip's clock, s. */
  get time() { return this.clock.timeOf(this.frame); }
  /** Time of the clip at this very moment, between frames too, s. */
  get running() { return this.video.currentTime / this.clock.speed; }
  get rate() { return this.video.playbackRate; }
  set rate(value) { this.video.defaultPlaybackRate = value; this.video.playbackRate = value; }

  _watch() {
    /** @param {number} _now @param {{mediaTime: number, expectedDisplayTime: number}} what */
    const presented = (_now, what) => {
      this._present(this.clock.nearest(what.mediaTime), what.expectedDisplayTime);
      this.video.requestVideoFrameCallback(presented);
    };
    this.video.requestVideoFrameCallback(presented);
  }

  _guess() { this.video.addEventListener("timeupdate", () => this._present(this.clock.indexAt(this.video.currentTime))); }
  _tick() {
    if (!this.playing) return;
    this._present(this.clock.indexAt(this.video.currentTime));
    requestAnimationFrame(() => this._tick());
  }

  /** @param {number} i @param {number} [at_ms] when it comes to stand in the picture, on the page's clock */
  _present(i, at_ms = performance.now()) {
    const fresh = i !== this.shown;
    this.shown = i;
    if (this.playing) {
      if (this.span && (i >= this.span.b || i < this.span.a - 1)) { this._again(); return; }
      this.frame = i;
    }
    if (fresh) this._emit("frame", { frame: i, t_s: this.clock.timeOf(i), at_ms, playing: this.playing });
  }

  _again() {
    if (!this.span) return;
    const { a } = this.span;
    this.frame = a;
    this._turning = true;
    this.video.currentTime = this.clock.middle(a);
    if (this.video.paused) void this.video.play().catch(() => {});
  }

  _seeked() {
    this._turning = false;
    if (!this._exact) this._present(this.clock.indexAt(this.video.currentTime));
    if (this._until !== null) {
      const next = this._until;
      this._until = null;
      if (next !== this._asked) { this._go(next); return; }
    }
    this._emit("seek", { frame: this.frame, t_s: this.time });
    this._make_sure();
  }

  /** A picture that was not reported after its seek is asked for again, a little beside the middle of its interval. */
  _make_sure() {
    clearTimeout(this._timer);
    if (!this._exact || this.playing) return;
    const { frame } = this;
    this._timer = setTimeout(() => {
      if (this.playing || this.video.seeking || this.frame !== frame || this.shown === frame) return;
      if (++this._tries > MOST_TRIES) { this._present(this.clock.indexAt(this.video.currentTime)); return; }
      this.video.currentTime = this.clock.middle(frame) + 1e-3 * (this._tries % 2 ? 1 : -1);
    }, LATE_MS);
  }

  /** @param {number} i */
  _go(i) { this._asked = i; this._tries = 0; this.video.currentTime = this.clock.middle(i); }

  /** Show a frame. While a seek is under way only the last frame asked for is kept. @param {number} i */
  show(i) {
    this.frame = Math.max(0, Math.min(this.clock.count - 1, i));
    this._emit("wanted", { frame: this.frame, t_s: this.time });
    if (this.video.seeking) { this._until = this.frame; return; }
    this._go(this.frame);
  }

  /** Show the frame nearest to a moment of the clip. @param {number} t_s */
  seek(t_s) { this.show(this.clock.frameOf(t_s)); }

  /** Stop, and go some frames on or back. @param {number} frames */
  step(frames) {
    if (this.playing) { this.video.pause(); this.frame = Math.max(0, this.shown); }
    this.show(this.frame + frames);
  }

  play() {
    if (this.span && (this.frame < this.span.a || this.frame >= this.span.b)) this.show(this.span.a);
    else if (this.frame >= this.clock.count - 1) this.show(0);
    void this.video.play().catch(() => {});
  }

  pause() { this.video.pause(); }
  toggle() { if (this.playing) this.pause(); else this.play(); }

  /** Repeat what lies between two moments of the clip. @param {number} a_s @param {number} b_s @param {string} [name] */
  loop(a_s, b_s, name = "") {
    const a = this.clock.frameOf(a_s);
    this.span = { a, b: Math.max(a + 1, this.clock.frameOf(b_s)), name };
    this._emit("loop", this.span);
    if (this.frame < this.span.a || this.frame > this.span.b) this.show(a);
  }

  unloop() { this.span = null; this._emit("loop", null); }

  /** @param {number} by -1 slower, +1 faster */
  faster(by) {
    const known = RATES.indexOf(this.rate);
    const here = known >= 0 ? known : RATES.length - 1;
    this.rate = RATES[Math.max(0, Math.min(RATES.length - 1, here + by))];
  }
}
