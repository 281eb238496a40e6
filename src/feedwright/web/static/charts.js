// Draws each chart of the page from the description beside it. Expressions run through the interpreter,
// so that the page needs no right to make code out of text.
"use strict";

const RESIZE_WAIT_MS = 150;
const views = new Map();

// What a mark tells stands below its chart: a finger does not rest on it as a pointer does, and covers it.
function tell(place, told) {
  const line = place.parentElement.querySelector(".chart-told");
  if (told) line.textContent = typeof told === "object" ? Object.entries(told).map((one) => one.join(": ")).join(" · ") : told;
}

function draw(place) {
  const description = JSON.parse(document.getElementById(place.dataset.chart).textContent);
  views.get(place)?.finalize();
  const runtime = vega.parse(vegaLite.compile(description).spec, null, { ast: true });
  const view = new vega.View(runtime, { expr: vega.expressionInterpreter, renderer: "svg", container: place, hover: true, tooltip: (handler, event, item, told) => tell(place, told) });
  view.addEventListener("pointerdown", (event, item) => tell(place, item?.tooltip));
  views.set(place, view);
  return view.width(place.clientWidth).runAsync();
}

function drawAll() {
  document.querySelectorAll("[data-chart]").forEach(draw);
}

let waiting;
let width = 0;
addEventListener("resize", () => {
  if (width === document.documentElement.clientWidth) return;
  width = document.documentElement.clientWidth;
  clearTimeout(waiting);
  waiting = setTimeout(drawAll, RESIZE_WAIT_MS);
});
width = document.documentElement.clientWidth;
drawAll();
