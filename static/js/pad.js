/* A number pad and a stopwatch that write into the picked box of a sheet; everything works without them. */
(function () {
  "use strict";
  var picked = null, fresh = false, timed = null, started = 0, timer = 0;

  function boxes() {
    return Array.prototype.slice.call(document.querySelectorAll("#sheet .entry:not([hidden]) input.box"));
  }
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
  /* Whether there is a box to write into; otherwise it says so. */
  function has() {
    if (isThere(picked)) return true;
    hint(pad().dataset.wordsTap);
    return false;
  }
  function send() {
    if (has() && picked.value.trim()) picked.form.requestSubmit();
  }
  function type(sign) {
    if (!has()) return;
    if (sign === "." && (!picked.value || picked.value.indexOf(".") >= 0)) return;
    /* What stood there before is replaced by the first digit, never added to. */
    if (fresh) picked.value = "";
    fresh = false;
    if (picked.value.length < 6) picked.value += sign;
    picked.focus();
  }
  function rubOut() {
    if (!picked) return;
    picked.value = fresh ? "" : picked.value.slice(0, -1);
    fresh = false;
    picked.focus();
  }
  /* The words of a button and those that it says in their place. */
  function turn(button, name) {
    var words = button.textContent.trim();
    button.textContent = button.dataset[name];
    button.dataset[name] = words;
  }
  function face() { return pad().querySelector(".clock-face"); }
  function start(button) {
    if (!has()) return;
    timed = picked;
    started = performance.now();
    turn(button, "wordsStop");
    timer = window.setInterval(function () { tick(button); }, 50);
  }
  function seconds() { return (performance.now() - started) / 1000; }
  function tick(button) {
    var now = seconds(), cap = parseFloat(pad().dataset.cap);
    if (cap && now >= cap) stop(button, cap);
    else face().textContent = now.toFixed(1);
  }
  function stop(button, value) {
    window.clearInterval(timer);
    timer = 0;
    face().textContent = value.toFixed(1);
    turn(button, "wordsStop");
    /* The child whose clock was started, wherever a finger has been since. */
    timed.value = value.toFixed(1);
    timed.form.requestSubmit();
  }
  document.addEventListener("click", function (event) {
    var button = event.target.closest("[data-pad] button");
    if (!button) return;
    if (button.dataset.sign) type(button.dataset.sign);
    else if (button.hasAttribute("data-rub-out")) rubOut();
    else if (button.hasAttribute("data-keep-key")) send();
    else if (button.hasAttribute("data-clock")) { if (timer) stop(button, seconds()); else start(button); }
    else { pad().classList.toggle("clock-only"); turn(button, "wordsOther"); }
  });

  function ready() {
    var host = pad(), touch = window.matchMedia("(pointer: coarse)").matches;
    if (host) host.querySelectorAll("button").forEach(function (button) { button.disabled = false; });
    boxes().forEach(function (box) {
      if (touch) box.inputMode = "none";
    });
    if (!isThere(picked)) {
      var first = boxes()[0];
      if (first) pick(first);
      var open = document.querySelector("#sheet .cell .entry");
      if (open && !window.location.hash && open.getBoundingClientRect().bottom > window.innerHeight)
        open.scrollIntoView({ block: "center" });
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
    var below = all.filter(function (box) {
      return sideOf(box.closest(".cell")) === sideOf(cell)
        && cell.compareDocumentPosition(box) & Node.DOCUMENT_POSITION_FOLLOWING;
    });
    var next = below[0] || all[0];
    if (next) next.focus();
  });
  document.addEventListener("sheet:asked", function () { fresh = true; });
  document.addEventListener("DOMContentLoaded", ready);
  /* The first box may have been taken by what the tablet had kept. */
  document.addEventListener("sheet:drawn", ready);
})();
