/** A question in the page before something that cannot be called back; the way out has the focus. */

/**
 * @param {string} question @param {string} [yes] what the button says that does it
 * @returns {Promise<boolean>} whether it is meant
 */
export function sure(question, yes = "Yes") {
  const sheet = document.createElement("dialog"), words = document.createElement("p"), row = document.createElement("div");
  const does = document.createElement("button"), leave = document.createElement("button");
  sheet.setAttribute("aria-label", "Are you sure?");
  words.textContent = question;
  does.className = "first"; does.type = leave.type = "button";
  does.textContent = yes; leave.textContent = "No, leave it";
  row.className = "buttons"; row.append(does, leave);
  sheet.append(words, row);
  document.body.append(sheet);
  return new Promise((done) => {
    leave.addEventListener("click", () => sheet.close());
    does.addEventListener("click", () => sheet.close("yes"));
    sheet.addEventListener("close", () => { sheet.remove(); done(sheet.returnValue === "yes"); });
    sheet.showModal();
    leave.focus();
  });
}
