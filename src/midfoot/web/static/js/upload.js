/** Clips on their way to the desk: each is sent as it is, with progress, a few at a time. */

import { Refused } from "./api.js";

const AT_ONCE = 3;

/**
 * Send one file as the raw body of a PUT. XMLHttpRequest, because fetch tells no progress of what is sent.
 * @param {File} file
 * @param {string} address
 * @param {(share: number) => void} progress
 * @returns {{done: Promise<any>, stop: () => void}}
 */
export function send(file, address, progress) {
  const request = new XMLHttpRequest();
  const done = new Promise((resolve, reject) => {
    request.open("PUT", address);
    request.setRequestHeader("accept", "application/json");
    request.setRequestHeader("content-type", "application/octet-stream");
    request.upload.addEventListener("progress", (event) => { if (event.lengthComputable) progress(event.loaded / event.total); });
    request.addEventListener("load", () => {
      let answer = null;
      try { answer = JSON.parse(request.responseText); } catch { /* told below */ }
      if (request.status >= 200 && request.status < 300 && answer) resolve(answer);
      else reject(new Refused(request.status, answer?.error?.says ?? "The desk gave no usable answer.", answer?.error?.remedy ?? "Send it again."));
    });
    request.addEventListener("error", () => reject(new Refused(0, "The connection broke.", "Is `midfoot serve` still running? Send it again.")));
    request.addEventListener("abort", () => reject(new Refused(0, "Stopped.", "")));
    request.send(file);
  });
  return { done, stop: () => request.abort() };
}

/** A line of files: at most three are sent at once, in the order in which they were given. */
export class Line {
  constructor() {
    /** @type {(() => Promise<void>)[]} */
    this.waiting = [];
    this.running = 0;
  }

  /** @param {() => Promise<void>} work */
  add(work) {
    this.waiting.push(work);
    this.next();
  }

  next() {
    while (this.running < AT_ONCE && this.waiting.length) {
      const work = /** @type {() => Promise<void>} */ (this.waiting.shift());
      this.running += 1;
      work().finally(() => { this.running -= 1; this.next(); });
    }
  }
}
