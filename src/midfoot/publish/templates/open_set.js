/** Answering an open set: moments and words, sent once; without an address they are saved as a file. */
const at = (id) => document.getElementById(id);
const video = at("video"), where = document.body.dataset.answers, kept = `midfoot.open.${location.pathname}`;
const seen = [];
const token = () => { const bytes = crypto.getRandomValues(new Uint8Array(18)); return btoa(String.fromCharCode(...bytes)).replace(/\+/g, "-").replace(/\//g, "_"); };
let mine = "";
try { mine = localStorage.getItem(kept) || ""; if (!mine) { mine = token(); localStorage.setItem(kept, mine); } } catch { mine = token(); }

function show() {
  at("seen").replaceChildren(...seen.map((one, k) => {
    const li = document.createElement("li"), gone = document.createElement("button");
    const what = one.what ? [...at("what").options].find((o) => o.value === one.what).textContent : "";
    li.append(`${[what, one.words].filter(Boolean).join(": ")}${one.rep ? `, rep ${one.rep}` : ""}, at ${one.at_s.toFixed(1)} s `);
    gone.type = "button"; gone.textContent = "Take out"; gone.setAttribute("aria-label", `Take out number ${k + 1}`);
    gone.addEventListener("click", () => { seen.splice(k, 1); show(); });
    li.append(gone);
    return li;
  }));
  at("send").disabled = !seen.length;
}
at("add").addEventListener("click", () => {
  const words = at("own").value.trim();
  if (!at("what").value && !words) { at("says").textContent = "Choose something of the list or write what you see."; at("own").focus(); return; }
  if (seen.length >= 8) { at("says").textContent = "Eight things are as many as one answer holds."; return; }
  seen.push({ what: at("what").value, words, rep: Number(at("rep").value) || null, at_s: Number(video.currentTime.toFixed(2)) });
  at("own").value = ""; at("what").value = ""; at("says").textContent = "Added.";
  show();
});
at("slow").addEventListener("click", () => { const on = video.playbackRate === 1; video.playbackRate = on ? 0.25 : 1; at("slow").setAttribute("aria-pressed", String(on)); });
at("back").addEventListener("click", () => { video.pause(); video.currentTime = Math.max(0, video.currentTime - 0.1); });
at("on").addEventListener("click", () => { video.pause(); video.currentTime += 0.1; });
at("answer").addEventListener("submit", async (event) => {
  event.preventDefault();
  const body = JSON.stringify({ token: mine, seen });
  if (!where) {
    const a = document.createElement("a");
    a.href = URL.createObjectURL(new Blob([body], { type: "application/json" })); a.download = "what-i-see.json"; a.click();
    at("says").textContent = "Saved. Send the file to the coach."; return;
  }
  at("send").disabled = true;
  try {
    const answer = await fetch(where, { method: "POST", body, headers: { "content-type": "text/plain" }, credentials: "omit" });
    const said = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(said.error ? `${said.error.says} ${said.error.remedy}` : "It could not be sent; try again.");
    at("answer").hidden = true;
    const done = document.createElement("p"); done.setAttribute("role", "status"); done.textContent = "Thank you. It is read before it counts; what came of it stands in the next edition.";
    at("answer").after(done);
  } catch (error) { at("says").textContent = error instanceof TypeError ? "There is no connection; try again." : error.message; at("send").disabled = false; }
});
show();
