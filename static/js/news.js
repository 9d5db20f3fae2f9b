/* News from the other tablets: asks every few seconds what else was recorded on the sheet that lies open. */
(function () {
  "use strict";
  var EVERY_MS = 4000, AFTER_SILENCE_MS = 15000, FIRST_MS = 2000;
  var at = "", stamp = "", timer = 0, asking = false, answered = 0;

  function tell(name, detail) { document.dispatchEvent(new CustomEvent(name, { detail: detail })); }
  function ask() {
    window.clearTimeout(timer);
    if (document.hidden || asking || !at) return Promise.resolve();
    asking = true;
    var before = answered, began = Date.now();
    var path = at + (at.indexOf("?") < 0 ? "?" : "&") + "seen=" + encodeURIComponent(stamp);
    return window.outbox.ask(path, { method: "GET" }).then(function (answer) {
      asking = false;
      var told = answer.told, isNew = answer.status === 200 && told && told.results;
      var isHeard = isNew || answer.status === 204;
      tell(isHeard ? "barre:heard" : "barre:silence", { began: began, told: isNew ? told : null });
      if (isNew) {
        /* What was asked before a tap of ours was stored does not know of it. */
        told.isOld = before !== answered;
        stamp = told.stamp;
        tell("barre:news", told);
      }
      /* The network came back: what waits on the tablet goes out now, not at its next turn. */
      if (isHeard) window.outbox.wake();
      timer = window.setTimeout(ask, isHeard ? EVERY_MS : AFTER_SILENCE_MS);
    });
  }

  /* `address` of the news, and the stamp of what the page already shows; told again from the start after `again`.
     A page that was kept asks at once; what it gives back is there once that is answered, or no answer comes. */
  window.barreNews = function (address, seen) {
    at = address;
    stamp = seen || "";
    document.addEventListener("outbox:answered", function () { answered += 1; });
    document.addEventListener("visibilitychange", ask);
    window.addEventListener("online", ask);
    window.addEventListener("pageshow", function (event) { if (event.persisted) ask(); });
    if (!window.barreRests.keptAt || !window.navigator.onLine) {
      if (window.barreRests.keptAt) tell("barre:silence", {});
      timer = window.setTimeout(ask, EVERY_MS);
      return Promise.resolve();
    }
    return Promise.race([ask(), new Promise(function (resolve) { window.setTimeout(resolve, FIRST_MS); })]);
  };
  /* Whether an entry of this tablet, kept at another measure of the `day` (its address), holds in all of them:
     whoever is absent is so everywhere, until it is taken back where it was told. */
  window.barreNews.isOfDay = function (row, day) {
    return row.path.indexOf(day) === 0 && (!!row.fields.of || row.fields.reason === "absent");
  };
  window.barreNews.again = function () { stamp = ""; };
})();
