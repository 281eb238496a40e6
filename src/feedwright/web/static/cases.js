// Narrows the pictured symptoms to those whose words hold what is typed.
"use strict";

const stem = (word) => word.replace(/(ings|ing|ed|es|s)$/, (end) => (word.length - end.length >= 3 ? "" : end));

for (const input of document.querySelectorAll("[data-filters]")) {
  const list = document.getElementById(input.dataset.filters);
  const none = document.querySelector(`[data-none="${input.dataset.filters}"]`);
  const narrow = () => {
    const wanted = input.value.toLowerCase().split(/[^a-z0-9]+/).filter((word) => word.length > 1).map(stem);
    let shown = 0;
    for (const pick of list.querySelectorAll("[data-words]")) {
      const fits = wanted.every((word) => pick.dataset.words.includes(word)) || pick.querySelector("input").checked;
      pick.hidden = !fits;
      shown += fits ? 1 : 0;
    }
    for (const group of list.querySelectorAll("fieldset")) {
      group.hidden = !group.querySelector("[data-words]:not([hidden])");
    }
    none.hidden = shown > 0;
  };
  input.addEventListener("input", narrow);
  if (input.value) narrow(); // typed before this ran, or kept by the browser on the way back
  // the search box is no part of what is sent, and Enter in it must not send the form
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") event.preventDefault();
  });
}
