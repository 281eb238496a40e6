// One step a screen. What is entered outlives a lost connection; what other devices did shows here too.

import { takenPhoto } from "/static/photo.js";
import { Entries, LastSaid } from "/static/visit_kept.js";

const LOOK_MS = 20000;
const list = document.querySelector("[data-visit]");
const steps = [...list.querySelectorAll("[data-step]")];
const line = document.getElementById("visit-line");
const refusal = document.getElementById("visit-refusal");
const base = location.pathname.replace(/\/$/, "");
const person = document.getElementById("visit-person");
const WHO = "feedwright person";
const TIMERS = `feedwright visit ${list.dataset.visit} timers`;
let now = 0;
let standing = "kept";

const said = new LastSaid(list.dataset.visit, list.dataset.asOf);
const entries = new Entries(list.dataset.visit, base, { told: tell, refused: refuse, taken: noteTaken });
const isClosed = (step) => step.dataset.closed !== "";
const stepNamed = (name) => steps.find((one) => one.dataset.step === name);

function show(number, { focus = true } = {}) {
  now = Math.max(0, Math.min(steps.length - 1, number));
  steps.forEach((step, at) => step.classList.toggle("now", at === now));
  if (focus) {
    steps[now].focus({ preventScroll: true });
    scrollTo({ top: steps[now].getBoundingClientRect().top + scrollY - line.parentElement.offsetHeight - 6 });
  }
}

function clock(at) {
  return new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}

function standingWords(left) {
  const kept = left ? `${left} ${left === 1 ? "entry waits" : "entries wait"} on this phone` : "";
  if (standing === "signed out") return `${kept || "Nothing is lost"}: sign in again, then it goes on.`;
  if (standing === "offline") return `Offline, as of ${clock(said.at)}. ${kept ? `${kept} for the connection.` : ""}`;
  return kept ? `${kept} for the connection.` : "All entries are kept.";
}

function tell(how = standing) {
  standing = how;
  const closed = steps.filter(isClosed).length;
  const left = entries.waiting.length;
  document.getElementById("visit-progress").value = closed;
  line.textContent = `${closed} of ${steps.length} steps. ${standingWords(left)}`;
  line.parentElement.classList.toggle("offline", how !== "kept");
  document.querySelectorAll("[data-end]").forEach((button) => {
    button.disabled = left > 0 || how !== "kept" || (button.value === "done" && closed < steps.length);
  });
}

function close(step, kind) {
  step.dataset.closed = kind;
  if (kind) step.querySelector(".visit-how").textContent = kind;
}

function closedNow() {
  return Object.fromEntries(steps.filter(isClosed).map((step) => [step.dataset.step, step.dataset.closed]));
}

function noteTaken(entry, at) {
  said.keep(at, closedNow());
  tell("kept");
}

function refuse(entry, why) {
  const step = stepNamed(entry.step);
  if (step) {
    close(step, "");
    show(steps.indexOf(step));
  }
  tellOf([why.subject, why.place, why.expected, why.remedy].filter(Boolean).join(": "));
  tell("kept");
}

function tellOf(words) {
  refusal.textContent = words;
  refusal.hidden = !words;
}

async function enter(form, kind) {
  const step = form.closest("[data-step]");
  const fields = Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  const buttons = form.querySelectorAll("button");
  buttons.forEach((button) => { button.disabled = true; });
  await entries.add({ ...fields, kind, person: person?.value || "" }, await takenPhoto(form.querySelector("[name=photo]")));
  buttons.forEach((button) => { button.disabled = false; });
  tellOf("");
  close(step, kind);
  const next = steps.findIndex((one, at) => at > now && !isClosed(one));
  const open = next >= 0 ? next : steps.findIndex((one) => !isClosed(one));
  if (open >= 0) show(open);
  else document.getElementById("end").scrollIntoView();
  tell();
  entries.send();
}

function apply(closed) {
  const here = new Set(entries.waiting.map((entry) => entry.step));
  for (const step of steps) {
    if (!here.has(step.dataset.step)) close(step, closed[step.dataset.step] || "");
  }
}

// What was read on another page meanwhile, such as the tramming's, need not be typed again.
function fillIn(readings) {
  for (const input of list.querySelectorAll("[data-proof]")) {
    const read = readings[input.dataset.proof];
    if (read === undefined || input.value) continue;
    input.value = read;
    input.closest(".field").querySelector(".hint").append(` Filled in: ${read}, as read since the visit began.`);
  }
}

// What another device closed meanwhile shows here too.
async function look() {
  const { sent } = entries;
  try {
    const answer = await fetch(`${base}/state`, { headers: { Accept: "application/json" } });
    if (!answer.ok) return tell(answer.status === 401 ? "signed out" : "offline");
    const state = await answer.json();
    if (state.ended) return location.reload();
    if (sent === entries.sent && !entries.sending) {
      said.keep(state.as_of, state.closed);
      apply(state.closed);
    }
    fillIn(state.readings);
    tell("kept");
    entries.send();
  } catch {
    tell("offline");
  }
}

async function takeBack(form) {
  const step = form.closest("[data-step]");
  if (await entries.forget(step.dataset.step)) {
    close(step, "");
    tell();
  } else if (standing === "kept") form.submit();
  else tellOf("The farm has this entry already: it can be taken back once the connection is there.");
}

async function turn(form, kind) {
  const button = form.querySelector("[name=kind]");
  const paused = kind === "paused";
  await entries.add({ step: "", kind, person: person?.value || "" });
  button.value = paused ? "resumed" : "paused";
  button.textContent = paused ? "Resume the visit" : "Pause the visit";
  tell();
  entries.send();
}

function runTimer(button, until) {
  const face = button.nextElementSibling;
  button.hidden = true;
  const tick = () => {
    const left = Math.max(0, Math.round((until - Date.now()) / 1000));
    face.textContent = left ? `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}` : "Time is up.";
    if (left) return;
    clearInterval(ticking);
    navigator.vibrate?.(400);
  };
  const ticking = setInterval(tick, 500);
  tick();
}

function timers() {
  return JSON.parse(localStorage.getItem(TIMERS) || "{}");
}

function startTimer(button) {
  const until = Date.now() + 1000 * Number(button.dataset.seconds);
  localStorage.setItem(TIMERS, JSON.stringify({ ...timers(), [button.closest("[data-step]").dataset.step]: until }));
  runTimer(button, until);
}

// Over https, or on this very machine, the page can be opened again without the connection.
async function keepPage() {
  const words = document.getElementById("visit-keeps");
  words.textContent = "Keep this page open: it cannot be opened again without the connection.";
  if (!navigator.serviceWorker) return;
  await navigator.serviceWorker.register("/visits/worker.js", { scope: "/visits/" });
  const { active } = await navigator.serviceWorker.ready;
  navigator.serviceWorker.addEventListener("message", (event) => {
    if (event.data?.kept) words.textContent = "This page can be opened again without the connection.";
  });
  const drawn = [...document.querySelectorAll("link[href], script[src], img[src]")];
  const paths = drawn.map((one) => new URL(one.href || one.src).pathname);
  active.postMessage({ keep: [base, "/static/photo.js", "/static/visit_kept.js", ...paths] });
}

list.classList.add("one");
document.querySelectorAll(".visit-bar, .visit-nav, .visit-timer, .visit-who").forEach((part) => { part.hidden = false; });
list.addEventListener("submit", (event) => {
  event.preventDefault();
  if (event.target.matches("[data-entry]")) enter(event.target, event.submitter?.value || "done");
  else takeBack(event.target);
});
document.querySelector("[data-turn]").addEventListener("submit", (event) => {
  event.preventDefault();
  turn(event.target, event.submitter?.value || event.target.querySelector("[name=kind]").value);
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
addEventListener("online", look);
document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
addEventListener("offline", () => tell("offline"));

if (said.later) apply(said.later.closed);
for (const entry of entries.waiting) {
  const step = stepNamed(entry.step);
  if (step) close(step, entry.kind);
}
for (const [name, until] of Object.entries(timers())) {
  const button = stepNamed(name)?.querySelector("[data-seconds]");
  if (button) runTimer(button, until);
}
const first = steps.findIndex((step) => !isClosed(step));
show(first < 0 ? steps.length - 1 : first, { focus: false });
tell();
keepPage().catch(() => {});
look();
setInterval(look, LOOK_MS);
