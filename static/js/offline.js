/* Makes the barre open without the network: starts the worker, and fetches what leads on from this page into its
   keeping. */
/* What was fetched this recently is not fetched again; a class lasts longer than that. */
const FRESH_MS = 600000;
const line = document.querySelector("[data-offline]");
let seen = {};

function say(name) {
  if (!line) return;
  line.textContent = line.dataset[`words${name}`];
  line.dataset.state = name;
}
function links(root, which = "a[data-keep]") {
  const found = [...root.querySelectorAll(which)];
  return found.map((link) => new URL(link.getAttribute("href"), window.location.href).pathname);
}
/* What is fetched before anything else: the page on which somebody says that it hurts. */
function firsts() { return links(document, "a[data-keep=first]"); }
/* The page as it is kept, if it is fresh enough. */
async function kept(path) {
  const answer = await caches.match(path, { ignoreVary: true });
  return answer && Date.now() - Date.parse(answer.headers.get("Date")) < FRESH_MS ? answer : null;
}
async function fetchPage(path) {
  const how = { headers: { Accept: "text/html" }, credentials: "same-origin", redirect: "error" };
  const answer = await kept(path) || await fetch(path, how);
  if (!answer.ok) throw new Error(String(answer.status));
  return links(new DOMParser().parseFromString(await answer.text(), "text/html"));
}
/* One after the other: a class is being taught meanwhile. */
async function fetchAll(paths) {
  for (const path of paths) {
    if (seen[path]) continue;
    seen[path] = true;
    paths.push(...await fetchPage(path));
  }
}
async function start() {
  if (!navigator.onLine) { say("Offline"); return; }
  say("Fetching");
  try {
    await fetchAll([...firsts(), window.location.pathname, ...links(document)]);
    say("Kept");
  } catch { say("Partly"); }
}
/* A first or a new worker begins with empty shelves. */
function startAnew() {
  seen = {};
  start();
}
/* An earlier version reached no further than the barre, and would stand before this one there. */
async function leaveNarrowOnes(worker) {
  const narrow = (await worker.getRegistrations()).filter((each) => new URL(each.scope).pathname !== "/");
  await Promise.all(narrow.map((each) => each.unregister()));
}
async function begin() {
  const worker = navigator.serviceWorker;
  if (worker.controller && navigator.onLine) fetchAll(firsts()).catch(() => { seen = {}; });
  if (document.readyState !== "complete") await new Promise((done) => { window.addEventListener("load", done); });
  worker.addEventListener("controllerchange", startAnew);
  try {
    await worker.register("/barre/worker.js", { scope: "/", updateViaCache: "none" });
    await leaveNarrowOnes(worker);
    if (worker.controller) start();
  } catch { say(worker.controller ? "Offline" : "Never"); }
}

const missed = document.querySelector("[data-not-kept]");
if (missed && window.location.search === "?not-kept") missed.hidden = false;
if ("serviceWorker" in navigator) begin();
else say("Never");
