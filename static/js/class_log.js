/* The class log: a tap shows at once and goes into the outbox; what the server says of it then stands. */
(function () {
  "use strict";
  var outbox = window.outbox, root, taps = [], unanswered = {};

  function all(selector, within) { return Array.prototype.slice.call((within || root).querySelectorAll(selector)); }
  function words(name, about) {
    var text = root.dataset["words" + name] || "";
    Object.keys(about || {}).forEach(function (each) { text = text.split("{" + each + "}").join(about[each]); });
    return text;
  }
  /* The page's rows and tiles, found once: a tap is answered in the same frame. */
  var rows = {}, names = {}, lists = {};
  function findAll() {
    all("[data-row]").forEach(function (each) { rows[each.dataset.row] = each; });
    all("[data-view]").forEach(function (each) {
      var key = each.dataset.view;
      lists[key] = all(".tile", each);
      names[key] = {};
      lists[key].forEach(function (one) { names[key][one.dataset.student] = one; });
    });
  }
  function row(exercise) { return rows[exercise]; }
  function tiles(exercise) { return lists[exercise] || []; }
  function tile(exercise, student) { return (names[exercise] || {})[String(student)]; }
  function nameOf(each) { return each.querySelector(".tile-name").textContent.trim(); }
  function exercises() { return Object.keys(rows).filter(Boolean); }

  /* --- what stands on a tile ---------------------------------------------------------------------------------- */

  var KEPT = ["state", "sets", "reps", "seconds", "control", "faults", "tap"];
  function read(each) {
    var found = { written: each.querySelector(".tile-state").textContent.trim() };
    KEPT.forEach(function (name) { found[name] = each.dataset[name] || ""; });
    return found;
  }
  function write(each, now) {
    KEPT.forEach(function (name) { if (name in now) each.dataset[name] = now[name]; });
    var state = each.dataset.state;
    each.classList.toggle("done", state === "done" || state === "here");
    each.classList.toggle("off", ["absent", "resting", "without"].indexOf(state) >= 0);
    each.querySelector(".tile-state").textContent = now.written;
    if (each.tagName !== "A") return;
    each.toggleAttribute("aria-disabled", each.classList.contains("off"));
  }
  function planned(each) { return each.dataset.planned.split("|"); }
  function doseWords(sets, reps, seconds) {
    var text = seconds && reps === "1" ? sets + " × " + seconds + " s" : sets + " × " + reps
      + (seconds ? " × " + seconds + " s" : "");
    return text.split(" ").join("\u00a0");
  }
  function practiceWords(each, now) {
    if (now.sets === "0") return words("LeftOut");
    var parts = [], plan = planned(each);
    if (plan.join("|") !== [now.sets, now.reps, now.seconds].join("|"))
      parts.push(doseWords(now.sets, now.reps, now.seconds));
    if (now.control === "lost") parts.push(words("Lost"));
    if (now.control === "corrected") parts.push(words("Corrected"));
    if (now.faults) parts = parts.concat(now.faults.split("|").map(function (fault) {
      return faultWords(each, fault);
    }));
    return parts.join(", ") || words("AsPlanned");
  }
  function faultWords(each, fault) {
    var button = all("button", each.closest("[data-view]")).filter(function (one) {
      return one.value === "fault:" + fault;
    })[0];
    return button ? button.textContent.trim() : fault;
  }
  function asPlanned(each) {
    var plan = planned(each);
    return { state: "done", sets: plan[0], reps: plan[1], seconds: plan[2], control: "clean", faults: "" };
  }
  /* The same rule as the server's: a fault is not clean, what is clean has none. */
  function changed(each, change) {
    var now = read(each), what = change.split(":")[0], value = change.slice(what.length + 1);
    if (now.state !== "done" || now.sets === "0" || change === "as_planned") now = asPlanned(each);
    if (change === "left_out") { now.sets = now.reps = "0"; now.seconds = now.control = now.faults = ""; }
    if (what === "control") { now.control = value; if (value === "clean") now.faults = ""; }
    if (what === "sets" || what === "reps" || what === "seconds") now[what] = value;
    if (what === "fault") {
      var faults = now.faults ? now.faults.split("|") : [], at = faults.indexOf(value);
      if (at < 0) faults.push(value); else faults.splice(at, 1);
      now.faults = faults.join("|");
      if (at < 0 && now.control === "clean") now.control = "corrected";
      if (at >= 0 && !faults.length && now.control !== "lost") now.control = "clean";
    }
    now.written = practiceWords(each, now);
    return now;
  }

  /* --- one tap: what it changes, and how it is undone ----------------------------------------------------------- */

  function effects(path, fields) {
    var end = path.split("/").slice(-2)[0], made = [];
    function on(each, now) { if (each) made.push({ tile: each, now: now }); }
    /* Whoever did something was here, and that stays when the tap is undone. */
    function here(each) { made.push({ tile: each, now: { state: "here", written: words("Here") }, stays: true }); }
    if (end === "as-planned") {
      [].concat(fields.students || []).forEach(function (pk) {
        var each = tile(fields.exercise, pk);
        if (each && each.dataset.state === "open")
          on(each, Object.assign(asPlanned(each), { written: words("AsPlanned") }));
        var came = tile("", pk);
        if (came && !came.dataset.state) here(came);
      });
    } else if (end === "change") {
      var each = tile(fields.exercise, fields.student), came = tile("", fields.student);
      if (each) on(each, changed(each, fields.change));
      if (came && !came.dataset.state) here(came);
    } else if (end === "attendance") {
      [].concat(fields.present || []).forEach(function (pk) {
        on(tile("", pk), { state: "here", written: words("Here") });
        exercises().forEach(function (key) {
          var one = tile(key, pk);
          if (one && one.dataset.state === "absent") on(one, { state: "open", written: one.dataset.own || "" });
        });
      });
      [].concat(fields.absent || []).forEach(function (pk) {
        on(tile("", pk), { state: "absent", written: words("Absent") });
        exercises().forEach(function (key) { on(tile(key, pk), { state: "absent", written: words("Absent") }); });
      });
    }
    return made;
  }
  function apply(path, fields, told) {
    if (fields.of) {
      var undone = taps.filter(function (tap) { return tap.key === fields.of; })[0];
      if (undone) restore(undone);
      return;
    }
    var made = effects(path, fields);
    made.forEach(function (each) {
      each.before = read(each.tile);
      write(each.tile, Object.assign({}, each.now, { tap: fields.key }));
    });
    taps.push({ key: fields.key, made: made, words: told });
    drawRest();
  }
  /* What stood before a tap stands again, where nothing newer stands over it. */
  function restore(tap) {
    tap.made.slice().reverse().forEach(function (each) {
      if (!each.stays && each.tile.dataset.tap === tap.key) write(each.tile, each.before);
    });
    taps = taps.filter(function (each) { return each !== tap; });
    drawRest();
  }

  /* What was tapped is drawn already; the list, the counts and the undo follow once that is seen. */
  function drawRest() {
    press();
    outbox.afterPaint(refresh);
  }

  /* --- the list, the counts, the undo --------------------------------------------------------------------------- */

  function refresh() {
    exercises().forEach(function (key) {
      var done = tiles(key).filter(function (each) { return each.dataset.state === "done"; });
      var open = tiles(key).filter(function (each) { return each.dataset.state === "open"; });
      var differ = done.filter(function (each) {
        return each.querySelector(".tile-state").textContent.trim() !== words("AsPlanned");
      });
      var text = words("Count", { n: done.length - differ.length });
      if (differ.length) text += ", " + words(differ.length === 1 ? "Differs" : "Differ", { n: differ.length });
      show(row(key), open.length > 0 || !done.length, done.length ? text : "");
    });
    var came = tiles(""), here = came.filter(function (each) { return each.dataset.state === "here"; }).length;
    var absent = came.filter(function (each) { return each.dataset.state === "absent"; }).length;
    var unstated = here + absent < came.length;
    show(row(""), unstated, !unstated ? words("Came", { here: here, absent: absent }) : "");
    var last = taps[taps.length - 1], form = root.querySelector('[data-tap="take-back"]');
    if (last) {
      form.elements.of.value = last.key;
      form.querySelector("[data-what]").textContent = last.words;
    } else if (undoneAll) {
      form.elements.of.value = "";
      form.querySelector("[data-what]").textContent = "";
    }
    form.querySelector("button").disabled = !form.elements.of.value;
    press();
  }
  var undoneAll = false;
  function show(each, isOpen, text) {
    var form = each.querySelector("form"), done = each.querySelector("[data-done]");
    if (form) form.hidden = !isOpen;
    done.hidden = !text;
    if (done.textContent !== text) done.textContent = text;
  }
  function pick(exercise) {
    all("[data-view]").forEach(function (each) { each.hidden = each.dataset.view !== exercise; });
    all("[data-row]").forEach(function (each) {
      each.classList.toggle("shown", each.dataset.row === exercise);
      var link = each.querySelector("[data-pick]");
      if (each.dataset.row === exercise)
        link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    });
    all(".choices").forEach(function (each) { each.hidden = true; });
    all(".tile.chosen").forEach(function (each) { each.classList.remove("chosen"); });
  }
  function choose(each) {
    var form = each.closest("[data-view]").querySelector(".choices");
    all(".tile.chosen").forEach(function (one) { one.classList.toggle("chosen", one === each); });
    each.classList.add("chosen");
    form.hidden = false;
    form.elements.student.value = each.dataset.student;
    form.querySelector("[data-chosen]").textContent = nameOf(each);
    press();
    form.scrollIntoView({ block: "nearest" });
  }
  /* Which choices stand for the student who is chosen. */
  function press() {
    var each = root.querySelector(".tile.chosen");
    if (!each) return;
    var now = read(each), faults = now.faults.split("|");
    all(".choices button", each.closest("[data-view]")).forEach(function (button) {
      var what = button.value.split(":")[0], value = button.value.slice(what.length + 1), isDone = now.state === "done";
      var holds = what === "control" ? now.control === value : what === "fault" ? faults.indexOf(value) >= 0
        : what === "left_out" ? now.sets === "0" : what === "as_planned" ? now.written === words("AsPlanned")
        : now[what] === value;
      button.setAttribute("aria-pressed", String(isDone && holds));
    });
  }

  /* --- taps become entries of the outbox ------------------------------------------------------------------------ */

  function keep(form, fields, told) {
    var path = form.getAttribute("action");
    fields.key = outbox.key();
    fields.on = root.dataset.on;
    undoneAll = true;
    unanswered[fields.key] = true;
    outbox.keep({ path: path, fields: fields, words: told, show: function () { apply(path, fields, told); } });
  }
  function exerciseName(key) { return row(key).querySelector(".log-name").textContent.trim(); }
  var ACTS = {
    "as-planned": function (form) {
      var key = form.elements.exercise.value;
      var open = tiles(key).filter(function (each) { return each.dataset.state === "open"; });
      pick(key);
      var students = open.map(function (each) { return each.dataset.student; });
      if (open.length) keep(form, { exercise: key, students: students }, exerciseName(key) + ", " + words("All"));
    },
    "present": function (form) {
      var open = tiles("").filter(function (each) { return !each.dataset.state; });
      var present = open.map(function (each) { return each.dataset.student; });
      if (open.length) keep(form, { present: present }, words("Who"));
      pick(exercises()[0] || "");
    },
    "change": function (form, button) {
      var each = tile(form.elements.exercise.value, form.elements.student.value);
      if (!each || each.classList.contains("off")) return;
      keep(form, { exercise: form.elements.exercise.value, student: each.dataset.student, change: button.value },
        exerciseName(form.elements.exercise.value) + ", " + nameOf(each) + ": " + button.textContent.trim());
    },
    "take-back": function (form) {
      var last = taps[taps.length - 1];
      if (last) keep(form, { of: last.key }, form.querySelector("button span").textContent.trim() + ": " + last.words);
      /* A tap of an earlier visit is undone by the server; the page then shows what stands. */
      else if (!undoneAll && form.elements.of.value) form.submit();
    },
  };
  ACTS.absent = ACTS.come = function (form) {
    var each = form.querySelector(".tile"), isAbsent = each.dataset.state === "absent";
    keep(form, isAbsent ? { present: each.dataset.student } : { absent: each.dataset.student },
      nameOf(each) + " " + words(isAbsent ? "Here" : "Absent"));
  };

  function settle(detail) {
    var tap = taps.filter(function (each) { return each.key === detail.fields.key; })[0];
    if (detail.path.indexOf(root.dataset.logAddress) !== 0) return;
    delete unanswered[detail.key];
    if (detail.status !== 200) { if (tap) restore(tap); return; }
    ((detail.answer.result || {}).results || []).forEach(function (told) {
      var each = tile(told.exercise, told.student);
      if (!each || (each.dataset.tap && each.dataset.tap !== detail.fields.key && !detail.fields.of)) return;
      if (told.is_withdrawn) return;
      write(each, {
        state: "done", sets: String(told.sets), reps: String(told.reps),
        seconds: told.seconds ? String(told.seconds) : "",
        control: told.control, faults: told.faults.join("|"), written: told.written,
      });
    });
    /* Whoever was not taken is shown as before, and a child who rests by now as resting. */
    if (tap && /as-planned\/$/.test(detail.path)) {
      var taken = detail.answer.result.results.map(function (told) { return String(told.student); });
      tap.made.forEach(function (each) {
        var pk = each.tile.dataset.student;
        if (each.tile.tagName === "A" && taken.indexOf(pk) < 0 && each.tile.dataset.tap === tap.key)
          write(each.tile, each.before);
      });
      detail.answer.result.resting.forEach(function (told) {
        var each = tile(detail.fields.exercise, told.student);
        if (each && each.dataset.state === "open") write(each, { state: "resting", written: told.written });
      });
    }
    refresh();
  }

  /* A browser reads a function when it is first called and shapes letters when they are first written: both are done
     before a finger comes, on a tile that says what it said again before any frame is drawn. */
  function rehearse() {
    tiles("").slice(-1).forEach(function (each) {
      var made = effects("/attendance/", { absent: each.dataset.student }),
        before = made.map(function (one) { return read(one.tile); });
      made.forEach(function (one) { write(one.tile, one.now); });
      each.getBoundingClientRect();
      made.forEach(function (one, at) { write(one.tile, before[at]); });
    });
  }

  /* Whoever rests as far as this tablet knows leaves it out, before the studio's computer says so. */
  function layRests() {
    exercises().forEach(function (key) {
      tiles(key).forEach(function (each) {
        var rest = window.barreRests.of(each.dataset.student, each.closest("[data-view]").dataset.work);
        if (rest && each.dataset.state === "open") {
          write(each, { state: "resting", written: rest.isTold ? words("Rests") : rest.words });
          each.dataset.laid = "yes";
        } else if (!rest && each.dataset.laid && each.dataset.state === "resting") {
          write(each, { state: "open", written: each.dataset.own || "" });
          delete each.dataset.laid;
        }
      });
    });
    refresh();
  }
  /* Says why a tap does nothing; there is no reason for which somebody who rests is logged. */
  function tellRest(each) {
    var rest = window.barreRests.of(each.dataset.student, each.closest("[data-view]").dataset.work);
    if (rest) window.barreRests.tell(nameOf(each), rest);
  }

  /* What the other tablet logged; while a tap of this one is on its way, its tiles are ahead of the server's. */
  function hear(told) {
    if (told.isOld || Object.keys(unanswered).length) { window.barreNews.again(); return; }
    told.results.forEach(function (each) {
      var one = tile(each.exercise, each.student), now = one && read(one);
      if (!one || (now.state === each.state && now.written === each.written)) return;
      write(one, Object.assign({ tap: "" }, each));
    });
    refresh();
  }

  document.addEventListener("DOMContentLoaded", function () {
    root = document.getElementById("class-log");
    if (!root || !outbox) return;
    findAll();
    root.addEventListener("submit", function (event) {
      var act = ACTS[event.target.dataset.tap];
      if (!act) return;
      event.preventDefault();
      act(event.target, event.submitter);
    });
    root.addEventListener("click", function (event) {
      var link = event.target.closest("a");
      if (link && link.matches("[data-pick]")) { event.preventDefault(); pick(link.dataset.pick); }
      if (!link || !link.matches(".tile")) return;
      event.preventDefault();
      if (link.classList.contains("off")) tellRest(link); else choose(link);
    });
    press();
    outbox.afterPaint(rehearse);
    document.addEventListener("outbox:answered", function (event) { settle(event.detail); });
    document.addEventListener("outbox:dropped", function (event) {
      var tap = taps.filter(function (each) { return each.key === event.detail.key; })[0];
      delete unanswered[event.detail.key];
      if (tap) restore(tap);
    });
    document.addEventListener("outbox:kept", function (event) {
      var line = event.detail.form.matches("[data-asked]") && event.detail.form.closest("li");
      if (!line) return;
      line.classList.add("is-said");
      all("form, a", line).forEach(function (each) { each.hidden = true; });
      line.append(event.detail.form.dataset.words.replace(line.querySelector("strong").textContent, ""));
    });
    document.addEventListener("barre:news", function (event) { hear(event.detail); layRests(); });
    document.addEventListener("barre:rests", layRests);
    outbox.pending().then(function (waiting) {
      waiting.forEach(function (each) {
        if (each.state === "waiting" && each.path.indexOf(root.dataset.logAddress) === 0
          && each.fields.on === root.dataset.on) {
          unanswered[each.key] = true;
          apply(each.path, each.fields, each.words);
        }
      });
    }).catch(function () {}).then(function () {
      return Promise.all([window.barreRests.ready, window.barreNews(root.dataset.news, root.dataset.stamp)]);
    }).then(function () {
      layRests();
      root.classList.add("is-drawn");
    });
  });
})();
