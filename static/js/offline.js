/* Makes the barre open without the network: starts the worker, and fetches what leads on from this page into its
   keeping. */
(function () {
  "use strict";
  /* What was fetched this recently is not fetched again; a class lasts longer than that. */
  var FRESH_MS = 600000;
  var line = document.querySelector("[data-offline]"), seen = {};

  function say(name) {
    if (!line) return;
    line.textContent = line.dataset["words" + name];
    line.dataset.state = name;
  }
  function links(root) {
    return Array.prototype.map.call(root.querySelectorAll("a[data-keep]"), function (link) {
      return new URL(link.getAttribute("href"), window.location.href).pathname;
    });
  }
  /* What is fetched before anything else: the page on which somebody says that it hurts. */
  function firsts(root) {
    var found = root.querySelectorAll("a[data-keep=first]");
    return Array.prototype.map.call(found, function (link) { return link.pathname; });
  }
  /* The page as it is kept, if it is fresh enough. */
  function kept(path) {
    return window.caches.match(path, { ignoreVary: true }).then(function (answer) {
      return answer && Date.now() - Date.parse(answer.headers.get("Date")) < FRESH_MS ? answer : null;
    });
  }
  function fetchPage(path) {
    return kept(path).then(function (answer) {
      return answer || window.fetch(path,
        { headers: { Accept: "text/html" }, credentials: "same-origin", redirect: "error" });
    }).then(function (answer) {
      if (!answer.ok) throw new Error(String(answer.status));
      return answer.text();
    }).then(function (text) { return links(new DOMParser().parseFromString(text, "text/html")); });
  }
  /* One after the other: a class is being taught meanwhile. */
  function fetchAll(paths) {
    var path = paths.shift();
    if (!path) return Promise.resolve();
    if (seen[path]) return fetchAll(paths);
    seen[path] = true;
    return fetchPage(path).then(function (more) { return fetchAll(paths.concat(more)); });
  }
  function start() {
    if (!navigator.onLine) { say("Offline"); return; }
    say("Fetching");
    fetchAll(firsts(document).concat([window.location.pathname]).concat(links(document))).then(
      function () { say("Kept"); }, function () { say("Partly"); },
    );
  }

  var missed = document.querySelector("[data-not-kept]");
  if (missed && window.location.search === "?not-kept") missed.hidden = false;
  if (!("serviceWorker" in navigator)) { say("Never"); return; }
  if (navigator.serviceWorker.controller && navigator.onLine) {
    fetchAll(firsts(document)).catch(function () { seen = {}; });
  }
  window.addEventListener("load", function () {
    var settings = { scope: "/barre/", updateViaCache: "none" };
    navigator.serviceWorker.register("/barre/worker.js", settings).then(function () {
      if (navigator.serviceWorker.controller) start();
    }, function () { say(navigator.serviceWorker.controller ? "Offline" : "Never"); });
    /* A first or a new worker begins with empty shelves. */
    navigator.serviceWorker.addEventListener("controllerchange", function () { seen = {}; start(); });
  });
})();
