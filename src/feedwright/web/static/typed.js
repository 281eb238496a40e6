// Keeps what was typed into a form until it is taken: after a refusal the form is there again as it was filled in, with
// the refusal above it. It is kept for this tab alone. Passwords and hidden fields are left out, files cannot be kept.
"use strict";

{
  const KEPT = "feedwright typed";
  const NOT_KEPT = ["hidden", "password", "file", "submit", "button"];
  const here = location.pathname + location.search;

  const controls = (form) => [...form.elements].filter((one) => one.name && !NOT_KEPT.includes(one.type));
  const alike = (form) => [...document.forms].filter((one) => one.getAttribute("action") === form.getAttribute("action"));

  addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    const fields = controls(form).map((one) => ({ name: one.name, value: one.value, checked: one.checked }));
    const hadFile = [...form.elements].some((one) => one.type === "file" && one.files.length);
    const typed = { page: here, action: form.getAttribute("action"), nth: alike(form).indexOf(form), fields, hadFile };
    if (fields.length) sessionStorage.setItem(KEPT, JSON.stringify(typed));
  });

  const typed = JSON.parse(sessionStorage.getItem(KEPT));
  const refusal = document.querySelector("[data-refusal]");
  if (typed && refusal) {
    typed.refusal = [...refusal.children].map((line) => line.textContent);
    sessionStorage.setItem(KEPT, JSON.stringify(typed));
    const back = document.querySelector("[data-back]");
    if (back && back.getAttribute("href") === typed.page) back.textContent = "Back to what you typed";
  } else if (typed && location.pathname !== "/sign-in") {  // signed in anew, one comes back to the form
    sessionStorage.removeItem(KEPT);
    if (typed.refusal && typed.page === here) fillAgain(typed);
  }

  function fillAgain(typed) {
    const form = [...document.forms].filter((one) => one.getAttribute("action") === typed.action)[typed.nth];
    if (!form) return;
    const left = [...typed.fields];
    for (const control of controls(form)) {
      const at = left.findIndex((one) => one.name === control.name);
      if (at >= 0) fill(control, left.splice(at, 1)[0]);
    }
    form.before(told(typed));
    form.previousElementSibling.scrollIntoView();
  }

  function fill(control, was) {
    const changed = control.value !== was.value || control.checked !== was.checked;
    if (!changed) return;
    if (control.type === "checkbox" || control.type === "radio") control.checked = was.checked;
    else control.value = was.value;
    for (let fold = control.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    for (const kind of ["input", "change"]) control.dispatchEvent(new Event(kind, { bubbles: true }));
  }

  function told(typed) {
    const box = document.createElement("section");
    box.className = "caution";
    box.setAttribute("role", "alert");
    for (const words of ["Not done.", ...typed.refusal, ...(typed.hadFile ? ["Choose the file again."] : [])]) {
      const line = document.createElement("p");
      line.textContent = words;
      box.append(line);
    }
    return box;
  }
}
