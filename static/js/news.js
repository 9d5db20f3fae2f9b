/* News from the other tablets: asks every few seconds what else was recorded on the sheet that lies open. */
(function () {
  "use strict";
  var EVERY_MS = 4000, AFTER_SILENCE_MS = 15000, at = "", stamp = "", timer = 0, asking = false, answered = 0;

  function ask() {
    window.clearTimeout(timer);
    if (document.hidden || asking || !at) return;
    asking = true;
    var before = answered;
    var path = at + (at.indexOf("?") < 0 ? "?" : "&") + "seen=" + encodeURIComponent(stamp);
    window.outbox.ask(path, { method: "GET" }).then(function (answer) {
      asking = false;
      var told = answer.told;
      if (answer.status === 200 && told && told.results) {
        /* What was asked before a tap of ours was stored does not know of it. */
        told.isOld = before !== answered;
        stamp = told.stamp;
        document.dispatchEvent(new CustomEvent("barre:news", { detail: told }));
      }
      /* The network came back: what waits on the tablet goes out now, not at its next turn. */
      if (answer.status === 200 || answer.status === 204) window.outbox.wake();
      timer = window.setTimeout(ask, answer.status === 200 || answer.status === 204 ? EVERY_MS : AFTER_SILENCE_MS);
    });
  }

  /* `address` of the news, and the stamp of what the page already shows; told again from the start after `again`. */
  window.barreNews = function (address, seen) {
    at = address;
    stamp = seen || "";
    timer = window.setTimeout(ask, EVERY_MS);
    document.addEventListener("outbox:answered", function () { answered += 1; });
    document.addEventListener("visibilitychange", ask);
    window.addEventListener("online", ask);
    window.addEventListener("pageshow", function (event) { if (event.persisted) ask(); });
  };
  /* Whether an entry of this tablet, kept at another measure of the `day` (its address), holds in all of them:
     whoever is absent is so everywhere, until it is taken back where it was told. */
  window.barreNews.isOfDay = function (row, day) {
    return row.path.indexOf(day) === 0 && (!!row.fields.of || row.fields.reason === "absent");
  };
  window.barreNews.again = function () { stamp = ""; };
})();
