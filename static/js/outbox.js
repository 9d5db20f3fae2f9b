/* The outbox: what was tapped is written on the tablet first, then sent, in order, each once; it draws nothing. */
(function () {
  "use strict";
  var SEND_WITHIN_MS = 20000, FIRST_WAIT_MS = 2000, LONGEST_WAIT_MS = 60000, LONGEST_FRAME_MS = 100;
  /* A row at which the server fails this often is put aside, so that the next ones go out. */
  var FAILURES = 5;
  var person = document.querySelector('meta[name="barre-person"]');
  if (!person || !person.content) return;
  var me = { id: person.content, name: person.dataset.name || "" };
  var token = (document.querySelector('meta[name="barre-token"]') || {}).content || "";
  var opening = null, memory = null, flushing = false, again = false, wait = FIRST_WAIT_MS, timer = 0,
    state = "sent", taps = 0, fresh = [];

  function key() {
    if (window.crypto.randomUUID) return window.crypto.randomUUID();
    var bytes = window.crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    var hex = Array.prototype.map.call(bytes, function (byte) { return (byte + 256).toString(16).slice(1); }).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  /* --- the rows on the tablet ------------------------------------------------------------------------------- */

  function open() {
    opening = opening || new Promise(function (resolve, reject) {
      var request = window.indexedDB.open("barre-outbox", 1);
      request.onupgradeneeded = function () {
        var rows = request.result.createObjectStore("rows", { keyPath: "seq", autoIncrement: true });
        rows.createIndex("key", "key", { unique: true });
      };
      request.onsuccess = function () {
        request.result.onclose = function () { opening = null; };
        request.result.onversionchange = function () { request.result.close(); opening = null; };
        resolve(request.result);
      };
      request.onerror = function () { reject(request.error); };
    }).catch(function (error) { opening = null; throw error; });
    return opening;
  }
  /* One transaction; resolves with what the request in it found, once it is on the disk. */
  function within(mode, act) {
    return open().then(function (base) {
      return new Promise(function (resolve, reject) {
        var work = base.transaction("rows", mode, { durability: "strict" });
        var request = act(work.objectStore("rows"));
        work.oncomplete = function () { resolve(request && request.result); };
        work.onabort = work.onerror = function () { reject(work.error || (request && request.error)); };
      });
    });
  }
  function all() {
    putDown();
    if (memory) return Promise.resolve(memory.slice());
    return within("readonly", function (rows) { return rows.getAll(); });
  }
  function save(row) {
    if (memory) return Promise.resolve();
    /* Only what is still there: it may have been thrown away, or sent from another tab, meanwhile. */
    return within("readwrite", function (rows) {
      var request = rows.get(row.seq);
      request.onsuccess = function () { if (request.result) rows.put(row); };
    });
  }
  function remove(row) {
    if (memory) { memory = memory.filter(function (each) { return each !== row; }); return Promise.resolve(); }
    return within("readwrite", function (rows) { return rows.delete(row.seq); });
  }
  /* A tap is noted in the same breath, so that closing the tab in the instant before the disk has it loses nothing.
     False where this browser notes nothing: full, or forbidden. */
  function note(row) {
    try { window.localStorage.setItem("barre-tap-" + row.key, JSON.stringify(row)); return true; }
    catch (_error) { return false; }
  }
  function unnote(row) {
    try { window.localStorage.removeItem("barre-tap-" + row.key); }
    catch (_error) { /* forbidden: nothing was noted */ }
  }
  function recover() {
    var found = [];
    try {
      /* The first word is the slow one: not the first tap's. */
      window.localStorage.setItem("barre-opened", String(Date.now()));
      found = Object.keys(window.localStorage).filter(function (name) { return name.indexOf("barre-tap-") === 0; })
        .map(function (name) { return JSON.parse(window.localStorage.getItem(name)); });
    } catch (_error) { return Promise.resolve(); }
    found.sort(function (a, b) { return a.kept - b.kept || a.tap - b.tap; });
    return found.reduce(function (before, row) {
      return before.then(function () { return add(row); }).then(function () { unnote(row); });
    }, Promise.resolve());
  }
  function add(row) {
    if (memory) {
      row.seq = memory.length ? memory[memory.length - 1].seq + 1 : 1;
      memory.push(row); return Promise.resolve();
    }
    return within("readwrite", function (rows) { return rows.add(row); }).catch(function (error) {
      /* The same key again is the same tap: it is kept already. */
      if (error && error.name === "ConstraintError") return undefined;
      throw error;
    });
  }

  /* --- what the server has told, so that it is seen again without the network ------------------------------------- */

  var shelf = null;
  function openShelf() {
    shelf = shelf || new Promise(function (resolve, reject) {
      var request = window.indexedDB.open("barre-told", 1);
      request.onupgradeneeded = function () {
        request.result.createObjectStore("rows", { keyPath: "key" }).createIndex("at", "at");
      };
      request.onsuccess = function () {
        request.result.onversionchange = function () { request.result.close(); shelf = null; };
        resolve(request.result);
      };
      request.onerror = function () { shelf = null; reject(request.error); };
    });
    return shelf;
  }
  function shelve(act) {
    return openShelf().then(function (base) {
      return new Promise(function (resolve, reject) {
        var work = base.transaction("rows", "readwrite"), found = act(work.objectStore("rows"));
        work.oncomplete = function () { resolve(found && found.result); };
        work.onabort = work.onerror = function () { reject(work.error); };
      });
    });
  }
  /* `at`: the sheet's address. Results only ever grow, so the order in which they come does not matter; they are told
     again in the order in which they were stored. */
  function remember(at, results) {
    return shelve(function (rows) {
      results.forEach(function (result) { if (result) rows.put({ key: result.key, at: me.id + at, result: result }); });
    }).catch(function () {});
  }
  function recall(at) {
    return shelve(function (rows) { return rows.index("at").getAll(me.id + at); }).then(function (found) {
      return found.map(function (each) { return each.result; })
        .sort(function (a, b) { return a.at < b.at ? -1 : a.at > b.at ? 1 : 0; });
    }).catch(function () { return []; });
  }
  function forgetOthers() {
    return shelve(function (rows) {
      rows.openCursor().onsuccess = function (event) {
        var cursor = event.target.result;
        if (!cursor) return;
        if (cursor.value.at.indexOf(me.id + "/") !== 0) cursor.delete();
        cursor.continue();
      };
    }).catch(function () {});
  }
  function sheetOf(path) { return path.replace(/[^/]+\/$/, ""); }

  /* --- what pages ask for ----------------------------------------------------------------------------------- */

  /* After the frame in which the tap is seen: everything else can wait for the eye. A page out of sight draws no
     frames. */
  function afterPaint(act) {
    var isDone = false;
    function once() { if (!isDone) { isDone = true; act(); } }
    window.requestAnimationFrame(function () { window.setTimeout(once); });
    window.setTimeout(once, LONGEST_FRAME_MS);
  }
  /* `entry.show` lets the screen say so: at once where the tap is noted, else as soon as the disk has it. */
  function keep(entry) {
    var row = {
      key: entry.fields.key, person: me.id, name: me.name, path: entry.path, fields: entry.fields,
      words: entry.words || "", state: "waiting", why: "", kept: Date.now(), tap: (taps += 1),
    };
    var isNoted = note(row), show = entry.show || function () {};
    var kept = new Promise(function (resolve) { fresh.push({ row: row, kept: resolve }); });
    if (isNoted) { show(); afterPaint(putDown); } else { putDown(); kept.then(show); }
    return kept.then(function () {
      if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(function () {});
      wait = FIRST_WAIT_MS;
      return tell(state === "sent" ? "waiting" : state);
    }).then(function () { flush(); });
  }
  /* Writes to the disk, in their order, the taps that are only noted so far. */
  function putDown() {
    fresh.splice(0).forEach(function (each) {
      each.kept(add(each.row).then(function () { unnote(each.row); }).catch(function () {
        /* No storage at all (a private window): it lives as long as this page does, and the line says so. */
        memory = memory || [];
        return add(each.row);
      }));
    });
  }
  function mine(row) { return row.person === me.id; }
  /* What was noted only is put down first: a page must not show a box as empty that was tapped already. */
  function pending() { return recovered.then(all).then(function (rows) { return rows.filter(mine); }); }
  function others() {
    return all().then(function (rows) { return rows.filter(function (row) { return !mine(row); }); });
  }
  function change(row, by) {
    Object.keys(by).forEach(function (name) { row[name] = by[name]; });
    return save(row).then(function () {
      wait = FIRST_WAIT_MS;
      emit("outbox:changed", { key: row.key, path: row.path });
      return tell();
    }).then(function () { flush(); });
  }
  /* What the server failed at gets another try whenever a page opens, and is put aside again if it fails again. */
  function revive() {
    return pending().then(function (rows) {
      var failed = rows.filter(function (row) { return row.state === "refused" && row.status === 500; });
      return Promise.all(failed.map(function (row) {
        row.state = "waiting";
        row.failed = FAILURES - 1;
        return save(row);
      }));
    });
  }
  /* Throws a row away for good; only a person asks for this. */
  function drop(row) { return remove(row).then(function () { return tell(); }); }

  function tell(now) {
    if (now) state = now;
    return pending().then(function (rows) {
      var refused = rows.filter(function (row) { return row.state === "refused"; }).length;
      var waiting = rows.length - refused;
      if (!waiting && state !== "sending") state = "sent";
      emit("outbox:change", { waiting: waiting, refused: refused, state: state, isUnsafe: !!memory });
    });
  }
  function emit(name, detail) { document.dispatchEvent(new CustomEvent(name, { detail: detail })); }

  /* --- sending ---------------------------------------------------------------------------------------------- */

  function ask(path, options) {
    var stop = new AbortController(), clock = window.setTimeout(function () { stop.abort(); }, SEND_WITHIN_MS);
    options.headers = Object.assign({ "X-Outbox": "yes", "X-Outbox-Person": me.id }, options.headers);
    Object.assign(options, { credentials: "same-origin", redirect: "manual", cache: "no-store", signal: stop.signal });
    return window.fetch(path, options).then(function (answer) {
      return answer.text().then(function (text) {
        var told = null;
        try { told = JSON.parse(text); } catch (_error) { /* not from us: a page of the network in between */ }
        return { status: answer.status, told: told };
      });
    }).catch(function () { return { status: 0, told: null }; }).then(function (answer) {
      window.clearTimeout(clock);
      return answer;
    });
  }
  function post(path, fields, headers) {
    var body = new URLSearchParams();
    Object.keys(fields).forEach(function (name) {
      [].concat(fields[name]).forEach(function (value) { body.append(name, value); });
    });
    return ask(path, {
      method: "POST", body: body, keepalive: true,
      headers: Object.assign({ "X-CSRFToken": token }, headers),
    });
  }
  function freshToken() {
    var line = document.querySelector("[data-token-address]");
    return ask(line ? line.dataset.tokenAddress : "/barre/token/", { method: "GET" }).then(function (answer) {
      if (answer.status === 200 && answer.told && answer.told.token) token = answer.told.token;
      return answer;
    });
  }
  /* A post with a token that is too old is sent once more with a fresh one. */
  function deliver(path, fields, headers) {
    return post(path, fields, headers).then(function (answer) {
      if (answer.status !== 403 || !answer.told || !answer.told.stale_token) return answer;
      return freshToken().then(function (fresh) {
        return fresh.status === 200 ? post(path, fields, headers) : fresh;
      });
    });
  }

  function flush() {
    if (flushing) { again = true; return; }
    flushing = true;
    again = false;
    window.clearTimeout(timer);
    var locks = window.navigator.locks;
    /* One tab of this browser sends at a time; without locks the key, unique on the server, guards two tabs. */
    var sent = locks ? locks.request("barre-outbox", sendAll) : sendAll();
    sent.catch(function () { return "waiting"; }).then(function (now) {
      flushing = false;
      return tell(now).catch(function () {});
    }).then(function () {
      if (again) flush();
      else if (state !== "sent") later();
    });
  }
  function later() {
    timer = window.setTimeout(flush, wait * (0.75 + Math.random() / 2));
    wait = Math.min(wait * 2, LONGEST_WAIT_MS);
  }
  function sendAll() {
    return pending().then(function (rows) {
      var row = rows.filter(function (each) { return each.state === "waiting"; })[0];
      if (!row) return "sent";
      return tell("sending").then(function () { return sendOne(row, rows); }).then(function (now) {
        return now === "next" ? sendAll() : now;
      });
    });
  }
  function sendOne(row, rows) {
    var about = row.fields.of || row.fields.corrects_key;
    var before = about && rows.filter(function (each) { return each.key === about && each.state === "refused"; })[0];
    /* An entry that was never accepted and is taken back leaves nothing to tell the server. */
    if (before && row.fields.of)
      return remove(before).then(function () { return remove(row); }).then(function () { return "next"; });
    if (before) return refuse(row, { status: 422, told: { why: "", follows: true } });
    var age = Math.max(0, Math.round((Date.now() - row.kept) / 1000));
    return deliver(row.path, row.fields, { "X-Outbox-Age": String(age) }).then(function (answer) {
      return settle(row, answer);
    });
  }
  /* What an answer means for its row: gone, put aside, or kept for the next try. */
  function settle(row, answer) {
    var told = answer.told, status = answer.status;
    if (status === 200 && told && told.key === row.key) {
      wait = FIRST_WAIT_MS;
      return remember(sheetOf(row.path), told.results || []).then(function () { return remove(row); })
        .then(function () { return answered(row, answer); });
    }
    if (status === 401) return told && told.is_held ? "held" : "login";
    if (status === 500) {
      row.failed = (row.failed || 0) + 1;
      if (row.failed >= FAILURES) return refuse(row, { status: 500, told: {} });
      return save(row).then(function () { return "waiting"; });
    }
    var isOurs = told && typeof told.why === "string" && !told.stale_token;
    if (isOurs && status >= 400 && status < 500 && status !== 429) return refuse(row, answer);
    /* Silence, a busy server, or a page that the network put in between: the row stays and goes out later. */
    return "waiting";
  }
  function refuse(row, answer) {
    row.state = "refused";
    row.status = answer.status;
    row.told = answer.told || {};
    row.why = row.told.why || "";
    return save(row).then(function () { return answered(row, answer); });
  }
  function answered(row, answer) {
    emit("outbox:answered",
      { key: row.key, path: row.path, fields: row.fields, status: answer.status, answer: answer.told });
    return tell().then(function () { return "next"; });
  }

  /* --- forms that are taken as they are ----------------------------------------------------------------------- */

  function renewKeys() {
    document.querySelectorAll("form[data-outbox]").forEach(function (form) {
      if (form.elements.key) form.elements.key.value = key();
      delete form.dataset.kept;
    });
  }
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (!form.matches("form[data-outbox]") || event.defaultPrevented) return;
    event.preventDefault();
    if (form.dataset.kept) return;
    form.dataset.kept = "yes";
    var fields = {};
    new FormData(form, event.submitter).forEach(function (value, name) {
      if (name === "csrfmiddlewaretoken") return;
      /* Several chosen values of one name travel as one list. */
      fields[name] = fields[name] === undefined ? value : [].concat(fields[name], value);
    });
    if (!fields.key) fields.key = key();
    keep({
      path: form.getAttribute("action") || window.location.pathname + window.location.search, fields: fields,
      words: form.dataset.words,
      show: function () { emit("outbox:kept", { form: form, key: fields.key }); },
    });
  });

  /* Sends now what waits for its next turn; for whoever heard the server answer. */
  function wake() {
    if (state !== "waiting") return;
    wait = FIRST_WAIT_MS;
    flush();
  }

  window.outbox = {
    key: key, keep: keep, pending: pending, others: others, change: change, drop: drop, flush: flush,
    deliver: deliver, tell: tell,
    person: me, ask: ask, wake: wake, remember: remember, recall: recall,
    afterPaint: afterPaint,
  };
  var recovered = recover().catch(function () {});
  document.addEventListener("DOMContentLoaded", function () {
    renewKeys(); forgetOthers(); recovered.then(revive).then(flush, flush);
  });
  window.addEventListener("pageshow", function (event) { if (event.persisted) { renewKeys(); flush(); } });
  window.addEventListener("pagehide", putDown);
  ["online", "focus"].forEach(function (name) {
    window.addEventListener(name, function () { wait = FIRST_WAIT_MS; flush(); });
  });
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden) { wait = FIRST_WAIT_MS; flush(); }
  });
})();
