/* It hurts, without waiting for the network: the report goes into the outbox, and the tablet says the next step. */
(function () {
  "use strict";
  var outbox = window.outbox, form = document.querySelector(".hurts-form"),
    panel = document.querySelector("[data-hurts-answer]");
  if (!outbox || !form || !panel) return;
  var URGENCY = ["ease", "watch", "stop", "doctor_today"], kept = "", stopped = "";
  var query = new URLSearchParams(window.location.search), measure = query.get("measure"),
    child = /hurts\/(\d+)\/$/.exec(window.location.pathname);
  /* The address of the measure's sheet, where there is one. */
  var sheet = child && /^[-\w]+$/.test(measure || "") ? window.location.pathname.replace(child[0], measure + "/") : "";

  function values(name) {
    return Array.prototype.map.call(form.querySelectorAll("[name=" + name + "]"),
      function (each) { return each.value; });
  }
  function chosen(name) {
    return Array.prototype.map.call(form.querySelectorAll("[name=" + name + "]:checked"),
      function (each) { return each.value; });
  }
  /* The same words for a place as progress/rules/pain.py; a test compares the two on every combination. */
  function kindOf(places) {
    var left = [], right = [], bones = panel.dataset.bones.split(" "), atBone = false;
    places.forEach(function (place) {
      var name = place.slice(2);
      if (place.indexOf("L-") === 0) left.push(name);
      if (place.indexOf("R-") === 0) right.push(name);
      if (bones.indexOf(name) >= 0) atBone = true;
    });
    var isBoth = left.length > 0 && left.length + right.length === places.length
      && left.slice().sort().join() === right.slice().sort().join();
    return (isBoth ? 2 : 0) + (atBone ? 1 : 0);
  }
  function asks(feel, places, effect, time, number) {
    var effects = [""].concat(values("stopped")), times = [""].concat(values("since"));
    var at = values("feels").indexOf(feel) * 4 + kindOf(places);
    at = (at * effects.length + effects.indexOf(effect)) * times.length + times.indexOf(time);
    return URGENCY[+panel.dataset.triage[at * 12 + (number === "" ? 0 : +number + 1)]];
  }
  function now() {
    return asks(chosen("feels")[0], chosen("region"), chosen("stopped")[0] || "", chosen("since")[0] || "",
      chosen("intensity")[0] || "");
  }
  function told() {
    var feel = form.querySelector("[name=feels]:checked"), number = chosen("intensity")[0];
    var places = Array.prototype.map.call(form.querySelectorAll("[name=region]:checked"), function (each) {
      return each.parentNode.textContent.trim();
    });
    var parts = [feel.parentNode.textContent.trim()].concat(places);
    if (form.elements.note.value) parts.push("“" + form.elements.note.value + "”");
    if (number) parts.push(number + "/10");
    var text = parts.join(", ");
    return text.charAt(0).toUpperCase() + text.slice(1) + ".";
  }
  function show() {
    var asked = now();
    panel.querySelectorAll("[data-asks]").forEach(function (each) { each.hidden = each.dataset.asks !== asked; });
    panel.querySelectorAll("[data-told]").forEach(function (each) { each.textContent = told(); });
    panel.querySelector("[data-first-aid]").hidden = URGENCY.indexOf(asked) < 2;
    form.hidden = true;
    panel.hidden = false;
    window.scrollTo(0, 0);
    panel.querySelector("[data-asks]:not([hidden]) h2").focus();
  }
  function back() {
    kept = "";
    form.hidden = false;
    panel.hidden = true;
    if (stopped)
      keepForRun("take-back/", { key: outbox.key(), of: stopped },
        panel.querySelector("[data-undo]").textContent.trim() + ": " + panel.dataset.wordsStopped);
    stopped = "";
    form.elements.key.value = outbox.key();
    delete form.dataset.kept;
  }

  /* A page that was kept for a time without network was kept without what its address asks: where she came from. */
  function findWayBack() {
    if (!sheet) return;
    var way = sheet + (query.has("run") ? query.has("one") ? "run/one/" : "run/" : "");
    document.querySelectorAll("[data-way-back]").forEach(function (link) { link.setAttribute("href", way); });
  }
  findWayBack();

  /* Whoever was up in a run when it hurt is stopped there, by the report and not before it. */
  function keepForRun(path, fields, words) {
    outbox.keep({ path: sheet + path, fields: fields, words: words });
    return fields.key;
  }
  /* Made from the report's, as progress/actions/pain.py does, so that the studio knows which stop a report brought. */
  function stopKey() {
    return form.elements.key.value.replace(/.$/, function (last) { return (parseInt(last, 16) ^ 1).toString(16); });
  }

  var lacking = form.querySelector("[data-lacking]");
  function isWhole() { return chosen("feels").length && (chosen("region").length || form.elements.note.value.trim()); }
  form.addEventListener("input", function () { if (isWhole()) lacking.hidden = true; });
  form.addEventListener("submit", function (event) {
    lacking.hidden = !!isWhole();
    if (lacking.hidden) {
      if (sheet && query.has("up") && !form.dataset.kept)
        stopped = keepForRun("missing/", { key: stopKey(), student: child[1], reason: "pain" },
          panel.dataset.wordsStopped);
      return;
    }
    event.preventDefault();
    lacking.querySelector("p").textContent = panel.dataset.wordsLacking;
    lacking.focus({ preventScroll: true });
  });
  document.addEventListener("outbox:kept", function (event) {
    if (event.detail.form !== form) return;
    kept = event.detail.key;
    show();
  });
  /* The studio's computer knows more: what was reported before. Its page takes over, if this one is still looked at. */
  document.addEventListener("outbox:answered", function (event) {
    var answer = event.detail.answer;
    if (event.detail.key !== kept || !answer) return;
    if (event.detail.status === 200 && answer.report) window.location.replace(answer.report.next_step);
  });
  /* Whoever has gone back to the class is not fetched away from it. */
  panel.addEventListener("click", function (event) { if (event.target.closest("a")) kept = ""; });
  panel.querySelectorAll("[data-undo]").forEach(function (button) {
    button.addEventListener("click", function () {
      outbox.pending().then(function (rows) {
        var row = rows.filter(function (each) { return each.key === kept; })[0];
        /* While it is being sent its own page takes it back. */
        if (row) outbox.drop(row).then(back);
      });
    });
  });
  window.hurts = { asks: asks };
})();
