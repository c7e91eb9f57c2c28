// Over https alone: the pages that were visited, kept in this phone to be read while the server is
// away. The server says of each answer whether it may be kept; acts are page.js's, and wait there.
// A newer answer always goes first. What is kept goes when the session ends or the person changes.
"use strict";
const PAGES = "pages", ASSETS = "assets";
const MOST = { [PAGES]: 150, [ASSETS]: 80 };
const STATIC = ["page.css", "page.js", "BuildlogSans-Regular.ttf", "BuildlogSans-Semibold.ttf"].map((name) => `/static/${name}`);
const WHOLE_ANEW = ["/enter", "/person", "/leave", "/pair"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(ASSETS).then((held) => held.addAll(STATIC)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// the page that was open before this worker was
self.addEventListener("message", (event) => {
  if (typeof event.data.keep === "string") event.waitUntil(asked(new Request(event.data.keep)).catch(() => {}));
});

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && WHOLE_ANEW.includes(url.pathname)) event.waitUntil(caches.delete(PAGES));
  const isOurs = request.mode === "navigate" || /^\/static\/|\/file\//.test(url.pathname);
  if (request.method === "GET" && isOurs) event.respondWith(asked(request).catch(() => kept(request)));
});

async function asked(request) {
  const answer = await fetch(request);
  if (answer.status === 401) await caches.delete(PAGES);
  const where = answer.ok && answer.headers.get("X-Buildlog-Keep");
  if (where in MOST) await keep(where, request, answer.clone());
  return answer;
}

async function keep(where, request, answer) {
  const held = await caches.open(where), url = request.url.split("#")[0];
  const headers = new Headers(answer.headers);
  headers.set("X-Kept-At", new Date().toISOString());
  await held.delete(url); // so that the newest stands last
  await held.put(url, new Response(await answer.blob(), { headers }));
  const all = await held.keys();
  await Promise.all(all.slice(0, Math.max(0, all.length - MOST[where])).map((one) => held.delete(one)));
}

async function kept(request) {
  const url = request.url.split("#")[0];
  const found = (await caches.match(url)) || (await caches.match(url, { ignoreSearch: true }));
  if (request.mode !== "navigate") return found || Response.error();
  if (!found) {
    const said = "The server is away, and this page was not opened on this phone before. Go back.\n";
    return new Response(said, { status: 503, headers: { "Content-Type": "text/plain; charset=utf-8" } });
  }
  const text = await found.text(), at = found.headers.get("X-Kept-At");
  return new Response(text.replace("<body", `<body data-kept-at="${at}"`), { headers: found.headers });
}
