/* The sheet at the barre: a tap is written at once, goes through the outbox, and can be taken back. */
(function () {
  "use strict";
  /* The second tap of a double tap meets what the first one wrote: it is not a wish to put that right. */
  var SECOND_TAP_MS = 600;
  var place = document.getElementById("sheet-words");
  if (!place || !window.outbox) return;
  var sheet = JSON.parse(place.textContent), me = window.outbox.person.id, cells = window.barreCells(sheet, me);
  var shown = new Map(), reopened = null, returned = {};
  var here = sheet.record.replace(/record\/$/, "");
  cells.learn(sheet.results);

  var everyCell = Array.prototype.slice.call(document.querySelectorAll("#sheet .cell"));
  function all() { return everyCell; }
  function at(cell) { return cell.dataset.student + "|" + cell.dataset.side; }
  function cellAt(where) { return all().filter(function (cell) { return at(cell) === where; })[0]; }
  /* Who leaves this measure out, or is absent and has nothing here; null for everybody else. */
  function restOf(cell) { return window.barreRests.of(cell.dataset.student, sheet.work); }
  function isAway(cell) {
    var student = cell.dataset.student;
    return !cell.entries.length && !returned[student] && window.barreRests.isAbsent(student);
  }
  function isMarked(cell) {
    var mark = cell.querySelector("[data-rest]");
    return !!mark && !mark.hidden;
  }
  function mayGo(cell) { return !restOf(cell) || !!window.barreRests.reason(cell.dataset.student); }
  function nameOf(cell) { return cell.dataset.name + (cell.dataset.side ? " " + sheet.sides[cell.dataset.side] : ""); }

  /* --- drawing ---------------------------------------------------------------------------------------------- */

  function draw() {
    drawCells(all());
    drawSide();
  }
  /* What a tap is about is drawn in the tap's own turn and alone; the rest follows once that is seen. */
  function drawFirst(some) {
    drawCells(some);
    window.outbox.afterPaint(draw);
  }
  function drawCells(some) {
    var standing = cells.standing(all().map(at));
    some.forEach(function (cell) {
      var entries = standing.get(at(cell)), said = cells.said(entries);
      cell.entries = entries;
      var rest = restOf(cell), sign = JSON.stringify([
        said.written, said.attempts, said.isDone, said.isRefused, reopened === at(cell), rest, mayGo(cell),
        isAway(cell),
      ]);
      if (shown.get(cell.id) !== sign) drawCell(cell, said);
      shown.set(cell.id, sign);
    });
  }
  function drawCell(cell, said) {
    var form = cell.querySelector(".entry"), link = cell.querySelector(".written");
    if (!link) return;
    var box = form && form.querySelector("input.box"), rest = restOf(cell), isOff = !mayGo(cell) || isAway(cell);
    var mark = cell.querySelector("[data-rest]"), isTyped = !!box && box.value !== "";
    /* A box that holds digits stays, whatever another tablet told meanwhile. */
    var isOpen = !!form && sheet.isOpen && (reopened === at(cell) || !said.isDone && !isOff || isTyped);
    if (form) {
      form.hidden = !isOpen;
      form.querySelector(".back").hidden = reopened !== at(cell);
      ask(cell, "", false);
      show(form.querySelector(".attempts"), said.attempts);
    }
    if (mark) {
      mark.hidden = isOpen || !isOff || cell.entries.length > 0 && !(rest && rest.isWithdrawn);
      mark.textContent = rest ? rest.words : isAway(cell) ? sheet.reasons.absent : "";
    }
    var isHidden = isOpen || !cell.entries.length || !!rest && rest.isWithdrawn;
    if (link.hidden && !isHidden) cell.dataset.writtenAt = performance.now();
    link.hidden = isHidden;
    link.querySelector(".kept").textContent = said.written;
    link.querySelector(".kept").classList.toggle("soft", said.isReason);
    show(link.querySelector(".attempts"), said.isRefused ? sheet.words.refused : said.attempts);
  }
  function show(element, text) {
    if (!element) return;
    element.textContent = text;
    element.hidden = !text;
  }
  function ask(cell, words, isQuestion) {
    var line = cell.querySelector(".ask"), yes = cell.querySelector(".yes"), box = cell.querySelector("input.box");
    cell.classList.toggle("asked", !!words);
    show(line, words);
    if (yes) yes.hidden = !isQuestion;
    if (!box) return;
    if (words) { box.setAttribute("aria-invalid", "true"); box.setAttribute("aria-describedby", line.id); }
    else { box.removeAttribute("aria-invalid"); box.removeAttribute("aria-describedby"); }
  }
  function latest() {
    return all().reduce(function (found, cell) {
      return cell.entries.reduce(function (best, entry) {
        return entry.mine && (!best || entry.order > best.entry.order) ? { cell: cell, entry: entry } : best;
      }, found);
    }, null);
  }
  function undoWords(found) {
    var entry = found.entry;
    if (entry.reason) return found.cell.dataset.name + ", " + sheet.reasons[entry.reason];
    return nameOf(found.cell) + ", " + cells.written(entry.value, entry.isCapped);
  }
  function drawSide() {
    var undo = document.querySelector("[data-undo] button"), found = latest();
    if (undo) {
      undo.disabled = !found;
      undo.querySelector(".what").textContent = found ? undoWords(found) : "";
    }
    document.querySelectorAll("[data-missing] [name=student]").forEach(function (button) {
      button.hidden = !all().some(function (cell) {
        return cell.dataset.student === button.value && !cell.entries.length;
      });
    });
    drawLeft();
  }
  function drawLeft() {
    var count = document.querySelector(".left-count"), left = 0, half = [];
    if (!count) return;
    document.querySelectorAll("#sheet [data-row]").forEach(function (row) {
      var mine = Array.prototype.slice.call(row.querySelectorAll(".cell"));
      var empty = mine.filter(function (cell) { return !cell.entries.length; });
      var rest = mine.length && restOf(mine[0]), note = row.querySelector("[data-rest-note]");
      row.classList.toggle("resting", !!rest);
      /* The mark stays in the row, also where its cells are taken or being filled. */
      if (sheet.isOpen) show(note, rest && !mine.every(isMarked) ? rest.words : "");
      var isOff = !!rest || mine.every(isAway);
      row.querySelector(".sheet-name").classList.toggle("off", isOff || mine.every(function (cell) {
        return cell.entries.length && cell.entries[0].reason;
      }));
      if (rest || mine.every(isAway)) return;
      if (mine.length && empty.length === mine.length) left += 1;
      else half = half.concat(empty);
    });
    count.querySelector(".big-count").hidden = !left;
    count.querySelector(".big-count").textContent = left;
    count.querySelector(".soft").textContent = leftWords(left, half);
  }
  function leftWords(left, half) {
    if (!half.length) return left ? sheet.words.toSee : sheet.words.seen;
    var about = { n: half.length, name: half[0].dataset.name, side: sheet.sides[half[0].dataset.side] };
    if (half.length === 1) return cells.fill(left ? sheet.words.toSeeAndOne : sheet.words.one, about);
    return cells.fill(left ? sheet.words.toSeeAndMore : sheet.words.more, about);
  }

  /* --- tapping ------------------------------------------------------------------------------------------------ */

  function keep(path, fields, words, touched) {
    fields.key = window.outbox.key();
    var row = { key: fields.key, path: path, fields: fields, state: "waiting", isNew: true };
    window.outbox.keep({ path: path, fields: fields, words: words, show: function () {
      cells.lay(row);
      drawFirst(touched);
    } }).then(function () { row.isNew = false; });
  }
  function record(cell, text, isConfirmed) {
    var wrong = cells.judge(text);
    if (wrong.error || (wrong.question && !isConfirmed)) {
      ask(cell, wrong.error || wrong.question, !wrong.error);
      cell.dispatchEvent(new CustomEvent("sheet:asked", { bubbles: true }));
      return;
    }
    var rest = restOf(cell), why = rest ? window.barreRests.reason(cell.dataset.student) : "";
    if (rest && !why) { askFor(cell, function () { record(cell, text, isConfirmed); }); return; }
    var fields = { student: cell.dataset.student, side: cell.dataset.side, value: text.trim(),
      protocol: String(sheet.protocol) };
    if (isConfirmed) fields.confirmed = "1";
    if (why) fields.despite = why;
    var last = cell.entries[cell.entries.length - 1];
    if (reopened === at(cell) && (last.mine || last.state === "sent")) fields.corrects_key = last.key;
    reopened = null;
    ask(cell, "", false);
    var box = cell.querySelector("input.box");
    if (box) box.value = "";
    keep(sheet.record, fields, nameOf(cell) + ": " + cells.written(cells.parse(text)), [cell]);
    cell.dispatchEvent(new CustomEvent("sheet:kept", { bubbles: true }));
  }
  /* Nothing is recorded of whoever should rest before somebody said why; without a reason what was typed goes. */
  function askFor(cell, act) {
    window.barreRests.ask(cell.dataset.student, cell.dataset.name, restOf(cell)).then(function (why) {
      var box = cell.querySelector("input.box");
      if (why) act();
      else { if (box) box.value = ""; if (reopened === at(cell)) reopened = null; }
      draw();
    });
  }
  function takeBack(cell, entry) {
    if (reopened) leave();
    /* What the server refused, or what waits to be thrown away, is nowhere else: it goes from the tablet. */
    if (entry.state === "refused" && entry.row && !entry.row.fields.of) { drop(entry); return; }
    keep(sheet.takeBack, { of: entry.of },
      document.querySelector("[data-undo] .undo > span").textContent.trim() + ": "
        + undoWords({ cell: cell, entry: entry }), [cell]);
  }
  function drop(entry) {
    window.outbox.pending().then(function (rows) {
      var row = rows.filter(function (each) { return each.key === entry.key; })[0];
      return row && window.outbox.drop(row);
    }).then(function () { cells.lift(entry.key); draw(); });
  }

  /* A tap waits until what the tablet kept is laid over: its box may have been tapped already. A shelf that does not
     answer holds nobody up. */
  var SHELF_MS = 2000, isLaid = false, held = [];
  function isHeld(event) {
    var form = event.target, button = event.submitter;
    if (isLaid || !form.matches("#sheet .entry, [data-undo], [data-missing]")) return false;
    event.preventDefault();
    held.push(function () { if (!form.hidden) form.requestSubmit(button); });
    return true;
  }
  function letGo() {
    if (isLaid) return;
    isLaid = true;
    draw();
    document.getElementById("sheet").classList.add("is-drawn");
    document.dispatchEvent(new CustomEvent("sheet:drawn"));
    held.splice(0).forEach(function (act) { act(); });
  }

  document.addEventListener("submit", function (event) {
    var form = event.target, button = event.submitter;
    if (isHeld(event)) return;
    if (form.matches("#sheet .entry")) {
      event.preventDefault();
      var cell = form.closest(".cell"), box = form.querySelector("input.box");
      if (button && button.matches(".back")) takeBack(cell, cell.entries[cell.entries.length - 1]);
      else if (box) { if (box.value.trim()) record(cell, box.value, !!button && button.matches(".yes")); }
      else if (button && button.name === "value") record(cell, button.value, false);
    } else if (form.matches("[data-undo]")) {
      event.preventDefault();
      var found = latest();
      if (found) takeBack(found.cell, found.entry);
    } else if (form.matches("[data-missing]") && button && button.name === "student") {
      event.preventDefault();
      var reason = new FormData(form).get("reason");
      form.closest("details").open = false;
      if (reason === "pain" && askPain(button.value)) return;
      keep(sheet.missing, { student: button.value, reason: reason },
        button.dataset.name + ", " + sheet.reasons[reason], all().filter(function (cell) {
        return cell.dataset.student === button.value;
      }));
    }
  });
  /* Pain is a report, not a reason: its page asks where and how, and brings the reason along. */
  function askPain(student) {
    var link = document.querySelector('.picker.hurts a[href*="/hurts/' + student + '/"]');
    if (!link) return false;
    link.search += "&up";
    link.click();
    return true;
  }
  document.addEventListener("click", function (event) {
    var mark = event.target.closest("#sheet [data-rest]");
    if (mark) { onMark(mark.closest(".cell")); return; }
    var link = event.target.closest("#sheet .written"), cell = link && link.closest(".cell");
    if (!cell) return;
    event.preventDefault();
    if (!sheet.isOpen || performance.now() - (cell.dataset.writtenAt || -SECOND_TAP_MS) < SECOND_TAP_MS) return;
    if (cells.said(cell.entries).isRefused) { document.querySelector("[data-outbox-line]").open = true; return; }
    if (!mayGo(cell)) askFor(cell, function () { reopen(cell); });
    else reopen(cell);
  }, true);
  /* Whoever is absent and is tapped is here; whoever rests is asked about first. */
  function onMark(cell) {
    function open() { draw(); var box = cell.querySelector(".entry:not([hidden]) .box"); if (box) box.focus(); }
    if (!isLaid) return;
    if (!mayGo(cell)) { askFor(cell, open); return; }
    returned[cell.dataset.student] = true;
    open();
  }
  function reopen(cell) {
    var box = cell.querySelector("input.box"), last = cell.entries[cell.entries.length - 1];
    reopened = at(cell);
    draw();
    if (box) { box.value = last.value === null ? "" : String(last.value); box.focus(); }
    else { var first = cell.querySelector("button.box"); if (first) first.focus(); }
  }
  /* A finger elsewhere leaves what stood there as it was. */
  document.addEventListener("pointerdown", function (event) {
    if (!reopened || event.target.closest(".pad, .outbox-line")) return;
    var cell = cellAt(reopened);
    if (cell && !cell.contains(event.target)) leave();
  });
  document.addEventListener("keydown", function (event) { if (event.key === "Escape" && reopened) leave(); });
  function leave() {
    var cell = cellAt(reopened), box = cell && cell.querySelector("input.box");
    if (box) box.value = "";
    reopened = null;
    draw();
  }

  /* --- answers and news --------------------------------------------------------------------------------------- */

  document.addEventListener("outbox:answered", function (event) {
    var told = event.detail.answer || {};
    if (event.detail.status === 200) {
      cells.learn(told.results || []);
      cells.lift(event.detail.key);
    } else cells.mark(event.detail.key, "refused");
    draw();
  });
  document.addEventListener("outbox:dropped", function (event) { cells.lift(event.detail.key); draw(); });
  document.addEventListener("outbox:changed", load);
  document.addEventListener("barre:rests", draw);
  document.addEventListener("barre:news", function (event) {
    cells.learn(event.detail.results);
    window.outbox.remember(here, event.detail.results);
    if (event.detail.is_open !== sheet.isOpen) { window.location.reload(); return; }
    draw();
  });
  var day = sheet.record.replace(/[^/]+\/record\/$/, "");
  function isOfThisSheet(row) {
    return [sheet.record, sheet.missing, sheet.takeBack].indexOf(row.path) >= 0 || window.barreNews.isOfDay(row, day);
  }
  /* The page may be an old one that was kept: what was told and tapped since is laid over it. */
  function load() {
    return Promise.all([window.outbox.pending(), window.outbox.recall(here)]).then(function (found) {
      var rows = found[0];
      cells.learn(found[1]);
      cells.relay(rows.filter(isOfThisSheet));
      draw();
    });
  }
  /* A browser reads a function when it is first called and shapes letters when they are first written. Both are done
     before a finger comes, in a cell that says what it said again before any frame is drawn. */
  function rehearse() {
    var cell = all().filter(function (each) { return each.querySelector(".entry"); }).pop();
    if (!cell || cell.contains(document.activeElement)) return;
    cells.judge("0");
    cells.lay({ key: "", path: sheet.record,
      fields: { student: cell.dataset.student, side: cell.dataset.side, value: "0" }, state: "waiting" });
    drawCells([cell]);
    cell.getBoundingClientRect();
    cells.lift("");
    drawCells([cell]);
  }
  window.addEventListener("load", function () { window.outbox.afterPaint(rehearse); });
  document.addEventListener("DOMContentLoaded", function () {
    var again = document.querySelector(".cell .back:not([hidden])");
    if (again) reopened = at(again.closest(".cell"));
    draw();
    Promise.all([load(), window.barreRests.ready, window.barreNews(sheet.news, sheet.stamp)]).then(letGo, letGo);
    window.setTimeout(letGo, SHELF_MS);
  });
})();
