/* The line that says whether everything is sent, and the list behind it where a refused entry is resolved. */
(function () {
  "use strict";
  /* `asked`: the key of the entry about which the list asks whether to throw it away. */
  var outbox = window.outbox, line, panel, last = null, asked = "";
  if (!outbox) return;

  function words(name, about) {
    var text = line.dataset["words" + name.charAt(0).toUpperCase() + name.slice(1)] || "";
    Object.keys(about || {}).forEach(function (each) { text = text.split("{" + each + "}").join(about[each]); });
    return text;
  }
  /* Since when nothing was heard of the other tablets: a page that was kept, or a network that is gone, says how old
     it is. */
  var keptAt = Number(document.documentElement.dataset.kept || 0), heard = keptAt || Date.now(), isSilent = keptAt > 0;
  function age() {
    var at = new Date(heard), minutes = ("0" + at.getMinutes()).slice(-2);
    return isSilent ? " " + words("asOf", { time: at.getHours() + ":" + minutes }) : "";
  }
  document.addEventListener("barre:heard", function (event) {
    heard = event.detail.began;
    isSilent = false;
    if (last) show(last);
  });
  document.addEventListener("barre:silence", function () {
    isSilent = true;
    if (last) show(last);
  });
  function said(now) { return told(now) + (now.waiting && !keptAt ? "" : age()); }
  function told(now) {
    var n = { n: now.waiting };
    if (now.isUnsafe && now.waiting) return words("unsafe");
    var text = now.waiting === 0 ? words("sent")
      : words({ sending: "sending", login: "login", held: "held" }[now.state] || "waiting", n);
    if (!now.refused) return text;
    var refused = words("refused", { n: now.refused });
    return now.waiting ? refused + " " + words("more", n) : refused;
  }
  function show(now) {
    if (!line) return;
    last = now;
    var mark = now.waiting === 0 && !now.refused ? "full" : now.state === "sending" ? "half" : "open";
    line.querySelectorAll("[data-mark]").forEach(function (each) { each.hidden = each.dataset.mark !== mark; });
    var text = said(now), place = line.querySelector(".outbox-words");
    if (place.textContent !== text) place.textContent = text;
    line.dataset.state = now.state;
    line.dataset.waiting = now.waiting;
    line.dataset.refused = now.refused;
    line.classList.toggle("needs-someone", now.refused > 0 || (now.waiting > 0 && now.state === "login"));
    if (line.open) list();
  }

  /* --- the list ----------------------------------------------------------------------------------------------- */

  function made(name, className, text) {
    var element = document.createElement(name);
    if (className) element.className = className;
    if (text) element.textContent = text;
    return element;
  }
  function button(text, act, className) {
    var element = made("button", "button " + (className || "plain"), text);
    element.type = "button";
    element.addEventListener("click", act);
    return element;
  }
  function list() {
    Promise.all([outbox.pending(), outbox.others()]).then(function (found) {
      var rows = found[0], items = [], refused = rows.filter(function (row) { return row.state === "refused"; });
      /* A question stays until it is answered, whatever is sent meanwhile. */
      if (refused.some(function (row) { return row.key === asked; })) return;
      if (last && last.state === "login" && rows.length > refused.length) {
        var login = made("a", "button primary", words("logIn"));
        login.href = line.dataset.loginAddress + "?next=" + encodeURIComponent(window.location.pathname);
        items.push(login);
      } else if (rows.length > refused.length && last && last.state === "waiting")
        items.push(made("p", "", words("offline")));
      refused.forEach(function (row) { items.push(refusal(row, rows)); });
      rows.filter(function (row) { return row.state === "waiting"; }).forEach(function (row) {
        items.push(made("p", "outbox-row", row.words));
      });
      var counts = {};
      found[1].forEach(function (row) { counts[row.name] = (counts[row.name] || 0) + 1; });
      Object.keys(counts).forEach(function (name) {
        items.push(made("p", "outbox-row", words("others", { n: counts[name], name: name })));
      });
      if (!items.length) items.push(made("p", "", words("nothing")));
      panel.replaceChildren.apply(panel, items);
    });
  }
  function why(row) {
    var told = row.told || {};
    if (told.follows) return words("follows");
    return row.why || (row.status === 500 ? words("fails") : row.status === 404 ? words("gone") : words("unclear"));
  }
  function refusal(row, rows) {
    var told = row.told || {}, item = made("div", "outbox-refused"), ways = made("div", "outbox-ways");
    item.append(made("strong", "", row.words), made("p", "", why(row)));
    function again(by) {
      return function () { outbox.change(row, Object.assign({ state: "waiting", failed: 0 }, by)); };
    }
    function withField(name, value) { var fields = Object.assign({}, row.fields); fields[name] = value; return fields; }
    /* Of somebody who should rest: sent again with the reason, or left out. */
    if (told.asks_rest) {
      told.reasons.forEach(function (each) {
        ways.append(button(each[1], again({ fields: withField("despite", each[0]) })));
      });
    } else if (told.asks_back) ways.append(button(words("yes"), again({ fields: withField("confirmed", "1") })));
    else if (told.reopen) ways.append(button(words("reopen"), function () { reopen(told.reopen, rows); }));
    else if (row.status === 409) {
      var other = outbox.key();
      ways.append(button(words("attempt"), again({ key: other, fields: withField("key", other) })));
    } else ways.append(button(words("again"), again({})));
    (told.others || []).forEach(function (day) {
      ways.append(button(words("other", { day: day.words }), again({ path: day.path })));
    });
    ways.append(button(words(told.asks_rest ? "leaveOut" : "throw"), function () { sure(row, item, ways); }, "stop"));
    item.append(ways);
    return item;
  }
  function reopen(path, rows) {
    outbox.deliver(path, {}, {}).then(function (answer) {
      if (answer.status !== 200 || !answer.told) { outbox.flush(); return; }
      /* Everything that was refused for the same closed day goes out again, in its order. */
      rows.filter(function (row) {
        return row.state === "refused" && row.told && (row.told.reopen === path || row.told.follows);
      })
        .forEach(function (row) { outbox.change(row, { state: "waiting", failed: 0 }); });
    });
  }
  function sure(row, item, ways) {
    var ask = made("p", "", words("sure", { words: row.words }));
    var yes = button(words("throw"), function () {
      outbox.drop(row).then(function () {
        document.dispatchEvent(new CustomEvent("outbox:dropped",
          { detail: { key: row.key, path: row.path, fields: row.fields } }));
      });
    }, "stop");
    var no = button(words("keep"), function () { asked = ""; list(); });
    asked = row.key;
    ask.setAttribute("role", "alert");
    ways.replaceChildren(yes, no);
    item.insertBefore(ask, ways);
    no.focus();
  }

  document.addEventListener("outbox:change", function (event) { show(event.detail); });
  document.addEventListener("DOMContentLoaded", function () {
    line = document.querySelector("[data-outbox-line]");
    if (!line) return;
    panel = line.querySelector("[data-outbox-panel]");
    line.addEventListener("toggle", function () { if (line.open) list(); });
    outbox.tell().catch(function () {});
  });
})();
