/* A number pad and a stopwatch that write into the picked box of a sheet; everything works without them. */
(function () {
  "use strict";
  var picked = null, fresh = false, timed = null, started = 0, timer = 0, typesHolds = false;

  function boxes() { return Array.prototype.slice.call(document.querySelectorAll("#sheet .entry:not([hidden]) input.box")); }
  function pad() { return document.querySelector("[data-pad]"); }

  function isThere(box) { return !!box && document.contains(box) && !box.form.hidden; }

  function pick(box) {
    boxes().forEach(function (each) { each.closest(".cell").classList.toggle("picked", each === box); });
    if (picked !== box) fresh = box.value !== "";
    picked = box;
    hint("");
  }
  function hint(words) {
    var line = document.querySelector(".pad .hint");
    if (line) line.textContent = words;
  }
  function send() {
    if (!isThere(picked)) { hint(pad().dataset.wordsTap); return; }
    if (picked.value.trim()) picked.form.requestSubmit();
  }
  function button(words, className, act) {
    var made = document.createElement("button");
    made.type = "button";
    made.className = "button " + (className.indexOf("primary") < 0 ? "plain " : "") + className;
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }
  function type(sign) {
    if (!isThere(picked)) { hint(pad().dataset.wordsTap); return; }
    /* What stood there before is replaced by the first digit, never added to. */
    if (fresh) picked.value = "";
    fresh = false;
    if (picked.value.length < 6) picked.value += sign;
    picked.focus();
  }
  function seconds() { return (performance.now() - started) / 1000; }

  function clock(host) {
    var face = document.createElement("div");
    face.className = "clock-face";
    face.textContent = "0.0";
    face.setAttribute("aria-live", "off");
    var press = button(host.dataset.wordsStart, "start primary", function () {
      if (timer) { stop(); return; }
      if (!isThere(picked)) { hint(host.dataset.wordsTap); return; }
      timed = picked;
      started = performance.now();
      press.textContent = host.dataset.wordsStop;
      timer = window.setInterval(tick, 50);
    });
    function stop(limit) {
      window.clearInterval(timer);
      timer = 0;
      var value = limit === undefined ? seconds() : limit;
      face.textContent = value.toFixed(1);
      press.textContent = host.dataset.wordsStart;
      /* The child whose clock was started, wherever a finger has been since. */
      if (timed) { timed.value = value.toFixed(1); timed.form.requestSubmit(); }
    }
    function tick() {
      var now = seconds(), cap = parseFloat(host.dataset.cap);
      if (cap && now >= cap) { stop(cap); return; }
      face.textContent = now.toFixed(1);
    }
    var typing = button("", "wide", function () { setTyping(host.classList.contains("clock-only")); });
    function setTyping(types) {
      typesHolds = types;
      host.classList.toggle("clock-only", !types);
      typing.textContent = types ? host.dataset.wordsClock : host.dataset.wordsType;
    }
    host.append(face, press, typing);
    setTyping(typesHolds);
  }

  function build() {
    var host = pad();
    if (!host || host.childElementCount) return;
    host.hidden = false;
    if (host.hasAttribute("data-clock")) clock(host);
    "123456789".split("").forEach(function (digit) { host.append(button(digit, "digit", function () { type(digit); })); });
    var rub = button("←", "digit", function () {
      if (!picked) return;
      picked.value = fresh ? "" : picked.value.slice(0, -1);
      fresh = false;
      picked.focus();
    });
    rub.setAttribute("aria-label", host.dataset.wordsBack);
    if (host.dataset.decimals === "0") host.append(rub);
    else host.append(button(".", "digit", function () { if (picked && picked.value && picked.value.indexOf(".") < 0) type("."); }));
    host.append(button("0", "digit", function () { type("0"); }));
    if (host.dataset.decimals !== "0") host.append(rub);
    host.append(button(host.dataset.wordsKeep, host.dataset.decimals === "0" ? "digit keep-key" : "digit wide keep-key", send));
    var line = document.createElement("div");
    line.className = "hint";
    line.setAttribute("role", "status");
    host.append(line);
  }

  function ready() {
    build();
    var touch = window.matchMedia("(pointer: coarse)").matches;
    boxes().forEach(function (box) {
      if (touch) box.inputMode = "none";
    });
    if (!isThere(picked)) {
      var first = boxes()[0];
      if (first) pick(first);
      var open = document.querySelector("#sheet .cell .entry");
      if (open && !window.location.hash && open.getBoundingClientRect().bottom > window.innerHeight) open.scrollIntoView({ block: "center" });
    }
  }

  document.addEventListener("focusin", function (event) {
    if (event.target.matches("#sheet .entry input.box")) pick(event.target);
  });
  /* After a kept entry the next empty box is picked, so that a whole column goes by without aiming. */
  document.addEventListener("sheet:kept", function (event) {
    var cell = event.target, again = cell.querySelector(".entry:not([hidden]) input.box");
    if (again) { again.focus(); fresh = false; return; }
    var sideOf = function (each) { return (each.id.match(/-[LR]$/) || [""])[0]; };
    var all = boxes();
    var below = all.filter(function (box) { return sideOf(box.closest(".cell")) === sideOf(cell) && cell.compareDocumentPosition(box) & Node.DOCUMENT_POSITION_FOLLOWING; });
    var next = below[0] || all[0];
    if (next) next.focus();
  });
  document.addEventListener("sheet:asked", function () { fresh = true; });
  document.addEventListener("DOMContentLoaded", ready);
  /* The first box may have been taken by what the tablet had kept. */
  document.addEventListener("sheet:drawn", ready);
})();
