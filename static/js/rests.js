/* Who rests and who is absent, as far as this tablet knows: what the studio told last, with what waits here laid over.
   It asks before anything is recorded of somebody who should rest; it draws nothing else. */
(function () {
  "use strict";
  var outbox = window.outbox, place = document.getElementById("barre-out");
  if (!outbox) return;
  var SHELF = "/rests/", HURTS = /\/hurts\/(\d+)\/(?:\?|$)/, HUB_MS = 8000, AFTER_SILENCE_MS = 15000;
  var page = place ? JSON.parse(place.textContent) : null, out = page && page.class ? page : null;
  /* `own`: reports of this tablet that the studio's news do not know yet, by their key; `away`: whom it called absent;
     `allowed`: why somebody who should rest is measured all the same. */
  var own = {}, away = {}, allowed = {};
  var keptAt = Number(document.documentElement.dataset.kept || 0);

  function emit() { document.dispatchEvent(new CustomEvent("barre:rests")); }

  /* --- what is known ------------------------------------------------------------------------------------------ */

  function isOwn(student) {
    return Object.keys(own).some(function (key) {
      return own[key].student === String(student) && own[key].asks !== "watch";
    });
  }
  /* {words, isTold, isWithdrawn} of whoever leaves out this work, else null. */
  function of(student, work) {
    var told = out && out.students[String(student)];
    if (told && told.forbids.indexOf(work) >= 0) return told;
    if (out && isOwn(student)) return { words: out.words.rests, isTold: true, isWithdrawn: false };
    return null;
  }
  function isAbsent(student) {
    var said = away[String(student)];
    return said === undefined ? !!out && out.absent.indexOf(Number(student)) >= 0 : said;
  }
  /* The reason that was given on this page for measuring somebody who should rest. */
  function reason(student) { return allowed[String(student)] || ""; }

  /* --- what is heard and kept --------------------------------------------------------------------------------- */

  function shelve(each) {
    outbox.remember(SHELF, [{ key: "out-" + outbox.person.id + "-" + each.class, at: "", out: each }]);
  }
  function isOfHere(told) { return !!told && !!out && told.class === out.class && told.day === out.day; }
  function hear(told) {
    if (!isOfHere(told)) return;
    out = told;
    shelve(told);
  }
  /* What the studio knows of is in what it told, taken back or not, whatever the clocks say. */
  function leaveToStudio(told) {
    (told && told.reports || []).forEach(function (key) { if (own[key] && own[key].sentAt) forget(key); });
  }
  /* Whatever was sent before the studio was asked is in its answer. */
  function settled(began) {
    Object.keys(own).forEach(function (key) {
      if (own[key].sentAt && own[key].sentAt <= began) forget(key);
    });
  }
  function forget(key) {
    delete own[key];
    outbox.remember(SHELF, [{ key: "own-" + key, at: "", isGone: true }]);
  }
  function write(key, by) {
    own[key] = Object.assign({ student: "", asks: "", sentAt: 0 }, own[key], by);
    return outbox.remember(SHELF, [{ key: "own-" + key, at: "", report: key, own: own[key] }]);
  }
  function layWaiting(rows) {
    var waiting = {};
    rows.forEach(function (row) {
      var hurts = HURTS.exec(row.path);
      if (hurts) {
        waiting[row.key] = true;
        own[row.key] = Object.assign({ asks: "", sentAt: 0 }, own[row.key], { student: hurts[1] });
      }
      if (row.state !== "refused") layAbsent(row);
    });
    /* A report that was taken back before it was sent is none. */
    Object.keys(own).forEach(function (key) { if (!waiting[key] && !own[key].sentAt) delete own[key]; });
  }
  function layAbsent(row) {
    var path = out && "/barre/classes/" + out.class + "/log/attendance/";
    if (!out || row.path.indexOf(path) !== 0 || row.fields.on !== out.day) return;
    [].concat(row.fields.absent || []).forEach(function (pk) { away[pk] = true; });
    [].concat(row.fields.present || []).forEach(function (pk) { away[pk] = false; });
  }
  function load() {
    return Promise.all([outbox.recall(SHELF), outbox.pending()]).then(function (found) {
      found[0].forEach(function (each) {
        if (each.own && each.report) own[each.report] = each.own;
        if (keptAt && isOfHere(each.out) && each.out.asOf >= out.asOf) out = each.out;
      });
      /* A page that comes fresh from the studio knows what was sent before it was asked for. */
      if (!keptAt && place) settled(window.performance.timeOrigin);
      leaveToStudio(out);
      away = {};
      layWaiting(found[1]);
      if (out && !keptAt) shelve(out);
      emit();
    }).catch(function () {});
  }

  document.addEventListener("barre:heard", function (event) {
    var told = event.detail.told || {};
    hear(told.out);
    (told.outs || []).forEach(function (each) { shelve(each); hear(each); leaveToStudio(each); });
    settled(event.detail.began);
    load();
  });
  document.addEventListener("outbox:answered", function (event) {
    var hurts = HURTS.exec(event.detail.path);
    if (!hurts || event.detail.status !== 200) return;
    write(event.detail.key, { student: hurts[1], sentAt: Date.now() }).then(emit);
  });
  /* What the pain page says is asked for: whoever only is watched goes on. */
  document.addEventListener("outbox:kept", function (event) {
    var hurts = HURTS.exec(window.location.pathname);
    if (!hurts || !event.detail.form.matches(".hurts-form")) return;
    outbox.afterPaint(function () {
      var shown = document.querySelectorAll("[data-hurts-answer]:not([hidden]) [data-asks]:not([hidden])");
      write(event.detail.key, { student: hurts[1], asks: shown.length === 1 ? shown[0].dataset.asks : "" });
    });
  });
  document.addEventListener("outbox:dropped", load);
  document.addEventListener("outbox:changed", load);
  window.addEventListener("pageshow", function (event) { if (event.persisted) load(); });

  /* --- the question ------------------------------------------------------------------------------------------- */

  var panel = document.querySelector("[data-rest-question]"), answer = null;
  /* Resolves with the reason that was tapped, or with "" where the student is left out. */
  function ask(student, name, rest) {
    if (!panel) return Promise.resolve("");
    if (answer) answer("");
    panel.querySelector("[data-rest-words]").textContent = panel.dataset[rest.isTold ? "wordsRest" : "wordsUntold"]
      .replace("{name}", name).replace("{words}", rest.words);
    panel.querySelectorAll("[data-despite]").forEach(function (each) {
      each.hidden = !rest.isTold || rest.isAsked === false;
    });
    panel.hidden = false;
    panel.querySelector("[data-leave-out]").focus({ preventScroll: true });
    return new Promise(function (resolve) {
      answer = function (why) {
        answer = null;
        panel.hidden = true;
        if (why) allowed[String(student)] = why;
        resolve(why);
      };
    });
  }
  /* Says who rests, where no reason is taken. */
  function tell(name, rest) { ask("", name, Object.assign({}, rest, { isAsked: false })); }
  if (panel) {
    panel.addEventListener("click", function (event) {
      var button = event.target.closest("button");
      if (!button || !answer) return;
      event.stopPropagation();
      answer(button.dataset.despite || "");
    });
    document.addEventListener("keydown", function (event) { if (event.key === "Escape" && answer) answer(""); });
  }

  /* --- pages that hear no other news: the hub, the day ---------------------------------------------------------- */

  var address = page && page.news, stamp = "", isAsking = false, timer = 0;
  function listen() {
    window.clearTimeout(timer);
    if (document.hidden || isAsking) return;
    isAsking = true;
    var began = Date.now();
    outbox.ask(address + "?seen=" + stamp, { method: "GET" }).then(function (heard) {
      isAsking = false;
      var isHeard = heard.status === 200 && heard.told && heard.told.outs || heard.status === 204;
      if (isHeard && heard.told) stamp = heard.told.stamp;
      var detail = { began: began, told: heard.told };
      document.dispatchEvent(new CustomEvent(isHeard ? "barre:heard" : "barre:silence", { detail: detail }));
      timer = window.setTimeout(listen, isHeard ? HUB_MS : AFTER_SILENCE_MS);
    });
  }
  document.addEventListener("DOMContentLoaded", function () {
    if (!address) return;
    listen();
    document.addEventListener("visibilitychange", listen);
    window.addEventListener("online", listen);
  });

  window.barreRests = {
    of: of, isAbsent: isAbsent, reason: reason, ask: ask, tell: tell, keptAt: keptAt, ready: load(),
  };
})();
