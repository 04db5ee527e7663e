/** Requests to the desk. Every failure is one sentence with a remedy, and is shown. */

import { toast } from "./toast.js";

export class Refused extends Error {
  /** @param {number} status @param {string} says @param {string} remedy */
  constructor(status, says, remedy) {
    super(`${says} ${remedy}`.trim());
    this.status = status; this.says = says; this.remedy = remedy;
  }
}

/** @param {Response} response */
export async function refusal(response) {
  try {
    const { error } = await response.json();
    return new Refused(response.status, error.says, error.remedy);
  } catch {
    return new Refused(response.status, "The desk gave no usable answer.", "Reload the page.");
  }
}

/**
 * Ask the desk; gives the JSON answer (null when empty). Throws Refused after showing it, unless `quiet`.
 * @param {string} method
 * @param {string} address
 * @param {unknown} [body] sent as JSON; FormData goes as it is
 * @param {{quiet?: boolean, signal?: AbortSignal}} [more]
 */
export async function ask(method, address, body, more = {}) {
  /** @type {Record<string, string>} */
  const headers = { accept: "application/json" };
  let data;
  if (body instanceof FormData) data = new URLSearchParams(/** @type {any} */ (body));
  else if (body !== undefined) { data = JSON.stringify(body); headers["content-type"] = "application/json"; }
  let response;
  try {
    response = await fetch(address, { method, headers, body: data, signal: more.signal });
  } catch (error) {
    if (/** @type {Error} */ (error).name === "AbortError") throw error;
    const gone = new Refused(0, "The desk does not answer.", "Is `midfoot serve` still running? Nothing that was saved is lost.");
    if (!more.quiet) toast(gone.message, { stays: true });
    throw gone;
  }
  if (!response.ok) {
    const why = await refusal(response);
    if (!more.quiet) toast(why.message, { stays: true });
    throw why;
  }
  const text = await response.text();
  return text ? JSON.parse(text) : null;
}

/** @param {string} address @param {{quiet?: boolean, signal?: AbortSignal}} [more] */
export const get = (address, more) => ask("GET", address, undefined, more);
/** @param {string} address @param {unknown} [body] @param {{quiet?: boolean, signal?: AbortSignal}} [more] */
export const post = (address, body, more) => ask("POST", address, body ?? {}, more);
