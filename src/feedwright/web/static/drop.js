// Dropping files anywhere on a page that takes them. A form with data-drop sends them itself, several at once where it
// may, with progress; any other takes one file as if it had been chosen. Without this script the forms work by hand.
"use strict";

for (const input of document.querySelectorAll("input.drop[type=file]")) {
  const form = input.form;
  const take = form.dataset.drop ? sender(form, input) : (files) => { input.files = files; };

  const withFiles = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
  document.addEventListener("dragover", (event) => {
    if (withFiles(event)) { event.preventDefault(); form.classList.add("over"); }
  });
  document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) form.classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    if (!withFiles(event)) return;
    event.preventDefault();
    form.classList.remove("over");
    take(event.dataTransfer.files);
  });
}

function sender(form, input) {
  const said = document.createElement("div");
  said.className = "dropped";
  said.setAttribute("role", "status");
  form.append(said);
  input.multiple = form.hasAttribute("data-several");
  form.addEventListener("submit", (event) => { event.preventDefault(); send(input.files); });
  return send;

  async function send(given) {
    const files = [...given].slice(0, input.multiple ? undefined : 1);
    said.replaceChildren();
    let last = "";
    let refused = 0;
    for (const file of files) {
      const line = document.createElement("p");
      const bar = document.createElement("progress");
      bar.max = 1;
      bar.setAttribute("aria-label", `${file.name}, share sent`);
      const words = document.createElement("span");
      words.textContent = ` ${file.name}: sending`;
      line.append(bar, words);
      said.append(line);
      const answer = await one(file, bar, words);
      bar.remove();
      if (answer.to) last = answer.to; else refused += 1;
      words.textContent = `${file.name}: ${answer.words}`;
      if (answer.to) {
        const link = document.createElement("a");
        link.href = answer.to;
        link.textContent = " open";
        line.append(link);
      }
    }
    if (files.length === 1 && !refused) location.assign(last);
  }

  function one(file, bar, words) {
    return new Promise((resolve) => {
      const body = new FormData(form);
      body.set(input.name, file, file.name);
      const asked = new XMLHttpRequest();
      asked.open("POST", form.action);
      asked.setRequestHeader("Accept", "application/json");
      asked.responseType = "json";
      asked.upload.addEventListener("progress", (event) => { if (event.total) bar.value = event.loaded / event.total; });
      asked.upload.addEventListener("load", () => { bar.removeAttribute("value"); words.textContent = ` ${file.name}: reading`; });
      asked.addEventListener("error", () => resolve({ words: "it could not be sent; is the program still running?" }));
      asked.addEventListener("load", () => {
        const told = asked.response || {};
        if (asked.status !== 201) {
          resolve({ words: [told.place, told.expected, told.remedy].filter(Boolean).join(": ") || "it was refused" });
          return;
        }
        const to = form.dataset.drop.replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(told[name]));
        resolve({ words: "read", to });
      });
      asked.send(body);
    });
  }
}
