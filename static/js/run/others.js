/* Beside the pain form: the group that was left goes on, and this is where it is. */
(function () {
  "use strict";
  var line = document.querySelector("[data-others]"), run = null;
  if (!line) return;
  try { run = JSON.parse(window.sessionStorage.getItem("run:" + line.dataset.others)); } catch (_none) { return; }
  if (!run) return;
  function show() {
    var ms = Date.now() - run.startedAt;
    var value = run.beats ? Math.max(0, Math.floor(ms * run.beats / 120000) + 1) : Math.max(0, Math.floor(ms / 1000));
    line.textContent = line.dataset.words.replace("%n", Math.min(value, run.limit));
  }
  line.hidden = false;
  show();
  window.setInterval(show, 250);
})();
