/* Who rests and who is absent, as far as this tablet knows: what the studio told last, with what waits here laid over.
   It asks before anything is recorded of somebody who should rest; it draws nothing else. */
import { afterPaint, emit, fill, given, keptAt, on, onReturn } from "./hand.js";
import { listen } from "./news.js";
import * as outbox from "./outbox.js";

const SHELF = "/rests/", HURTS = /\/hurts\/(\d+)\/(?:\?|$)/, HUB_MS = 8000;
const page = given("barre-out");
let out = page?.class ? page : null, away = {};
/* `own`: reports of this tablet that the studio's news do not know yet, by their key; `away`: whom it called absent;
   `allowed`: why somebody who should rest is measured all the same. */
const own = {}, allowed = {};

/* --- what is known -------------------------------------------------------------------------------------------- */

function isOwn(student) {
  return Object.values(own).some((report) => report.student === String(student) && report.asks !== "watch");
}
/* {words, isTold, isWithdrawn} of whoever leaves out this work, else null. */
export function of(student, work) {
  const told = out?.students[String(student)];
  if (told?.forbids.includes(work)) return told;
  if (out && isOwn(student)) return { words: out.words.rests, isTold: true, isWithdrawn: false };
  return null;
}
export function isAbsent(student) { return away[student] ?? !!out?.absent.includes(Number(student)); }
/* The reason that was given on this page for measuring somebody who should rest. */
export function reason(student) { return allowed[student] || ""; }

/* --- what is heard and kept ----------------------------------------------------------------------------------- */

function shelve(each) {
  outbox.remember(SHELF, [{ key: `out-${outbox.person.id}-${each.class}`, at: "", out: each }]);
}
function isOfHere(told) { return !!told && told.class === out?.class && told.day === out.day; }
function hear(told) {
  if (!isOfHere(told)) return;
  out = told;
  shelve(told);
}
/* What the studio knows of is in what it told, taken back or not, whatever the clocks say. */
function leaveToStudio(told) {
  for (const key of told?.reports || []) if (own[key]?.sentAt) forget(key);
}
/* Whatever was sent before the studio was asked is in its answer. */
function settled(began) {
  for (const key of Object.keys(own)) if (own[key].sentAt && own[key].sentAt <= began) forget(key);
}
function forget(key) {
  delete own[key];
  outbox.remember(SHELF, [{ key: `own-${key}`, at: "", isGone: true }]);
}
function write(key, by) {
  own[key] = { student: "", asks: "", sentAt: 0, ...own[key], ...by };
  return outbox.remember(SHELF, [{ key: `own-${key}`, at: "", report: key, own: own[key] }]);
}
function layWaiting(rows) {
  const waiting = new Set();
  for (const row of rows) {
    const hurts = HURTS.exec(row.path);
    if (hurts) {
      waiting.add(row.key);
      own[row.key] = { asks: "", sentAt: 0, ...own[row.key], student: hurts[1] };
    }
    if (row.state !== "refused") layAbsent(row);
  }
  /* A report that was taken back before it was sent is none. */
  for (const key of Object.keys(own)) if (!waiting.has(key) && !own[key].sentAt) delete own[key];
}
function layAbsent({ path, fields }) {
  if (!out || !path.startsWith(`/barre/classes/${out.class}/log/attendance/`) || fields.on !== out.day) return;
  for (const pk of [fields.absent || []].flat()) away[pk] = true;
  for (const pk of [fields.present || []].flat()) away[pk] = false;
}
async function load() {
  const [kept, rows] = await Promise.all([outbox.recall(SHELF), outbox.pending()]);
  for (const each of kept) {
    if (each.own && each.report) own[each.report] = each.own;
    if (keptAt && isOfHere(each.out) && each.out.asOf >= out.asOf) out = each.out;
  }
  /* A page that comes fresh from the studio knows what was sent before it was asked for. */
  if (!keptAt && page) settled(performance.timeOrigin);
  leaveToStudio(out);
  away = {};
  layWaiting(rows);
  if (out && !keptAt) shelve(out);
  emit("barre:rests");
}
function reload() { return load().catch(() => {}); }

on("barre:heard", ({ told, began }) => {
  hear(told?.out);
  for (const each of told?.outs || []) { shelve(each); hear(each); leaveToStudio(each); }
  settled(began);
  reload();
});
on("outbox:answered", async ({ key, path, status }) => {
  const hurts = HURTS.exec(path);
  if (!hurts || status !== 200) return;
  await write(key, { student: hurts[1], sentAt: Date.now() });
  emit("barre:rests");
});
/* What the pain page says is asked for: whoever only is watched goes on. */
on("outbox:kept", ({ key, form }) => {
  const hurts = HURTS.exec(window.location.pathname);
  if (!hurts || !form.matches(".hurts-form")) return;
  afterPaint(() => {
    const shown = document.querySelectorAll("[data-hurts-answer]:not([hidden]) [data-asks]:not([hidden])");
    write(key, { student: hurts[1], asks: shown.length === 1 ? shown[0].dataset.asks : "" });
  });
});
on("outbox:dropped", reload);
on("outbox:changed", reload);
onReturn(reload);

/* --- the question --------------------------------------------------------------------------------------------- */

const panel = document.querySelector("[data-rest-question]");
let answer = null;
/* Gives the reason that was tapped, or "" where the student is left out. */
export async function ask(student, name, rest) {
  if (!panel) return "";
  answer?.("");
  panel.querySelector("[data-rest-words]").textContent =
    fill(panel.dataset[rest.isTold ? "wordsRest" : "wordsUntold"], { name, words: rest.words });
  panel.querySelectorAll("[data-despite]").forEach((each) => { each.hidden = !rest.isTold || rest.isAsked === false; });
  panel.hidden = false;
  panel.querySelector("[data-leave-out]").focus({ preventScroll: true });
  const why = await new Promise((resolve) => { answer = resolve; });
  if (why) allowed[student] = why;
  return why;
}
/* Says who rests, where no reason is taken. */
export function tell(name, rest) { ask("", name, { ...rest, isAsked: false }); }
function say(why) {
  const told = answer;
  answer = null;
  panel.hidden = true;
  told(why);
}
panel?.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button || !answer) return;
  event.stopPropagation();
  say(button.dataset.despite || "");
});
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && answer) say(""); });

export const ready = reload();
/* Pages that hear no other news: the hub, the day. */
if (page?.news) listen(page.news, "", HUB_MS);
