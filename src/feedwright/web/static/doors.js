// On a narrow screen the doors of a section lie in one row that scrolls: it begins with the current one in view.
"use strict";

for (const current of document.querySelectorAll(".doors [aria-current]")) {
  const row = current.parentElement;
  row.scrollLeft = current.offsetLeft - row.offsetLeft - (row.clientWidth - current.offsetWidth) / 2;
}
