/** A lifter's page: technique against load or over the weeks, drawn from the table beside it. */

import { draw } from "./chart.js";

const place = document.getElementById("course");
const data = document.getElementById("course-spec");
if (place && data?.textContent) {
  const spec = JSON.parse(data.textContent);
  spec.width = Math.max(260, Math.min(640, place.clientWidth - 90));
  draw(place, spec, { signals: { picked: (value) => {
    const id = value?.set_id?.[0];
    if (id) location.href = `/sets/${id}`;
  } } });
}
document.getElementById("choose-measure")?.addEventListener("change", (event) => {
  if (event.target instanceof HTMLSelectElement) event.target.form?.requestSubmit();
});
const typed = document.getElementById("erase-name");
const erase = document.getElementById("erase");
if (typed instanceof HTMLInputElement && erase instanceof HTMLButtonElement) {
  const look = () => { erase.disabled = typed.value.trim() !== typed.dataset.name; };
  typed.addEventListener("input", look);
  look();
}
