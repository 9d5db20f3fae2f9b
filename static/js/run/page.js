/* The page of a group run: groups, feet and tries in their order, the start, the taps, Stop all, Undo. */
(function () {
  "use strict";
  var root = document.getElementById("run");
  if (!root) return;
  var plan = JSON.parse(root.dataset.plan), words = plan.words;
  var facts = window.groupRun.facts(plan), tiles = window.groupRun.tiles(plan, facts, root);
  var clock = window.groupRun.clock(plan, root);
  var DOUBLE_TAP_MS = 600, MOVE_ON_MS = 3000;

  var order = window.groupRun.steps(plan, facts), groups = order.groups, steps = order.all;
  /* Where we are: the group, the step shown, the child whose reasons are open, whom the next tap is about. */
  var at = { group: 1, step: 0, selected: null, picking: "" };
  var downAt = {}, moveOn = 0, hintWords = "", notice = "";

  function $(name) { return root.querySelector("[data-" + name + "]"); }
  function fill(text, by) {
    return Object.keys(by).reduce(function (so, name) { return so.replace("%" + name, by[name]); }, text);
  }
  function here() { return order.inGroup(at.group); }
  function step() { return steps[at.step]; }
  /* While the clock runs: those who stood at the barre when it was started. */
  function left() { return order.wanting(at.group, step()).filter(clock.counts); }
  function nextGroup() { return order.nextGroup(at.group); }

  /* --- drawing ----------------------------------------------------------------------------------------------- */

  function hint(text) { hintWords = text; tiles.write($("hint"), text); }
  function tell(text) { notice = text; hint(text); }
  function usualHint() {
    /* What a tap came to, or the server refused or could not tell, is said until the next tap, whatever is heard
       meanwhile. */
    if (notice) return notice;
    if (!plan.isOpen) return words.closed;
    if (at.picking) return words["who_" + at.picking];
    if (clock.isCountingIn()) return words.four;
    if (clock.isRunning()) return words.tap;
    if (!groups) return words.nobody_line;
    if (left().length) return words.ready_hint;
    if (here().every(facts.isOut) && nextGroup()) return fill(words.nobody, { at: nextGroup() });
    return nextGroup() ? words.all_down : words.nobody_left;
  }
  /* What the large button does now: its words and its deed. */
  function nextDeed() {
    if (clock.isRunning()) return plan.one ? [words.stop, stopAll] : [words.stop_all, stopAll];
    if (clock.byHand()) {
      var keeps = fill(words.keep, { value: facts.written(clock.value()) });
      return [keeps, function () { if (left().length) takeFor(left()[0], 0); }];
    }
    if (left().length) return [words.start, start];
    var next = order.first(at.group);
    if (next >= 0) return [stepWords(steps[next]), function () { goTo(at.group, next); start(); }];
    var group = nextGroup();
    if (!group) return [words.done, function () { window.location.assign(plan.paths.screening); }];
    var label = plan.one ? fill(words.next_child, { name: order.inGroup(group)[0].name })
      : fill(words.next_group, { at: group });
    return [label, function () { goTo(group, order.first(group)); }];
  }
  function stepWords(one) {
    var foot = words["side_" + one.side], tried = fill(words.attempt, { at: one.attempt, all: plan.attempts });
    if (plan.attempts === 1) return foot || words.start;
    return foot ? foot + ", " + tried : tried;
  }
  function view() { return { isUp: isUp, isRunning: clock.isRunning(), selected: at.selected, picking: at.picking }; }
  /* The tile that a tap is about is drawn in the tap's own turn and alone; the rest follows once that is seen. */
  function drawFirst(child, rest) {
    tiles.draw(child, step(), view());
    if (at.selected) tiles.drawWhy(at.selected, step());
    window.outbox.afterPaint(rest);
  }
  function draw() {
    var now = view();
    root.querySelectorAll(".tiles").forEach(function (row) { row.hidden = Number(row.dataset.group) !== at.group; });
    here().forEach(function (child) { tiles.draw(child, step(), now); });
    tiles.drawWhy(at.selected, step());
    if (groups) {
      root.dataset.side = step().side;
      tiles.write($("side-words"), words["side_" + step().side]);
      tiles.write($("attempt"),
        plan.attempts > 1 ? fill(words.attempt, { at: step().attempt, all: plan.attempts }) : "");
      tiles.write($("group"), fill(plan.one ? words.one_of : words.group, { at: at.group, all: groups }));
    }
    var deed = groups && plan.isOpen ? nextDeed() : [words.done, null];
    tiles.write($("deed"), deed[0]);
    root.classList.toggle("is-running", clock.isRunning());
    root.classList.toggle("is-by-hand", clock.byHand());
    var tap = plan.isOpen ? facts.lastTap() : null;
    $("undo").disabled = !tap;
    tiles.write($("undo-words"), tap ? tap.words : "");
    ["not", "hurts"].forEach(function (name) {
      $("pick-" + name).setAttribute("aria-pressed", String(at.picking === name));
    });
    hint(usualHint());
  }
  function isUp(child) { return (clock.isUp() || clock.byHand()) && clock.counts(child) && facts.wants(child, step()); }

  /* --- deeds -------------------------------------------------------------------------------------------------- */

  function goTo(group, number) {
    window.clearTimeout(moveOn);
    clock.clear();
    at.group = group;
    at.step = Math.max(number, 0);
    at.selected = null;
    draw();
  }
  function start() {
    at.selected = null;
    clock.start({ group: at.group, step: at.step, ids: left().map(function (child) { return child.id; }) });
    draw();
  }
  function kept(promise, what) {
    promise.then(draw, function () { hint(fill(words.not_kept, { what: what })); });
  }
  function take(child, value, isLeast) {
    downAt[child.id] = performance.now();
    kept(facts.record(child, step().side, value, isLeast), child.name + " " + facts.written(value));
  }
  /* Ends the run once nobody is up any more. */
  function settle() {
    if (!left().length) {
      clock.stop();
      if (plan.one) moveOn = window.setTimeout(function () { if (!at.selected) next(); }, MOVE_ON_MS);
    }
    draw();
  }
  function next() {
    var number = order.first(at.group), group = nextGroup();
    if (number >= 0) goTo(at.group, number);
    else if (group) goTo(group, order.first(group));
  }
  function takeFor(child, when) {
    take(child, clock.valueAt(when), false);
    drawFirst(child, settle);
  }
  function stopAll() {
    if (clock.isUp()) {
      var value = clock.value();
      if (value > 0) left().forEach(function (child) { take(child, value, true); });
    }
    clock.stop();
    /* The row of reasons would lie over Not today and It hurts. */
    at.selected = null;
    settle();
  }
  /* The cap, or what no child can pass, ends the run by itself. */
  clock.onLimit = function () {
    var value = clock.limit();
    left().forEach(function (child) { take(child, value, true); });
    settle();
  };
  clock.onChange = draw;

  /* --- taps on names ------------------------------------------------------------------------------------------ */

  function onTile(child, when) {
    if (at.picking) { pick(child); return; }
    if (!plan.isOpen) return;
    var result = facts.resultOf(child, step());
    if (result) { onDown(child, result); return; }
    if (child.rests && !child.away && !child.isAbsent) { askFor(child, function () { back(child); }); return; }
    if (facts.isOut(child)) {
      var reason = child.rests || facts.reasonFor(child.away ? child.away.reason : "absent");
      var told = facts.mayComeBack(child) || (child.isAbsent && !child.away) ? words.away : words.off;
      tell(fill(told, { name: child.name, why: reason }));
      return;
    }
    if (!clock.counts(child)) { tell(fill(words.next_run, { name: child.name })); return; }
    if (clock.byHand() || (clock.isUp() && clock.valueAt(when) > 0)) { takeFor(child, when); return; }
    tell(clock.isRunning() ? words.early : words.not_yet);
  }
  /* The second tap of a double tap is not a wish to say why. */
  function onDown(child, result) {
    if (performance.now() - (downAt[child.id] || -DOUBLE_TAP_MS) < DOUBLE_TAP_MS) {
      hint(fill(words.double, { value: facts.written(facts.top(result).value) }));
      return;
    }
    at.selected = at.selected === child ? null : child;
    draw();
  }
  function pick(child) {
    var what = at.picking;
    at.picking = "";
    if (what === "not") {
      if (facts.mayComeBack(child)) {
        notice = fill(clock.isRunning() ? words.back_next : words.back, { name: child.name });
        facts.comeLate(child);
        kept(facts.bringBack(child), child.name);
      } else if (child.isAbsent && !child.away) {
        facts.comeLate(child);
        back(child);
      } else if (!facts.isOut(child)) kept(facts.miss(child, "not_today"), child.name);
      settle();
      return;
    }
    draw();
    hurts(child);
  }
  /* On which rise or at which second it hurt; of a count that was kept before, its key, too. */
  function atCount(child) {
    var result = facts.resultOf(child, step());
    if (result) return "&at=" + Math.floor(facts.top(result).value) + "&of=" + result.standing;
    return isUp(child) ? "&at=" + Math.floor(clock.value()) : "";
  }
  /* Only where that page can be had: a tablet without network must not lose this one. Whoever hurts stops, for what
     she had done so far is no measure of her strength: her report stores that with it, so that nobody is left stopped
     for a pain that was never reported. */
  function hurts(child) {
    var stops = plan.isOpen && isUp(child),
      address = plan.paths.hurts.replace("/0/", "/" + child.id + "/") + (stops ? "&up" : "") + atCount(child);
    /* Where the family agreed to no notes of pain there will be no report, and no word of pain here. */
    var isOut = stops && !child.hasNotes ? facts.miss(child, "not_today") : Promise.resolve();
    /* Asked as a page, so that the one kept on this tablet answers for the network; led elsewhere, there is none. */
    window.fetch(address, { credentials: "same-origin", headers: { Accept: "text/html" } }).then(function (answer) {
      if (!answer.ok || answer.redirected) throw new Error(answer.status);
      return isOut.then(function () {
        clock.remember();
        window.location.assign(address);
      });
    }).catch(function () {
      notice = fill(words.no_pain_page, { name: child.name });
      kept(stops && child.hasNotes ? facts.miss(child, "pain") : isOut, child.name);
      draw();
    });
  }

  /* The finger's own instant, not the one at which a busy page got round to it. */
  var touched = { tile: null, when: 0 }, wasTouched = false;
  root.addEventListener("pointerdown", function (event) {
    wasTouched = true;
    touched = { tile: event.target.closest(".tile"), when: event.timeStamp };
  });
  var menu = root.querySelector(".run-menu");
  document.addEventListener("click", function (event) { if (!menu.contains(event.target)) menu.open = false; });
  root.addEventListener("click", function (event) {
    notice = "";
    clock.wake();
    var button = event.target.closest("button");
    var tile = event.target.closest(".tile");
    if (tile) {
      var child = facts.children.filter(function (each) { return String(each.id) === tile.dataset.child; })[0];
      onTile(child, touched.tile === tile && event.timeStamp - touched.when < 1000 ? touched.when : event.timeStamp);
      touched.tile = null;
      return;
    }
    if (!button) { if (at.selected && !event.target.closest(".why")) close(); return; }
    var deed = Object.keys(deeds).filter(function (name) { return button.hasAttribute("data-" + name); })[0];
    if (deed) deeds[deed](button);
  });
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape") { menu.open = false; close(); }
  });
  function close() {
    at.selected = null;
    at.picking = "";
    draw();
    if (plan.one && !left().length && !clock.isRunning()) next();
  }
  /* Who is counted after all, from the next start on. */
  function back(child) { notice = fill(clock.isRunning() ? words.back_next : words.back, { name: child.name }); }
  /* Nothing is recorded of whoever should rest before somebody said why. */
  function askFor(child, act) {
    window.barreRests.ask(child.id, child.name, child.rest).then(function (why) {
      facts.layRests();
      if (why) act();
      settleQuietly();
    });
  }
  function change(by) {
    var child = at.selected;
    if (child.rests && by.value !== undefined) {
      askFor(child, function () { at.selected = child; change(by); });
      return;
    }
    var result = facts.resultOf(at.selected, step());
    kept(facts.correct(at.selected, step().side, result, by), at.selected.name);
    drawFirst(at.selected, draw);
  }
  function nudge(sign) {
    if (clock.byHand() || (plan.one && !clock.isRunning() && left().length && !at.selected)) {
      clock.add(sign);
      draw();
      return;
    }
    if (!at.selected) return;
    var value = facts.top(facts.resultOf(at.selected, step())).value;
    var by = plan.decimals ? Math.round((value + sign * 0.1) * 10) / 10 : value + sign;
    if (by >= 0 && by <= plan.most) change({ value: by });
  }
  var deeds = {
    deed: function () {
      var deed = groups && plan.isOpen ? nextDeed() : [];
      if (deed[1]) deed[1](); else window.location.assign(plan.paths.screening);
    },
    undo: function () {
      var tap = facts.lastTap();
      if (!tap) return;
      kept(facts.undo(tap), tap.words);
      delete downAt[tap.child.id];
      at.selected = null;
      window.clearTimeout(moveOn);
      /* Back to where that tap was made, unless the others are just being counted. */
      if (!clock.isRunning()) {
        var number = steps.findIndex(function (one) { return one.side === tap.side && facts.wants(tap.child, one); });
        if (number >= 0) { at.group = tap.child.group; at.step = number; }
      }
      draw();
    },
    "pick-not": function () { at.picking = at.picking === "not" ? "" : "not"; at.selected = null; draw(); },
    "pick-hurts": function () { at.picking = at.picking === "hurts" ? "" : "hurts"; at.selected = null; draw(); },
    "hurts-her": function () { hurts(at.selected); },
    fault: function (button) {
      var state = facts.top(facts.resultOf(at.selected, step()));
      change({ fault: state.fault === button.dataset.fault ? "" : button.dataset.fault });
    },
    plus: function () { nudge(1); },
    minus: function () { nudge(-1); },
    "go-group": function (button) {
      var number = Number(button.dataset.goGroup);
      menu.open = false;
      if (!clock.isRunning()) goTo(number, Math.max(order.first(number), 0));
    },
    sound: function () { clock.setSound(!clock.hasSound()); },
  };

  /* --- the outbox and the other tablets ------------------------------------------------------------------------ */

  function isHere(row) { return row.path.indexOf(plan.paths.run) === 0; }
  function isOurs(row) { return isHere(row) || window.barreNews.isOfDay(row, plan.paths.screening); }
  function isWaiting(row) { return isOurs(row) && row.state !== "refused"; }
  function loadOwn() {
    return window.outbox.pending().catch(function () { return []; }).then(function (rows) {
      facts.own(rows.filter(isWaiting));
    });
  }
  document.addEventListener("barre:rests", function () { facts.layRests(); settleQuietly(); });
  document.addEventListener("barre:news", function (event) {
    plan.isOpen = event.detail.is_open !== false;
    facts.news(event.detail.results);
    window.outbox.remember(plan.paths.run, event.detail.results);
    settleQuietly();
  });
  /* Somebody else's result may have been the last one that this run waited for. */
  function settleQuietly() { if (clock.isUp() && !left().length) settle(); else draw(); }
  document.addEventListener("outbox:answered", function (event) {
    var row = event.detail, told = row.answer || {};
    if (!isOurs(row)) return;
    if (row.status === 200) {
      var results = isHere(row) ? told.results || (told.result ? [told.result] : []) : [];
      /* Nothing came of it where somebody else had said why before. */
      if (results.length) facts.accepted(results);
      else facts.drop(row.key);
      return;
    }
    if (row.status < 400 || row.status === 401) return;
    facts.drop(row.key);
    draw();
    var child = facts.children.filter(function (each) { return String(each.id) === row.fields.student; })[0];
    if (child && told.why) { notice = fill(words.refused, { name: child.name, why: told.why }); hint(notice); }
  });
  document.addEventListener("outbox:dropped", function (event) { facts.drop(event.detail.key); draw(); });
  document.addEventListener("outbox:changed", function () { loadOwn().then(draw); });
  /* Left for the page of pain and come back to by Back: what was kept there is not known here yet. */
  window.addEventListener("pageshow", function (event) { if (event.persisted) loadOwn().then(settleQuietly); });

  function begin() {
    /* The page may be an old one that was kept: what was told and tapped since is laid over it. */
    return window.outbox.recall(plan.paths.run).then(facts.accepted).then(loadOwn).then(function () {
      return Promise.all([window.barreRests.ready, window.barreNews(plan.paths.news, plan.stamp)]);
    }).then(function () {
      facts.layRests();
      var remembered = clock.recall();
      if (remembered && remembered.group <= groups && order.wanting(remembered.group, steps[remembered.step]).length) {
        at.group = remembered.group;
        at.step = remembered.step;
        clock.goOn(remembered);
      } else {
        clock.forget();
        at.group = groups && order.first(1) < 0 ? nextGroup() || 1 : 1;
        at.step = Math.max(order.first(at.group), 0);
      }
      draw();
      root.classList.add("is-drawn");
      window.outbox.afterPaint(rehearse);
    });
  }
  /* A browser reads a function when it is first called and shapes letters when they are first written: both are done
     before a finger comes, on a tile that says what it said again before any frame is drawn. */
  function rehearse() {
    var child = groups && !clock.isRunning() && left()[0];
    /* Whoever tapped already is being answered, and what is said to her stays. */
    if (!child || wasTouched) return;
    facts.pretend(child, step().side, function () {
      draw();
      tiles.tileOf(child).getBoundingClientRect();
    });
    draw();
  }
  begin();
})();
