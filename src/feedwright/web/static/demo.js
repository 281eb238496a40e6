// Waits for the demo farm: asks every second how far it is, and opens it when it is made.
"use strict";

const bar = document.getElementById("demo-bar");

async function look() {
  const answer = await fetch("/demo", { headers: { accept: "application/json" } });
  const held = await answer.json();
  if (held.fault) return location.reload();
  bar.value = held.done_frac;
  if (held.ready) return location.assign("/demo");
  setTimeout(look, 1000);
}

if (bar) setTimeout(look, 500);
