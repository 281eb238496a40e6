// Copies the order list. The clipboard is only given to secure pages, so that the text is marked for copying otherwise.
"use strict";

for (const button of document.querySelectorAll("[data-copy]")) {
  const text = document.getElementById(button.dataset.copy);
  const said = document.querySelector("[data-copied]");
  button.hidden = false;
  button.addEventListener("click", async () => {
    text.select();
    let copied = false;
    try {
      await navigator.clipboard.writeText(text.value);
      copied = true;
    } catch {
      copied = document.execCommand("copy");
    }
    said.textContent = copied ? "Copied." : "Marked: copy it by hand.";
  });
}
