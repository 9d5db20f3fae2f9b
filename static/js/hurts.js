/* It hurts, without waiting for the network: the report goes into the outbox, and the tablet says the next step. */
(function () {
  "use strict";
  var outbox = window.outbox, form = document.querySelector(".hurts-form");
  var panel = document.querySelector("[data-hurts-answer]");
  if (!outbox || !form || !panel) return;
  var URGENCY = ["watch", "stop", "doctor_today", "head", "emergency"];
  var HEAD = ["head", "neck"], GROWING = ["heel", "shin"];
  var ENOUGH = ["limps", "swollen", "numb"], BONE = ["shin", "top", "ball", "outer-edge"];
  var OTHERWISE = ["changed", "exercise", "class"];
  var table = JSON.parse(panel.dataset.table), patterns = JSON.parse(panel.dataset.patterns);
  var kept = "", stopped = "";
  var query = new URLSearchParams(window.location.search), measure = query.get("measure");
  var child = /hurts\/(\d+)\/$/.exec(window.location.pathname);
  /* The address of the measure's sheet, where there is one. */
  var sheet = child && /^[-\w]+$/.test(measure || "") ? window.location.pathname.replace(child[0], measure + "/") : "";

  function each(where, what, act) { Array.prototype.forEach.call(where.querySelectorAll(what), act); }
  function has(list, one) { return list.indexOf(one) >= 0; }
  function meets(list, other) { return !list.length || list.some(function (one) { return has(other, one); }); }
  function chosen(name) {
    var found = [];
    each(form, "[name=" + name + "]:checked", function (one) { found.push(one.value); });
    return found;
  }

  /* --- what is asked: the same rows, words and reasons as in progress/rules; a test compares the two ---------- */
  function plain(note) {
    var small = note.normalize("NFC").toLowerCase().replace(/[’ʼ´`‘]/g, "'");
    return " " + (small.match(/[\p{L}\p{N}]+(?:['-][\p{L}\p{N}]+)*/gu) || []).join(" ") + " ";
  }
  /* Every word that seems to name it. */
  function words(key, note) {
    var finds = new RegExp(" (" + patterns[key] + ")(?= )", "g"), text = plain(note), found = [], one;
    while ((one = finds.exec(text))) { found.push(one[1]); finds.lastIndex = one.index + 1; }
    return found;
  }
  function asks(told) {
    var named = Object.keys(patterns).filter(function (key) {
      return words(key, told.note).length && !has(told.not_meant, key);
    });
    var places = told.places.map(function (place) { return place.charAt(1) === "-" ? place.slice(2) : place; });
    var signs = told.signs.concat(named), feels = told.feels.concat(named);
    places = places.concat(named.filter(function (key) { return has(HEAD, key); }));
    return table.reduce(function (worst, row) {
      var fits = meets(row.feels, feels) && meets(row.signs, signs) && meets(row.places, places)
        && meets(row.stopped, [told.stopped]) && (told.intensity || 0) >= row.number;
      return fits && URGENCY.indexOf(row.asks) > URGENCY.indexOf(worst) ? row.asks : worst;
    }, "watch");
  }
  function isBone(told) {
    var named = Object.keys(patterns).filter(function (key) {
      return words(key, told.note).length && !has(told.not_meant, key);
    });
    if (has(told.signs.concat(named), "rest")) return true;
    var isThere = has(told.feels.concat(named), "sharp") && told.places.some(function (place) {
      return has(BONE, place.slice(2));
    });
    return isThere && (has(OTHERWISE, told.stopped) || !has(["", "today"], told.since));
  }
  /* Why a health professional should see it, as far as one report says it by itself. */
  function referred(told) {
    if (URGENCY.indexOf(asks(told)) > 1) return "";
    if (told.since === "longer") return "lasts";
    if (isBone(told)) return "bone";
    var isGrowing = GROWING.some(function (name) {
      return has(told.places, "L-" + name) && has(told.places, "R-" + name);
    });
    return isGrowing ? "growing" : "";
  }
  function told() {
    var number = chosen("intensity")[0];
    return {
      feels: chosen("feels"), signs: chosen("signs"), places: chosen("region"), stopped: chosen("stopped")[0] || "",
      since: chosen("since")[0] || "", intensity: number === undefined ? null : +number, note: form.elements.note.value,
      not_meant: chosen("not_meant"),
    };
  }

  /* --- what the words seem to name is asked back; nothing tapped is ever lowered ------------------------------ */
  var settled = {};
  function askBack() {
    each(form, "[data-red-word]", function (line) {
      var key = line.dataset.redWord, found = words(key, form.elements.note.value), mark = line.querySelector("input");
      var open = found.filter(function (one) { return !has(settled[key] || [], one); });
      if (open.length || !found.length) mark.checked = false;
      line.hidden = !open.length || isTapped(key);
      if (open.length) line.querySelector("[data-named]").textContent = open[0];
    });
  }
  function chip(key) { return form.querySelector("[value=" + key + "]:not([name=not_meant])"); }
  function isTapped(key) { return !!chip(key) && chip(key).checked; }
  function settle(line, isMeant) {
    var key = line.dataset.redWord;
    var found = words(key, form.elements.note.value), before = settled[key] || [];
    var shown = found.filter(function (one) { return !has(before, one); })[0];
    settled[key] = isMeant ? found : before.concat([shown]);
    if (isMeant && chip(key)) chip(key).checked = true;
    /* Each word is asked by itself: "no fever" says nothing of a chest that hurts. */
    askBack();
    line.querySelector("input").checked = !isMeant && found.every(function (one) { return has(settled[key], one); });
  }
  each(form, "[data-red-word]", function (line) {
    line.querySelector("[data-meant]").addEventListener("click", function () { settle(line, true); });
    line.querySelector("[data-not-meant]").addEventListener("click", function () { settle(line, false); });
  });
  form.addEventListener("input", askBack);
  askBack();

  /* --- the answer ----------------------------------------------------------------------------------------- */
  function saidWords() {
    var parts = [], number = chosen("intensity")[0];
    ["feels", "signs", "region"].forEach(function (name) {
      each(form, "[name=" + name + "]:checked", function (one) {
        var said = one.parentNode.textContent.trim();
        parts.push(name === "region" ? said.replace(", ", " ") : said);
      });
    });
    if (form.elements.note.value) parts.push("“" + form.elements.note.value + "”");
    if (number) parts.push(number + "/10");
    var text = parts.join(", ");
    return text.charAt(0).toUpperCase() + text.slice(1) + ".";
  }
  function show() {
    var asked = asks(told()), why = referred(told());
    each(panel, "[data-asks]", function (one) {
      one.hidden = one.dataset.asks !== asked || one.dataset.referred !== why;
    });
    each(panel, "[data-told]", function (one) { one.textContent = saidWords(); });
    panel.querySelector("[data-first-aid]").hidden = asked === "watch" && !why;
    form.hidden = true;
    panel.hidden = false;
    window.scrollTo(0, 0);
    panel.querySelector("[data-asks]:not([hidden]) h2").focus();
  }
  function back() {
    kept = "";
    form.reset();
    settled = {};
    askBack();
    form.hidden = false;
    panel.hidden = true;
    if (stopped) takeStopBack(stopped);
    stopped = "";
    form.elements.key.value = outbox.key();
    delete form.dataset.kept;
    say(panel.dataset.wordsTakenBack, true);
  }

  /* A page that was kept for a time without network was kept without what its address asks: where she came from. */
  function findWayBack() {
    if (!sheet) return;
    var way = sheet + (query.has("run") ? query.has("one") ? "run/one/" : "run/" : "");
    each(document, "[data-way-back]", function (link) { link.setAttribute("href", way); });
  }
  function knowTheRun() {
    var exercise = form.querySelector("[name=stopped][value=exercise]"), at = query.get("at");
    if (query.has("run") && !chosen("stopped").length) exercise.checked = exercise.defaultChecked = true;
    if (/^\d{1,3}$/.test(at || "") && !form.elements.at_count.value) {
      form.elements.at_count.value = form.elements.at_count.defaultValue = at;
    }
  }
  findWayBack();
  knowTheRun();

  /* Whoever was up in a run when it hurt is stopped there, by the report and not before it. */
  function keepForRun(path, fields, sentence) {
    outbox.keep({ path: sheet + path, fields: fields, words: sentence });
    return fields.key;
  }
  /* The stop that the report brought: never sent, or where that is too late taken back. */
  function takeStopBack(key) {
    var undo = panel.querySelector("[data-undo]").textContent.trim() + ": " + panel.dataset.wordsStopped;
    outbox.pending().then(function (rows) {
      var row = rows.filter(function (one) { return one.key === key; })[0];
      return row ? outbox.drop(row).then(function () { return true; }) : false;
    }).then(function (isDropped) {
      if (!isDropped) keepForRun("take-back/", { key: outbox.key(), of: key }, undo);
    });
  }
  /* Made from the report's, as progress/actions/pain.py does, so that the studio knows which stop a report brought. */
  function stopKey() {
    return form.elements.key.value.replace(/.$/, function (last) { return (parseInt(last, 16) ^ 1).toString(16); });
  }

  var lacking = form.querySelector("[data-lacking]");
  function isWhole() {
    if (chosen("signs").length) return true;
    if (chosen("region").some(function (place) { return has(HEAD, place); })) return true;
    if (chosen("feels").some(function (one) { return has(ENOUGH, one); })) return true;
    return chosen("feels").length && (chosen("region").length || form.elements.note.value.trim());
  }
  function say(sentence, isCalm) {
    lacking.hidden = false;
    lacking.classList.toggle("calm", !!isCalm);
    lacking.querySelector("p").textContent = sentence;
  }
  form.addEventListener("input", function () {
    if (isWhole() || lacking.classList.contains("calm")) lacking.hidden = true;
  });
  form.addEventListener("submit", function (event) {
    lacking.hidden = !!isWhole();
    if (lacking.hidden) {
      if (sheet && query.has("up") && !form.dataset.kept) {
        var stop = { key: stopKey(), student: child[1], reason: "pain", report: form.elements.key.value };
        stopped = keepForRun("missing/", stop, panel.dataset.wordsStopped);
      }
      return;
    }
    event.preventDefault();
    say(panel.dataset.wordsLacking, false);
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
  each(panel, "[data-undo]", function (button) {
    button.addEventListener("click", function () {
      outbox.pending().then(function (rows) {
        var row = rows.filter(function (one) { return one.key === kept; })[0];
        /* While it is being sent its own page takes it back. */
        if (row) outbox.drop(row).then(back);
      });
    });
  });
  window.hurts = { asks: asks, named: words, referred: referred };
})();
