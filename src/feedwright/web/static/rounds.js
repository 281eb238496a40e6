// Planning takes some seconds: say so, and keep the button from being pressed twice.
document.querySelectorAll("form[data-planning]").forEach((form) => {
  form.addEventListener("submit", () => {
    document.querySelectorAll(".planning").forEach((line) => { line.hidden = false; line.scrollIntoView({ block: "nearest" }); });
    form.querySelectorAll("button").forEach((button) => { button.disabled = true; });
  });
});

// A field that is needed and empty says so beside it, and not in a bubble that is gone again.
document.querySelectorAll("form[data-planning] .missing").forEach((words) => {
  const input = words.parentElement.querySelector("input");
  input.addEventListener("invalid", (event) => { event.preventDefault(); words.hidden = false; input.focus(); });
  input.addEventListener("input", () => { words.hidden = true; });
});
