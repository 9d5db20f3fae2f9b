/* Keeps the barre's pages and files so that they open without the network; it never sees, sends or answers a post. */
"use strict";
/* The view that serves this file puts {version, files} before it. */
const FILES = `barre-files-${barre.version}`; const PAGES = "barre-pages-"; const OURS = `${PAGES}${barre.version}-`;
/* A network that does not answer for this long is none, where the page is kept here. */
const PATIENCE_MS = 3000;

self.addEventListener("install", (event) => {
  const fresh = barre.files.map((file) => new Request(file, { cache: "reload" }));
  event.waitUntil(caches.open(FILES).then((cache) => cache.addAll(fresh)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const isOld = (name) => (name.startsWith("barre-files-") && name !== FILES)
    || (name.startsWith(PAGES) && !name.startsWith(OURS));
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter(isOld).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event; const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (barre.files.includes(url.pathname)) event.respondWith(file(request, url));
  else if (url.pathname.startsWith("/barre/") && (request.headers.get("Accept") || "").includes("text/html"))
    event.respondWith(page(event, url));
  /* Whoever leaves the barre without a network comes back to what opens here. */
  else if (request.mode === "navigate") event.respondWith(fetch(request).catch(() => elsewhere(url)));
});

/* A file whose name carries its contents never changes; any other is asked for first. */
async function file(request, url) {
  const kept = await (await caches.open(FILES)).match(url.pathname);
  if (kept && /\.[0-9a-f]{12}\./.test(url.pathname)) return kept;
  return fetch(request).catch((error) => { if (kept) return kept; throw error; });
}

async function page(event, url) {
  const kept = await find(url.pathname); const asked = fetch(event.request); const whole = asked.then(wholly);
  event.waitUntil(whole.then((answer) => keep(url, answer.clone())).catch(() => {}));
  if (!kept) return asked.then((answer) => answer.clone()).catch(() => elsewhere(url));
  const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS); });
  const answer = await Promise.race([whole, late]).catch(() => null);
  return !answer || answer.status >= 500 ? aged(kept) : answer;
}

/* A kept page says since when, so that it asks for the news before a finger comes and tells how old it is. */
async function aged(kept) {
  const headers = new Headers(kept.headers); const at = Date.parse(kept.headers.get("Date")) || 1;
  ["Content-Encoding", "Content-Length"].forEach((name) => headers.delete(name));
  const text = (await kept.text()).replace("<html ", `<html data-kept="${at}" `);
  return new Response(text, { status: kept.status, headers });
}

/* An answer once its last word is here: a network may die in the middle of a page. */
async function wholly(answer) {
  if (answer.body) await answer.clone().arrayBuffer();
  return answer;
}

/* Only a page that says whose it is, and nobody else's beside it; an address with a question is another view of it. */
async function keep(url, answer) {
  const person = answer.headers.get("X-Barre-Person"); const type = answer.headers.get("Content-Type") || "";
  if (answer.status !== 200 || answer.redirected || !person || !type.startsWith("text/html") || url.search) return;
  const name = OURS + person; const names = await caches.keys();
  await Promise.all(names.filter((each) => each.startsWith(PAGES) && each !== name).map((each) => caches.delete(each)));
  await (await caches.open(name)).put(url.pathname, answer);
}

/* A child's page of pain that is not here is the one of the class: its script finds the name by the address. */
const OF_A_CHILD = /\/hurts\/\d+\/$/;
async function find(path) {
  return (await match(path)) || (OF_A_CHILD.test(path) ? match(path.replace(OF_A_CHILD, "/hurts/")) : undefined);
}

async function match(path) {
  for (const name of await caches.keys()) {
    if (!name.startsWith(OURS)) continue;
    const kept = await (await caches.open(name)).match(path, { ignoreVary: true });
    if (kept) return kept;
  }
  return undefined;
}

/* What is not kept here leads to the list of what is. */
async function elsewhere(url) {
  const hub = url.pathname !== "/barre/" && (await find("/barre/"));
  return hub ? Response.redirect("/barre/?not-kept", 302) : Response.error();
}
