/* What stands in each cell of a sheet: the server's rows, with what waits on this tablet laid over; draws nothing. */
(function () {
  "use strict";

  /* `sheet`: what the page says of its measure; `me`: the person the page was made for. */
  window.barreCells = function (sheet, me) {
    var rows = new Map(), waiting = [];

    function number(value) {
      var text = Math.abs(value).toFixed(Number.isInteger(value) ? 0 : sheet.decimals).replace(".", sheet.point);
      return (value < 0 ? "−" : "") + text;
    }
    function fill(text, about) {
      Object.keys(about).forEach(function (name) { text = text.split("{" + name + "}").join(about[name]); });
      return text;
    }
    function written(value, capped) {
      if (sheet.kind === "grade")
        return sheet.grades[Math.min(Math.max(Math.round(value), 0), sheet.grades.length - 1)];
      var text = number(value) + (sheet.unit ? " " + sheet.unit : "");
      return capped ? fill(sheet.words.atLeast, { value: text }) : text;
    }
    /* A typed number, with point or comma; null where it is none here. */
    function parse(text) {
      var typed = text.trim().replace("−", "-").replace(",", ".");
      var found = /^-?\d{1,5}(?:\.(\d*?)0*)?$/.exec(typed);
      return found && (found[1] || "").length <= sheet.decimals ? parseFloat(typed) : null;
    }
    /* What is wrong with it: {error} refuses, {question} asks back, {} is fine. */
    function judge(text) {
      var value = parse(text);
      if (value === null) return { error: fill(sheet.words.notANumber, { text: text }) };
      if (value < sheet.hard[0] || value > sheet.hard[1])
        return { error: fill(sheet.words.cannotBe, { value: written(value) }) };
      if (value >= sheet.soft[0] && value <= sheet.soft[1]) return {};
      if (sheet.cap !== null && value > sheet.cap) return { question: sheet.words.stopsAt };
      return { question: fill(sheet.words.sure, { value: written(value) }) };
    }

    /* --- the server's rows: they only ever grow, so the order in which they are told does not matter --- */

    function learn(results) {
      results.forEach(function (row) {
        if (row) rows.set(row.key, Object.assign({ order: rows.size }, rows.get(row.key), row));
      });
    }
    /* A row that only says again what stood before a correction was undone is that earlier entry. */
    function original(row) {
      var undone = row.corrects && rows.get(row.corrects),
        before = undone && undone.corrects && rows.get(undone.corrects);
      return before && before.value === row.value && before.reason_missing === row.reason_missing ? original(before)
        : row;
    }
    function entryFrom(row) {
      var first = original(row), before = first.corrects && rows.get(first.corrects);
      return {
        key: row.key, of: first.key, value: row.value === null ? null : parseFloat(row.value),
        isCapped: row.reached_cap,
        reason: row.reason_missing, attempt: row.attempt, order: first.order, state: "sent",
        student: String(row.student),
        mine: String(row.by_id) === me,
        before: before && before.reason_missing !== "withdrawn" ? entryFrom(before) : null,
      };
    }
    function known() {
      var gone = new Set(), cells = new Map();
      rows.forEach(function (row) { if (row.corrects) gone.add(row.corrects); });
      rows.forEach(function (row) {
        if (gone.has(row.key) || row.superseded || row.reason_missing === "withdrawn") return;
        put(cells, row.student + "|" + row.side, entryFrom(row));
      });
      cells.forEach(function (entries) { entries.sort(function (a, b) { return a.attempt - b.attempt; }); });
      return cells;
    }
    function put(cells, at, entry) { if (cells.has(at)) cells.get(at).push(entry); else cells.set(at, [entry]); }

    /* --- laid over: what this tablet kept and the server has not answered yet --- */

    function entryOf(row, order) {
      var value = row.fields.value === undefined ? null : parse(row.fields.value);
      var isCapped = value !== null && sheet.cap !== null && value >= sheet.cap;
      return {
        key: row.key, of: row.key, value: isCapped ? sheet.cap : value,
        isCapped: isCapped || row.fields.at_least === "1",
        reason: row.fields.reason || "", order: 1e9 + order, attempt: 1e9 + order, state: row.state,
        /* Told at another measure and not sent yet: it is taken back there. */
        mine: !row.fields.reason || row.path === sheet.missing,
        student: row.fields.student, before: null, row: row,
      };
    }
    function lay(cells, row, order) {
      var student = row.fields.student + "|", entry = entryOf(row, order);
      if (row.fields.of) return takeBack(cells, row);
      if (row.fields.reason) {
        Object.keys(sheet.sides).forEach(function (side) {
          if (cells.has(student + side) && !cells.get(student + side).length)
            put(cells, student + side, Object.assign({}, entry));
        });
        return undefined;
      }
      var list = cells.get(student + (row.fields.side || "")), corrects = row.fields.corrects_key;
      if (!list) return undefined;
      var at = list.findIndex(function (each) { return each.key === corrects; });
      if (at < 0) return corrects ? undefined : list.push(entry);
      entry.before = list[at];
      entry.attempt = list[at].attempt;
      list[at] = entry;
      return undefined;
    }
    function takeBack(cells, row) {
      var of = row.fields.of;
      cells.forEach(function (list) {
        var at = list.findIndex(function (each) { return each.key === of || each.of === of; }), gone = list[at];
        if (!gone) return;
        if (gone.before) {
          list[at] = Object.assign({}, gone.before,
            { key: row.key, attempt: gone.attempt, state: row.state, row: row });
          return;
        }
        list.splice(at, 1);
        if (gone.reason) forgive(cells, gone);
      });
    }
    /* A reason is taken back from every side that it was given for. */
    function forgive(cells, gone) {
      cells.forEach(function (list) {
        var at = list.findIndex(function (each) {
          return each.mine && each.reason === gone.reason && each.student === gone.student;
        });
        if (at >= 0) list.splice(at, 1);
      });
    }

    /* `student|side` of every cell to its entries, in the order of the attempts. */
    function standing(places) {
      var cells = known();
      places.forEach(function (at) { if (!cells.has(at)) cells.set(at, []); });
      /* What the server has told already is no longer laid over, even if its own answer was lost. */
      waiting.forEach(function (row, order) { if (!rows.has(row.key)) lay(cells, row, order); });
      return cells;
    }

    function score(entries) {
      var counted = entries.filter(function (entry) { return entry.value !== null; });
      if (!counted.length) return null;
      if (sheet.rule === "last") return counted[counted.length - 1];
      if (sheet.rule === "mean") {
        var sum = counted.reduce(function (total, entry) { return total + entry.value; }, 0);
        return {
          value: Math.round((100 * sum) / counted.length) / 100,
          isCapped: counted.some(function (entry) { return entry.isCapped; }),
        };
      }
      return counted.reduce(function (best, entry) {
        return entry.value > best.value || (entry.value === best.value && entry.isCapped) ? entry : best;
      });
    }
    /* What a cell says: {written, attempts, reason, isDone, state, last}. */
    function said(entries) {
      var made = score(entries), values = entries.filter(function (entry) { return entry.value !== null; });
      var reasons = entries.filter(function (entry) { return entry.reason; }), last = entries[entries.length - 1];
      return {
        written: made ? written(made.value, made.isCapped) : reasons.length ? sheet.reasons[reasons[0].reason] : "",
        isReason: !made && reasons.length > 0,
        attempts: sheet.attempts > 1 ? values.map(function (entry) { return number(entry.value); }).join(" · ") : "",
        isDone: reasons.length > 0 || values.length >= sheet.attempts
        || values.some(function (entry) { return entry.isCapped; }),
        isRefused: entries.some(function (entry) { return entry.state === "refused"; }), last: last,
      };
    }

    return {
      learn: learn, standing: standing, said: said, judge: judge, written: written, fill: fill, parse: parse,
      lay: function (row) { waiting.push(row); },
      lift: function (key) { waiting = waiting.filter(function (row) { return row.key !== key; }); },
      /* What is on the tablet, in its order; then what is only just being written there. */
      relay: function (kept) {
        waiting = kept.concat(waiting.filter(function (row) {
          return row.isNew && !kept.some(function (each) { return each.key === row.key; });
        }));
      },
      mark: function (key, state) { waiting.forEach(function (row) { if (row.key === key) row.state = state; }); },
    };
  };
})();
