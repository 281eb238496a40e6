// The key "/" leads to the search field, unless somebody is writing.
"use strict";

addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, [contenteditable]")) return;
  const field = [...document.querySelectorAll("#find-all, #asked")].find((one) => one.checkVisibility());
  if (!field) return;
  event.preventDefault();
  field.focus();
  field.select();
});
