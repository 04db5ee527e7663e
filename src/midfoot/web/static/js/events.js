/** What happens on the desk while a page is open: progress of work, states of sets. One connection per page. */

/** @type {EventSource | null} */
let source = null;
/** @type {Map<string, Set<(data: any) => void>>} */
const hearers = new Map();

/**
 * Hear of one kind of event ("job", "set"); gives a function that ends it.
 * @param {string} kind
 * @param {(data: any) => void} run
 */
export function hear(kind, run) {
  if (!hearers.has(kind)) hearers.set(kind, new Set());
  hearers.get(kind)?.add(run);
  if (!source) {
    source = new EventSource("/events");
    addEventListener("pagehide", () => { source?.close(); source = null; });
    for (const k of hearers.keys()) listen(k);
  } else listen(kind);
  return () => hearers.get(kind)?.delete(run);
}

const listened = new Set();
/** @param {string} kind */
function listen(kind) {
  if (listened.has(kind)) return;
  listened.add(kind);
  source?.addEventListener(kind, (event) => {
    const data = JSON.parse(/** @type {MessageEvent} */ (event).data);
    for (const run of hearers.get(kind) ?? []) run(data);
  });
}
