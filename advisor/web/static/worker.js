// Keeps the page of a walk on the telephone, so that it opens without reception. Only pages of walks and fixed files.
"use strict";
const KEPT = "walks-1", MOST = 30, PATIENCE = 5000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function keep(request, answer) {
  if (!answer.ok || answer.redirected) return;
  const cache = await caches.open(KEPT);
  await cache.put(request, answer.clone());
  const walks = (await cache.keys()).filter((one) => new URL(one.url).pathname.startsWith("/w/"));
  for (const old of walks.slice(0, Math.max(0, walks.length - MOST))) await cache.delete(old);
}

self.addEventListener("message", (event) => {
  const paths = (event.data && event.data.keep) || [];
  event.waitUntil(Promise.all(paths.map(async (path) => {
    try { await keep(path, await fetch(path, { credentials: "same-origin" })); } catch (error) { /* later */ }
  })));
});

function soon(request) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("no answer")), PATIENCE);
    fetch(request).then(resolve, reject).finally(() => clearTimeout(timer));
  });
}

async function page(request) {
  const plain = new URL(request.url).pathname;
  try {
    const answer = await soon(request);
    if (!new URL(request.url).search) await keep(plain, answer);
    return answer;
  } catch (error) {
    const cache = await caches.open(KEPT);
    const kept = await cache.match(plain);
    if (kept) return kept;
    throw error;
  }
}

async function fixed(request) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  await keep(request, answer);
  return answer;
}

self.addEventListener("fetch", (event) => {
  const where = new URL(event.request.url);
  if (event.request.method !== "GET" || where.origin !== self.location.origin) return;
  if (/^\/w\/[^/]+$/.test(where.pathname)) event.respondWith(page(event.request));
  else if (where.pathname.startsWith("/static/") || where.pathname === "/chart.css") event.respondWith(fixed(event.request));
});
