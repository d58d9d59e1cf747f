// What a device keeps so that a page can be loaded again without a connection:
// the program's own files, and each page of a job as it was last seen. The server
// puts version, base and files before this text. Nothing is answered from here
// while the server answers.
"use strict";
const pages = "chargewright-pages", own = "chargewright-files-" + version;
const mostPages = 60, patience = 10000;

self.addEventListener("install", (e) => e.waitUntil(caches.open(own).then((c) => c.addAll(files.map((f) => base + f))).then(() => self.skipWaiting())));

// Pages that an older program made want its files: they go together.
self.addEventListener("activate", (e) => e.waitUntil((async () => {
  const old = (await caches.keys()).filter((n) => n.startsWith("chargewright-files-") && n !== own);
  if (old.length > 0) await Promise.all([...old, pages].map((n) => caches.delete(n)));
  if (self.registration.navigationPreload) await self.registration.navigationPreload.enable(); // the server need not wait for the worker to wake
  await self.clients.claim();
})()));

const isPage = (path) => path === "/" || path.startsWith("/jobs/") && !/\/(live|report\.pdf)$/.test(path);

self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url), method = e.request.method;
  if (url.origin !== self.location.origin) return;
  if (method === "GET" && url.pathname.startsWith(base)) e.respondWith(caches.match(e.request, { cacheName: own }).then((r) => r || fetch(e.request)));
  else if (method === "GET" && e.request.mode === "navigate" && isPage(url.pathname)) e.respondWith(page(e));
  else if (method === "POST" && url.pathname.endsWith("/hook-up") && e.request.headers.has("HX-Request")) e.respondWith(part(e));
  else if (method === "POST" && ["/sign-in", "/sign-in/passkey", "/sign-out"].includes(url.pathname)) e.waitUntil(caches.delete(pages)); // somebody else's eyes
});

// A page that was open before there was a worker is fetched once more.
self.addEventListener("message", (e) => {
  const url = new URL(e.data.keep, self.location.origin);
  if (url.origin === self.location.origin && isPage(url.pathname)) e.waitUntil(fetch(url, { redirect: "manual" }).then((r) => keep(url.href, r)).catch(() => {}));
});

async function page(e) {
  const asked = Promise.resolve(e.preloadResponse).then((r) => r || fetch(e.request));
  const kept = await late(asked) ? await lastSeen(e.request.url) : null;
  if (kept) return kept;
  try {
    const r = await asked;
    if (!e.request.url.includes("/readings/")) e.waitUntil(keep(e.request.url, r.clone())); // an answer is not asked for again
    return r;
  } catch { return notSeen(e.request.url); }
}

// late says that the server does not answer, or not yet.
function late(asked) {
  const slow = new Promise((yes) => setTimeout(() => yes(true), patience));
  return Promise.race([asked.then(() => false, () => true), slow]);
}

// A ticked line brings the page as it is then.
async function part(e) {
  const r = await fetch(e.request);
  if (r.redirected) e.waitUntil(keep(r.url, r.clone()));
  return r;
}

async function keep(url, r) {
  if (r.status !== 200 || !(r.headers.get("Content-Type") || "").startsWith("text/html")) return;
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": r.headers.get("Content-Security-Policy") || "default-src 'none'", "X-Seen": new Date().toISOString() };
  const body = await r.text(), store = await caches.open(pages);
  await store.delete(url); // the latest stands last
  await store.put(url, new Response(body, { headers }));
  const all = await store.keys();
  for (const old of all.slice(0, Math.max(0, all.length - mostPages))) await store.delete(old);
}

// lastSeen is a page as it was last seen, marked as such; of a job's own page,
// whatever step was last looked at.
async function lastSeen(url) {
  const store = await caches.open(pages);
  let kept = await store.match(url);
  const path = new URL(url).pathname;
  if (!kept && /^\/jobs\/[^/]+$/.test(path)) {
    const seen = (await store.keys()).filter((q) => new URL(q.url).pathname === path);
    if (seen.length > 0) kept = await store.match(seen[seen.length - 1]);
  }
  if (!kept) return null;
  const text = (await kept.text()).replace("<html", `<html data-kept="${kept.headers.get("X-Seen")}"`);
  return new Response(text, { headers: kept.headers });
}

async function notSeen(url) {
  const job = new URL(url).pathname.split("/").slice(0, 3).join("/");
  const seen = (await (await caches.open(pages)).keys()).map((q) => new URL(q.url)).filter((u) => u.pathname === job || u.pathname.startsWith(job + "/"));
  const links = seen.slice(-12).map((u) => `<li><a class="btn plain" href="${u.pathname}${u.search.replace(/"/g, "%22")}">${u.pathname === job ? "The job" : u.pathname.slice(job.length + 1)}</a></li>`);
  const text = `<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>No connection</title><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark"><link rel="stylesheet" href="${base}drawing.css"><link rel="stylesheet" href="${base}app.css"></head><body><main class="page gap2"><h1>No connection</h1><p>This page was not seen on this device before, so there is nothing to show of it now. Readings that were entered here wait on the device.</p>${links.length > 0 ? `<p>Seen before:</p><ul>${links.join("")}</ul>` : ""}<p><a class="btn" href="">Look again</a></p></main></body></html>`;
  return new Response(text, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self'; base-uri 'none'" } });
}
