// Planning takes some seconds: say so, and keep the button from being pressed twice.
document.querySelectorAll("form[data-planning]").forEach((form) => {
  form.addEventListener("submit", () => {
    document.querySelectorAll(".planning").forEach((line) => { line.hidden = false; line.scrollIntoView({ block: "nearest" }); });
    form.querySelectorAll("button").forEach((button) => { button.disabled = true; });
  });
});
