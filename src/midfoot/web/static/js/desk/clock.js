/** Frames by their timestamps. Index over frame rate is never time: phones record at rates that vary. */

const SAME_S = 0.0008;

export class Clock {
  /**
   * @param {number[]} pts when each frame is shown, s on the file's own clock, ascending
   * @param {number} [speed] how many times slower than life the file plays
   */
  constructor(pts, speed = 1) {
    this.pts = Float64Array.from(pts);
    this.speed = speed;
    const gaps = Array.from(this.pts).slice(1).map((t, i) => t - this.pts[i]).sort((a, b) => a - b);
    this.gap = gaps.length ? gaps[gaps.length >> 1] : 1 / 30;
  }

  get count() { return this.pts.length; }

  /** The frame that is shown at a time of the file: the last that began. @param {number} media */
  indexAt(media) {
    let low = 0, high = this.count - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.pts[middle] <= media + SAME_S) low = middle; else high = middle - 1;
    }
    return low;
  }

  /** The frame whose timestamp is nearest. @param {number} media */
  nearest(media) {
    const i = this.indexAt(media);
    return i + 1 < this.count && this.pts[i + 1] - media < media - this.pts[i] ? i + 1 : i;
  }

  /** The middle of the interval in which a frame is shown: a seek there cannot land beside it. @param {number} i */
  middle(i) {
    const next = i + 1 < this.count ? this.pts[i + 1] : this.pts[i] + this.gap;
    return (this.pts[i] + next) / 2;
  }

  /** Time of a frame on the clip's clock (s of real time). @param {number} i */
  timeOf(i) { return this.pts[i] / this.speed; }

  /** The frame nearest to a time on the clip's clock. @param {number} t_s */
  frameOf(t_s) { return this.nearest(t_s * this.speed); }

  get duration() { return (this.pts[this.count - 1] + this.gap) / this.speed; }
}
