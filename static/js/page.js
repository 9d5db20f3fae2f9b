/* What every page does beyond its links and forms: says that script is there, moves the focus, reports silence. */
(function () {
  "use strict";
  document.documentElement.classList.remove("no-script");
  document.documentElement.classList.add("script");

  /* What a tablet keeps of the barre is one person's: with her it goes, and it goes when another one is in. */
  var person = document.querySelector('meta[name="barre-person"]');
  function forgetOthers() {
    if (!window.caches) return;
    window.caches.keys().then(function (names) {
      names.filter(function (name) {
        return name.indexOf("barre-pages-") === 0 && (!person || !name.endsWith("-" + person.content));
      }).forEach(function (name) { window.caches.delete(name); });
    }).catch(function () {});
    if (!person && window.indexedDB) window.indexedDB.deleteDatabase("barre-told");
  }
  forgetOthers();
  /* Once more for an answer that was still on its way. */
  window.setTimeout(forgetOthers, 4000);

  function focusSummary(root) {
    var summary = root.querySelector && root.querySelector("[data-focus]");
    if (summary) summary.focus();
  }
  document.addEventListener("DOMContentLoaded", function () { focusSummary(document); });
  document.addEventListener("htmx:afterSwap", function (event) { focusSummary(event.detail.elt); });

  // What this tablet cannot do over a connection that it has no reason to trust.
  if (!window.isSecureContext) {
    document.querySelectorAll("[data-untrusted]").forEach(function (line) { line.hidden = false; });
  }

  function silence() {
    var line = document.getElementById("page-error");
    line.className = "page-error";
    line.textContent = line.dataset.words;
  }
  document.addEventListener("htmx:sendError", silence);
  document.addEventListener("htmx:timeout", silence);
  document.addEventListener("htmx:responseError", function (event) {
    /* On a tablet with a lock what was typed stays under it. */
    if (event.detail.xhr.status === 401 && window.lock) { window.lock.close(); return; }
    if (event.detail.xhr.status === 401 || event.detail.xhr.status === 403) { window.location.reload(); return; }
    silence();
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    if (!event.detail.successful) return;
    var line = document.getElementById("page-error");
    line.className = "unseen";
    line.textContent = "";
  });

  /* One panel is open at a time; a finger elsewhere, or Escape, shuts it. */
  document.addEventListener("toggle", function (event) {
    if (!event.target.matches(".picker, .outbox-line") || !event.target.open) return;
    document.querySelectorAll(".picker[open], .outbox-line[open]").forEach(function (other) {
      if (other !== event.target) other.open = false;
    });
  }, true);
  document.addEventListener("click", function (event) {
    document.querySelectorAll(".picker[open], .outbox-line[open]").forEach(function (other) {
      if (event.composedPath().indexOf(other) < 0) other.open = false;
    });
  });
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape")
      document.querySelectorAll(".picker[open], .outbox-line[open]").forEach(function (other) { other.open = false; });
  });

  document.addEventListener("change", function (event) {
    if (event.target.matches("[data-submit-on-change]")) event.target.form.requestSubmit();
  });
})();
