// Keeps briefs and walks on the telephone, so that they open without reception. Only those pages and fixed files.
// A page that comes from here says so: its root element gets the time at which it was kept.
"use strict";
const PAGES = "pages-2", FIXED = "fixed-2", MOST = 30, PATIENCE = 5000, DAY = 24 * 3600 * 1000;
const PAGE = /^\/[bw]\/[^/]+$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  // what an earlier form of this file kept
  for (const name of await caches.keys()) if (name !== PAGES && name !== FIXED) await caches.delete(name);
  await self.clients.claim();
})()));

function isFixed(path) { return path.startsWith("/static/") || path === "/chart.css"; }
function isWalk(path) { return path.startsWith("/w/"); }

async function keep(path, answer) {
  if (!answer.ok || answer.redirected) return;
  const cache = await caches.open(PAGES), headers = new Headers(answer.headers);
  headers.set("x-kept", String(Date.now()));
  await cache.delete(path);
  await cache.put(path, new Response(await answer.clone().blob(), { headers }));
  const kept = await cache.keys();
  // a brief is over after a day; of walks the last ones stay
  for (const one of kept) if (!isWalk(new URL(one.url).pathname) && await age(await cache.match(one)) > DAY) await cache.delete(one);
  for (const old of kept.slice(0, Math.max(0, kept.length - MOST))) await cache.delete(old);
}

async function age(answer) { return answer ? Date.now() - Number(answer.headers.get("x-kept")) : Infinity; }

self.addEventListener("message", (event) => {
  const wanted = ((event.data && event.data.keep) || []).map((one) => new URL(one, self.location.origin));
  event.waitUntil(Promise.all(wanted.map(async (where) => {
    try {
      const answer = await fetch(where, { credentials: "same-origin" });
      if (PAGE.test(where.pathname)) await keep(where.pathname, answer);
      else if (isFixed(where.pathname) && answer.ok) await (await caches.open(FIXED)).put(where, answer);
    } catch (error) { /* later */ }
  })).then(() => forget(wanted)));
});

// fixed files carry their version in their address: the ones before these are of no more use
async function forget(wanted) {
  const cache = await caches.open(FIXED), here = new Map(wanted.map((one) => [one.pathname, one.href]));
  for (const one of await cache.keys()) {
    const now = here.get(new URL(one.url).pathname);
    if (now && now !== one.url) await cache.delete(one);
  }
}

function soon(request) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("no answer")), PATIENCE);
    fetch(request).then(resolve, reject).finally(() => clearTimeout(timer));
  });
}

async function page(request) {
  const where = new URL(request.url), gone = new Set([502, 503, 504]);
  let answer = null;
  try {
    answer = await soon(request);
    if (!where.search) await keep(where.pathname, answer);
    if (!gone.has(answer.status)) return answer;
  } catch (error) { /* no reception */ }
  const kept = await (await caches.open(PAGES)).match(where.pathname);
  if (kept && (isWalk(where.pathname) || await age(kept) <= DAY)) {
    const said = (await kept.text()).replace("<html ", `<html data-kept="${kept.headers.get("x-kept")}" `);
    return new Response(said, { headers: kept.headers });
  }
  return answer || Response.error();
}

async function fixed(request) {
  const cache = await caches.open(FIXED), kept = await cache.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request, answer.clone());
  return answer;
}

self.addEventListener("fetch", (event) => {
  const where = new URL(event.request.url);
  if (event.request.method !== "GET" || where.origin !== self.location.origin) return;
  if (PAGE.test(where.pathname)) event.respondWith(page(event.request));
  else if (isFixed(where.pathname)) event.respondWith(fixed(event.request));
});
