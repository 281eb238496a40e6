// Keeps the pages of visits, and what they are drawn with, for when the connection is lost. Nothing else.
"use strict";

const KEPT = "feedwright visits";
const MOST_PAGES = 12;
const PATIENCE_MS = 6000;

const isVisit = (url) => /^\/visits\/\d+$/.test(url.pathname);
const isStatic = (url) => url.pathname.startsWith("/static/");
const isOurs = (url) => url.origin === location.origin && (isVisit(url) || isStatic(url));

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  const wanted = request.method === "GET" && isOurs(url) && (isStatic(url) || request.mode === "navigate");
  if (wanted) event.respondWith(freshOrKept(request, url));
});

// A page that was opened before this worker was there asks to be kept, with what it is drawn with.
self.addEventListener("message", (event) => {
  const paths = (event.data?.keep || []).map((path) => new URL(path, location.origin)).filter(isOurs);
  event.waitUntil(Promise.all(paths.map(keepPath)).then(() => event.source?.postMessage({ kept: true })));
});

// What the farm says now comes first; what was kept answers only where the farm does not.
async function freshOrKept(request, url) {
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    await keep(url, answer);
    return answer;
  } catch (error) {
    const kept = await (await caches.open(KEPT)).match(url.pathname);
    if (kept) return kept;
    throw error;
  }
}

async function keepPath(url) {
  await keep(url, await fetch(url.pathname, { headers: { Accept: isVisit(url) ? "text/html" : "*/*" } }));
}

async function keep(url, answer) {
  if (!answer.ok || answer.redirected || answer.type !== "basic") return;
  const cache = await caches.open(KEPT);
  await cache.put(url.pathname, answer.clone());
  const pages = (await cache.keys()).filter((held) => isVisit(new URL(held.url)));
  await Promise.all(pages.slice(0, -MOST_PAGES).map((held) => cache.delete(held)));
}
