/* What is known of each child in this measure: stored rows, rows waiting on this tablet, taps of this moment. */
(function () {
  "use strict";

  window.groupRun.facts = function (plan) {
    var children = plan.children.map(function (child) {
      var tries = {};
      plan.sides.forEach(function (side) { tries[side] = []; });
      return { id: child.id, name: child.name, group: child.group, rests: child.rests, hasNotes: child.hasNotes,
        away: null, tries: tries, rest: null, isAbsent: false };
    });
    /* `stored`: rows as the server told them; `own`: entries of this tablet, sent or not, in the order tapped. */
    var byId = {}, known = {}, taps = [], stored = plan.rows, own = [];
    children.forEach(function (child) { byId[child.id] = child; });
    function rebuild() {
      children.forEach(function (child) {
        child.away = null;
        plan.sides.forEach(function (side) { child.tries[side] = []; });
      });
      known = {};
      taps = [];
      stored.forEach(apply);
      own.forEach(applyOwn);
    }

    /* --- one row after the other ---------------------------------------------------------------------------- */

    function isSame(one, other) {
      return one.value === other.value && one.fault === other.fault && one.least === other.least;
    }
    function forget(of) { taps = taps.filter(function (tap) { return tap.of !== of; }); }
    function note(child, side, key, isMine) { if (isMine) taps.push({ child: child, side: side, of: key }); }

    /* `row` as the server tells it; `corrects` is the key of the row it replaces. */
    function apply(row) {
      var child = byId[row.student];
      if (!child || known[row.key]) return;
      known[row.key] = true;
      var isBack = child.away && row.corrects && child.away.keys.indexOf(row.corrects) >= 0;
      if (isBack) comeBack(child);
      if (row.reason && row.reason !== "withdrawn") {
        /* A result that gave way to a reason is none any more. */
        if (row.corrects && child.tries[row.side]) correct(child, row);
        goAway(child, row);
        return;
      }
      if (!child.tries[row.side] || (isBack && row.value === null)) return;
      if (row.corrects && !isBack) correct(child, row);
      else if (row.value !== null) {
        var first = { of: row.key, value: row.value, fault: row.fault, least: row.least };
        child.tries[row.side].push({ attempt: row.attempt, standing: row.key, states: [first], isMine: row.mine });
        note(child, row.side, row.key, row.mine);
      }
    }
    function goAway(child, row) {
      if (child.away) { child.away.keys.push(row.key); return; }
      child.away = { reason: row.reason, keys: [row.key], elsewhere: row.elsewhere };
      note(child, row.side, row.key, row.mine);
    }
    function comeBack(child) {
      forget(child.away.keys[0]);
      child.away = null;
    }
    /* A row that says again what stood before the last one is its undoing; a reason leaves no result. */
    function correct(child, row) {
      var tries = child.tries[row.side];
      var found = tries.filter(function (each) { return each.standing === row.corrects; })[0];
      if (!found) return;
      var before = found.states[found.states.length - 2];
      if (row.reason) {
        found.states.forEach(function (state) { forget(state.of); });
        tries.splice(tries.indexOf(found), 1);
        return;
      }
      found.standing = row.key;
      if (before && isSame(before, row)) { forget(found.states.pop().of); return; }
      found.states.push({ of: row.key, value: row.value, fault: row.fault, least: row.least });
      note(child, row.side, row.key, row.mine);
    }

    /* --- entries of this tablet ------------------------------------------------------------------------------- */

    function standingOf(key) {
      var found = null;
      children.forEach(function (child) {
        plan.sides.forEach(function (side) {
          child.tries[side].forEach(function (each) {
            each.states.forEach(function (state, at) {
              if (state.of === key) found = { child: child, side: side, one: each, at: at };
            });
          });
        });
      });
      return found;
    }
    function applyOwn(row) {
      var fields = row.fields;
      if (/\/take-back\/$/.test(row.path)) { applyTakeBack(fields.of, fields.key); return; }
      /* Told at another measure and not sent yet: it is taken back there. */
      var isMissing = /\/missing\/$/.test(row.path), elsewhere = row.path.indexOf(plan.paths.run) !== 0;
      if (!isMissing && !/\/record\/$/.test(row.path)) return;
      apply({
        key: fields.key, student: Number(fields.student), side: isMissing ? plan.sides[0] : fields.side, attempt: 0,
        value: isMissing ? null : capped(Number(fields.value)), fault: fields.fault || "",
        least: fields.at_least === "1" || isCap(Number(fields.value)), reason: isMissing ? fields.reason : "",
        corrects: fields.corrects_key || "", mine: !elsewhere, elsewhere: elsewhere,
      });
    }
    function applyTakeBack(of, key) {
      if (known[key]) return;
      var away = children.filter(function (child) { return child.away && child.away.keys[0] === of; })[0];
      if (away) { known[key] = true; comeBack(away); return; }
      var place = standingOf(of);
      if (!place) return;
      var before = place.one.states[place.at - 1];
      apply({
        key: key, student: place.child.id, side: place.side, value: before ? before.value : null,
        fault: before ? before.fault : "", least: before ? before.least : false, reason: before ? "" : "withdrawn",
        corrects: place.one.standing, mine: true,
      });
    }

    /* --- what the server tells ---------------------------------------------------------------------------------- */

    function asRow(told) {
      return {
        key: told.key, student: told.student, side: told.side, attempt: told.attempt, fault: told.fault,
        value: told.value === null ? null : Number(told.value), least: told.reached_cap, reason: told.reason_missing,
        corrects: told.corrects || "", mine: told.by_id === plan.person,
      };
    }
    function isStored(key) { return stored.some(function (row) { return row.key === key; }); }

    /* --- taps ------------------------------------------------------------------------------------------------ */

    function isCap(value) { return plan.cap !== null && value >= plan.cap; }
    function capped(value) { return isCap(value) ? plan.cap : value; }
    function written(value) {
      return value.toFixed(plan.decimals && value % 1 ? plan.decimals : 0).replace(".", plan.decimalSign);
    }
    function said(state) {
      var words = written(state.value) + plan.words.unit;
      if (state.least) words = plan.words.kept_least.replace("%value", words);
      return state.fault ? words + ", " + wordFor(state.fault) : words;
    }
    function wordFor(fault) {
      return plan.faults.reduce(function (found, each) { return each[0] === fault ? each[1] : found; }, fault);
    }
    function reasonFor(reason) { return plan.words.reasons[reason] || reason; }
    function called(child, side) { return side ? child.name + ", " + plan.words["foot_" + side] : child.name; }

    /* `show` lays it over what is known, as soon as the tablet has noted it. */
    function send(path, fields, words, show) {
      return window.outbox.keep({ path: plan.paths[path], fields: fields, words: words, show: function () {
        own.push({ path: plan.paths[path], fields: fields });
        show();
      } });
    }
    function put(child, side, state, corrects) {
      var row = {
        key: window.outbox.key(), student: child.id, side: side, attempt: 0, value: capped(state.value),
        fault: state.fault,
        least: state.least || isCap(state.value), reason: "", corrects: corrects || "", mine: true,
      };
      var fields = {
        key: row.key, student: String(child.id), side: side, value: String(row.value), confirmed: "1", fault: row.fault,
        protocol: String(plan.protocol),
        is_first_side: side === plan.sides[0] ? "1" : "0",
      };
      if (!side) delete fields.is_first_side;
      if (row.least) fields.at_least = "1";
      if (corrects) fields.corrects_key = corrects;
      var why = child.rest && window.barreRests.reason(child.id);
      if (why) fields.despite = why;
      return send("record", fields, called(child, side) + ": " + said(row), function () { apply(row); });
    }
    function lastOf(child, side) { return child.tries[side][child.tries[side].length - 1] || null; }
    function top(one) { return one.states[one.states.length - 1]; }

    return {
      children: children,
      /* Everything anew: after a page was opened, after news, after an entry was refused, thrown away or sent again. */
      own: function (rows) { own = rows; rebuild(); },
      news: function (rows) { stored = rows.map(asRow); rebuild(); },
      accepted: function (rows) {
        stored = stored.concat(rows.filter(function (row) { return !isStored(row.key); }).map(asRow));
      },
      drop: function (key) {
        own = own.filter(function (row) { return row.fields.key !== key; });
        rebuild();
      },
      written: written,
      said: said,
      wordFor: wordFor,
      reasonFor: reasonFor,
      isCap: isCap,
      top: top,
      record: function (child, side, value, isLeast) {
        return put(child, side, { value: value, fault: "", least: isLeast }, "");
      },
      correct: function (child, side, one, by) {
        var now = top(one);
        return put(child, side, {
          value: by.value === undefined ? now.value : by.value, fault: by.fault === undefined ? now.fault : by.fault,
          least: by.value === undefined && now.least,
        }, one.standing);
      },
      /* For a moment she has a result; then everything is as it was. */
      pretend: function (child, side, act) {
        apply({ key: "", student: child.id, side: side, attempt: 0, value: 0, fault: "", least: false, reason: "",
          corrects: "", mine: true });
        act();
        rebuild();
      },
      miss: function (child, reason) {
        var key = window.outbox.key(), words = child.name + ": " + reasonFor(reason);
        return send("missing", { key: key, student: String(child.id), reason: reason }, words, function () {
          apply({ key: key, student: child.id, side: plan.sides[0], value: null, reason: reason, corrects: "",
            mine: true });
        });
      },
      /* Whoever is here after all; rest and pain are answered, not tapped away. */
      mayComeBack: function (child) {
        return plan.isOpen && !!child.away && !child.rests && !child.away.elsewhere && child.away.reason !== "pain";
      },
      bringBack: function (child) {
        return this.undo({ of: child.away.keys[0], words: child.name + " " + reasonFor(child.away.reason) });
      },
      /* What Undo would take back, and in which words. */
      lastTap: function () {
        var tap = taps[taps.length - 1];
        if (!tap) return null;
        var isAway = tap.child.away && tap.child.away.keys[0] === tap.of;
        var place = isAway ? null : standingOf(tap.of);
        return { child: tap.child, side: tap.side, of: tap.of,
          words: tap.child.name + " " + (isAway ? reasonFor(tap.child.away.reason) : said(top(place.one))) };
      },
      undo: function (tap) {
        var key = window.outbox.key();
        return send("takeBack", { key: key, of: tap.of }, plan.words.undo + ": " + tap.words,
          function () { applyTakeBack(tap.of, key); });
      },
      /* Her result in one try of one foot, if there is one; a capped one stands for all later tries. */
      resultOf: function (child, step) {
        var tries = child.tries[step.side], last = lastOf(child, step.side);
        if (tries.length >= step.attempt) return tries[step.attempt - 1];
        return last && top(last).least ? last : null;
      },
      isOut: function (child) { return !!child.away || !!child.rests || child.isAbsent; },
      /* `rest`: what she leaves out; `rests`: its words until somebody said why she is measured all the same. */
      layRests: function () {
        children.forEach(function (child) {
          child.rest = window.barreRests.of(child.id, plan.work);
          child.rests = child.rest && !window.barreRests.reason(child.id) ? child.rest.words : "";
          child.isAbsent = !child.returned && window.barreRests.isAbsent(child.id);
        });
      },
      /* Here after all, whatever is still told: the studio knows it only with the next news. */
      comeLate: function (child) {
        child.returned = true;
        this.layRests();
      },
      wants: function (child, step) {
        return !this.isOut(child) && !this.resultOf(child, step);
      },
    };
  };
})();
