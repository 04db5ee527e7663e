/** Charts: one dress, taken from the page's own colours by day and by night. Vega comes from the desk itself. */

/** @type {Promise<any> | null} */
let loading = null;

/** The program is fetched when the first chart is drawn. */
function embedder() {
  loading ??= import("/vega.js").then(() => /** @type {any} */ (window).vegaEmbed);
  return loading;
}

/** A custom property as a plain colour; light-dark() is resolved by the browser. @param {string} name */
export function colour(name) {
  const probe = document.createElement("span");
  probe.style.color = `var(--${name})`;
  probe.hidden = true;
  document.body.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return found;
}

export function dress() {
  const [ink, soft, grid, strong, bar] = ["ink", "soft", "grid", "strong", "bar"].map(colour);
  const font = getComputedStyle(document.body).fontFamily;
  return {
    background: "transparent", font, padding: 4,
    view: { stroke: null },
    axis: { gridColor: grid, domainColor: strong, tickColor: strong, labelColor: ink, titleColor: ink, titleFontWeight: "normal", labelFontSize: 13, titleFontSize: 13 },
    legend: { labelColor: ink, titleColor: ink, labelFontSize: 13, titleFontSize: 13, titleFontWeight: "normal" },
    line: { color: bar, strokeWidth: 2 }, point: { color: bar }, circle: { color: bar }, area: { color: bar }, bar: { color: bar },
    rule: { color: soft }, text: { color: ink, fontSize: 13 },
  };
}

/**
 * Draw a Vega-Lite specification and draw it again when the theme changes; gives the Vega view.
 * @param {HTMLElement} element
 * @param {any} spec
 * @param {{signals?: Record<string, (value: any) => void>, ready?: (view: any) => void}} [more]
 */
export async function draw(element, spec, more = {}) {
  const embed = await embedder();
  // ast: expressions are read, not made into functions, as the page's policy wants it
  const options = { ast: true, actions: false, renderer: "svg", defaultStyle: false, tooltip: false };
  let result = await embed(element, spec, { ...options, config: dress() });
  const bind = () => {
    for (const [name, run] of Object.entries(more.signals ?? {})) result.view.addSignalListener(name, (_, value) => run(value));
    element.querySelector("svg")?.setAttribute("aria-hidden", "true");
    more.ready?.(result.view);
  };
  bind();
  const again = async () => {
    result.finalize();
    result = await embed(element, spec, { ...options, config: dress() });
    bind();
  };
  document.addEventListener("theme", again);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  return result.view;
}
