// One step a screen, and entries that outlive a lost connection: each is kept on the phone until the farm has it.
"use strict";

const AGAIN_MS = 4000;
const list = document.querySelector("[data-visit]");
const steps = [...list.querySelectorAll("[data-step]")];
const store = `feedwright visit ${list.dataset.visit}`;
const line = document.getElementById("visit-line");
const refusal = document.getElementById("visit-refusal");
const base = location.pathname.replace(/\/$/, "");
const person = document.getElementById("visit-person");
const WHO = "feedwright person";
let now = 0;
let sending = false;

const waiting = () => JSON.parse(localStorage.getItem(store) || "[]");
const keep = (entries) => localStorage.setItem(store, JSON.stringify(entries));
const isClosed = (step) => step.dataset.closed !== "";

function freshKey() {
  return `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 12)}`;
}

function show(number, { focus = true } = {}) {
  now = Math.max(0, Math.min(steps.length - 1, number));
  steps.forEach((step, at) => step.classList.toggle("now", at === now));
  if (focus) {
    steps[now].focus({ preventScroll: true });
    steps[now].scrollIntoView({ block: "start" });
  }
}

function tell(words = "") {
  const closed = steps.filter(isClosed).length;
  document.getElementById("visit-progress").value = closed;
  const left = waiting().length;
  const kept = left ? `${left} ${left === 1 ? "entry waits" : "entries wait"} on this phone for the connection.` : "All entries are kept.";
  line.textContent = `${closed} of ${steps.length} steps. ${words || kept}`;
  const unready = left > 0;
  document.querySelectorAll("[data-end]").forEach((button) => {
    button.disabled = unready || (button.value === "done" && closed < steps.length);
  });
}

function close(step, kind) {
  step.dataset.closed = kind;
  if (kind) step.querySelector(".visit-how").textContent = kind;
}

function refuse(entry, said) {
  const step = steps.find((one) => one.dataset.step === entry.step);
  if (step) {
    close(step, "");
    show(steps.indexOf(step));
  }
  refusal.textContent = [said.subject, said.place, said.expected, said.remedy].filter(Boolean).join(": ");
  refusal.hidden = false;
}

async function send() {
  if (sending) return;
  sending = true;
  try {
    for (let entry = waiting()[0]; entry; entry = waiting()[0]) {
      const answer = await fetch(`${base}/entries`, {
        method: "POST", body: new URLSearchParams(entry), headers: { Accept: "application/json" },
      });
      if (answer.status >= 500) throw new Error("the farm does not answer");
      keep(waiting().filter((one) => one.entry_key !== entry.entry_key));
      if (!answer.ok) refuse(entry, await answer.json());
      tell();
    }
    tell();
  } catch {
    tell();
    setTimeout(send, AGAIN_MS);
  } finally {
    sending = false;
  }
}

function enter(form, kind) {
  const entry = Object.fromEntries(new FormData(form));
  const step = form.closest("[data-step]");
  Object.assign(entry, { kind, entry_key: freshKey(), at: new Date().toISOString(), person: person?.value || "" });
  keep([...waiting(), entry]);
  refusal.hidden = true;
  close(step, kind);
  const next = steps.findIndex((one, at) => at > now && !isClosed(one));
  const open = next >= 0 ? next : steps.findIndex((one) => !isClosed(one));
  if (open >= 0) show(open);
  else document.getElementById("end").scrollIntoView();
  tell();
  send();
}

// What another device closed meanwhile shows here too.
async function look() {
  try {
    const answer = await fetch(`${base}/state`, { headers: { Accept: "application/json" } });
    const state = await answer.json();
    if (state.ended) return location.reload();
    const here = new Set(waiting().map((entry) => entry.step));
    for (const step of steps) {
      if (!here.has(step.dataset.step)) close(step, state.closed[step.dataset.step] || "");
    }
    tell();
  } catch {
    tell();
  }
}

function startTimer(button) {
  const until = Date.now() + 1000 * Number(button.dataset.seconds);
  const face = button.nextElementSibling;
  button.hidden = true;
  const tick = setInterval(() => {
    const left = Math.max(0, Math.round((until - Date.now()) / 1000));
    face.textContent = left ? `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}` : "Time is up.";
    if (left) return;
    clearInterval(tick);
    navigator.vibrate?.(400);
  }, 500);
}

list.classList.add("one");
document.querySelectorAll(".visit-bar, .visit-nav, .visit-timer, .visit-who").forEach((part) => { part.hidden = false; });
list.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-entry]")) return;
  event.preventDefault();
  enter(event.target, event.submitter?.value || "done");
});
list.addEventListener("click", (event) => {
  if (event.target.matches("[data-seconds]")) startTimer(event.target);
});
document.querySelectorAll("[data-go]").forEach((button) => {
  button.addEventListener("click", () => show(now + Number(button.dataset.go)));
});
if (person) {
  const known = [...person.options].map((option) => option.value);
  if (known.includes(localStorage.getItem(WHO))) person.value = localStorage.getItem(WHO);
  person.addEventListener("change", () => localStorage.setItem(WHO, person.value));
}
addEventListener("online", send);
for (const entry of waiting()) {
  const step = steps.find((one) => one.dataset.step === entry.step);
  if (step) close(step, entry.kind);
}
const first = steps.findIndex((step) => !isClosed(step));
show(first < 0 ? steps.length - 1 : first, { focus: false });
tell();
send();
setInterval(look, 5 * AGAIN_MS);
