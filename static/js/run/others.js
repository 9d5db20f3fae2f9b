/* Beside the pain form: the group that was left goes on, and this is where it is. */
import { fill } from "../hand.js";

const line = document.querySelector("[data-others]");
let run = null;
try { run = line && JSON.parse(sessionStorage.getItem(`run:${line.dataset.others}`)); } catch { /* nothing is kept */ }
function show() {
  const ms = Date.now() - run.startedAt;
  const n = run.beats ? Math.max(0, Math.floor(ms * run.beats / 120000) + 1) : Math.max(0, Math.floor(ms / 1000));
  line.textContent = fill(line.dataset.words, { n: Math.min(n, run.limit) });
}
if (run) {
  line.hidden = false;
  show();
  window.setInterval(show, 250);
}
