/* The class log: a tap shows at once and goes into the outbox; what the server says of it then stands. */
import { afterPaint, all as find, on, rehearse, wordsOf, write as writeText } from "./hand.js";
import { makeLedger } from "./ledger.js";
import * as news from "./news.js";
import * as outbox from "./outbox.js";
import * as rests from "./rests.js";

const root = document.getElementById("class-log"), words = wordsOf(root), ledger = makeLedger(say);
let undoneAll = false, told = 0;

function all(selector, within = root) { return find(selector, within); }
/* The page's rows and tiles, found once: a tap is answered in the same frame. A tile's place is its exercise and its
   student; the exercise "" is who came. */
const rows = {}, lists = {}, places = new Map(), drawn = new Map();
for (const each of all("[data-row]")) rows[each.dataset.row] = each;
for (const view of all("[data-view]")) {
  lists[view.dataset.view] = all(".tile", view);
  for (const each of lists[view.dataset.view]) places.set(placeOf(view.dataset.view, each.dataset.student), each);
}
function placeOf(exercise, student) { return `${exercise}|${student}`; }
function tiles(exercise) { return lists[exercise] || []; }
function nameOf(each) { return each.querySelector(".tile-name").textContent.trim(); }
const exercises = Object.keys(rows).filter(Boolean);

/* --- what stands on a tile ------------------------------------------------------------------------------------ */

const KEPT = ["state", "sets", "reps", "seconds", "control", "faults"];
function read(each) {
  const now = Object.fromEntries(KEPT.map((name) => [name, each.dataset[name] || ""]));
  return { ...now, written: each.querySelector(".tile-state").textContent.trim() };
}
function write(each, now) {
  for (const name of KEPT) if (name in now) each.dataset[name] = now[name];
  const { state } = each.dataset;
  each.classList.toggle("done", state === "done" || state === "here");
  each.classList.toggle("off", ["absent", "resting", "without"].includes(state));
  writeText(each.querySelector(".tile-state"), now.written);
  if (each.tagName === "A") each.toggleAttribute("aria-disabled", each.classList.contains("off"));
}
/* Whoever rests as far as this tablet knows leaves it out, before the studio's computer says so. */
function shown(place, each) {
  const now = ledger.at(place).at(-1), { work } = each.closest("[data-view]").dataset;
  const rest = work && now.state === "open" && rests.of(each.dataset.student, work);
  return rest ? { ...now, state: "resting", written: rest.isTold ? words("Rests") : rest.words } : now;
}
function drawTiles() {
  for (const [place, each] of places) {
    const now = shown(place, each);
    const sign = JSON.stringify([now.key, now.state, now.written]);
    if (drawn.get(place) !== sign) write(each, now);
    drawn.set(place, sign);
  }
}
/* What the studio says of a place: it lies over what stood there. */
function learn(place, now, about = {}) {
  told += 1;
  const corrects = ledger.at(place).at(-1)?.key || "";
  const row = { key: `told-${told}`, origin: `told-${told}`, isMine: false, when: "", attempt: 0, isGone: false };
  ledger.learn([{ ...row, ...now, at: place, corrects, ...about }]);
}
for (const [place, each] of places) learn(place, read(each));
function planned(each) { return each.dataset.planned.split("|"); }
function doseWords(sets, reps, seconds) {
  const times = [sets, seconds && reps === "1" ? "" : reps, seconds && `${seconds} s`];
  const text = times.filter(Boolean).join(" × ");
  return text.split(" ").join("\u00a0");
}
function practiceWords(each, now) {
  if (now.sets === "0") return words("LeftOut");
  const parts = [], dose = [now.sets, now.reps, now.seconds];
  if (planned(each).join("|") !== dose.join("|")) parts.push(doseWords(...dose));
  if (now.control === "lost") parts.push(words("Lost"));
  if (now.control === "corrected") parts.push(words("Corrected"));
  if (now.faults) parts.push(...now.faults.split("|").map((fault) => faultWords(each, fault)));
  return parts.join(", ") || words("AsPlanned");
}
function faultWords(each, fault) {
  const button = all("button", each.closest("[data-view]")).find((one) => one.value === `fault:${fault}`);
  return button?.textContent.trim() || fault;
}
function asPlanned(each) {
  const [sets, reps, seconds] = planned(each);
  return { state: "done", sets, reps, seconds, control: "clean", faults: "" };
}
/* The same rule as the server's: a fault is not clean, what is clean has none. */
function changed(each, before, change) {
  const [what] = change.split(":"), value = change.slice(what.length + 1);
  const isAnew = before.state !== "done" || before.sets === "0" || change === "as_planned";
  const now = isAnew ? asPlanned(each) : { ...before };
  if (change === "left_out") { now.sets = now.reps = "0"; now.seconds = now.control = now.faults = ""; }
  if (what === "control") { now.control = value; if (value === "clean") now.faults = ""; }
  if (what === "sets" || what === "reps" || what === "seconds") now[what] = value;
  if (what === "fault") {
    const faults = now.faults ? now.faults.split("|") : [], at = faults.indexOf(value);
    if (at < 0) faults.push(value); else faults.splice(at, 1);
    now.faults = faults.join("|");
    if (at < 0 && now.control === "clean") now.control = "corrected";
    if (at >= 0 && !faults.length && now.control !== "lost") now.control = "clean";
  }
  now.written = practiceWords(each, now);
  return now;
}

/* --- one tap: what it says, place by place -------------------------------------------------------------------- */

function say({ key, path, fields, words: named }, standing) {
  const end = path.split("/").at(-2), made = [], many = (name) => [fields[name] || []].flat();
  const stood = (place) => standing.get(place)?.at(-1);
  function put(place, now, about = {}) {
    const { state, sets, reps, seconds, control, faults, written } = { ...stood(place), ...now };
    const said = { state, sets, reps, seconds, control, faults, written, attempt: 0, named };
    if (places.has(place)) made.push({ ...said, at: place, corrects: stood(place).key, ...about });
  }
  /* Whoever did something was here, and that stays when the tap is undone. */
  function here(student) {
    const place = placeOf("", student), now = { state: "here", written: words("Here") };
    if (stood(place) && !stood(place).state) put(place, now, { origin: `${key} here`, isMine: false });
  }
  for (const student of end === "as-planned" ? many("students") : []) {
    const place = placeOf(fields.exercise, student);
    if (stood(place)?.state === "open") put(place, { ...asPlanned(places.get(place)), written: words("AsPlanned") });
    here(student);
  }
  if (end === "change") {
    const place = placeOf(fields.exercise, fields.student), each = places.get(place);
    if (each) put(place, changed(each, stood(place), fields.change));
    here(fields.student);
  }
  for (const student of end === "attendance" ? many("present") : []) {
    put(placeOf("", student), { state: "here", written: words("Here") });
    for (const exercise of exercises) {
      const place = placeOf(exercise, student), own = places.get(place)?.dataset.own || "";
      if (stood(place)?.state === "absent") put(place, { state: "open", written: own });
    }
  }
  for (const student of end === "attendance" ? many("absent") : []) {
    for (const exercise of ["", ...exercises]) {
      put(placeOf(exercise, student), { state: "absent", written: words("Absent") });
    }
  }
  return made;
}
/* What was tapped is drawn already; the list, the counts and the undo follow once that is seen. */
function lay(tap) {
  ledger.lay(tap);
  drawTiles();
  press();
  afterPaint(refresh);
}
function redraw() {
  drawTiles();
  refresh();
}

/* --- the list, the counts, the undo --------------------------------------------------------------------------- */

function refresh() {
  for (const key of exercises) {
    const done = tiles(key).filter((each) => each.dataset.state === "done");
    const open = tiles(key).filter((each) => each.dataset.state === "open");
    const differ = done.filter((each) => each.querySelector(".tile-state").textContent.trim() !== words("AsPlanned"));
    let text = words("Count", { n: done.length - differ.length });
    if (differ.length) text += `, ${words(differ.length === 1 ? "Differs" : "Differ", { n: differ.length })}`;
    show(rows[key], open.length > 0 || !done.length, done.length ? text : "");
  }
  const came = tiles(""), here = came.filter((each) => each.dataset.state === "here").length;
  const absent = came.filter((each) => each.dataset.state === "absent").length;
  const unstated = here + absent < came.length;
  show(rows[""], unstated, !unstated ? words("Came", { here, absent }) : "");
  const last = ledger.latest(), form = root.querySelector('[data-tap="take-back"]');
  if (last) {
    form.elements.of.value = last.origin;
    form.querySelector("[data-what]").textContent = last.named;
  } else if (undoneAll) {
    form.elements.of.value = "";
    form.querySelector("[data-what]").textContent = "";
  }
  form.querySelector("button").disabled = !form.elements.of.value;
  press();
}
function show(each, isOpen, text) {
  const form = each.querySelector("form"), done = each.querySelector("[data-done]");
  if (form) form.hidden = !isOpen;
  done.hidden = !text;
  writeText(done, text);
}
function pick(exercise) {
  all("[data-view]").forEach((each) => { each.hidden = each.dataset.view !== exercise; });
  all("[data-row]").forEach((each) => {
    each.classList.toggle("shown", each.dataset.row === exercise);
    const link = each.querySelector("[data-pick]");
    if (each.dataset.row === exercise)
      link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  });
  all(".choices").forEach((each) => { each.hidden = true; });
  all(".tile.chosen").forEach((each) => { each.classList.remove("chosen"); });
}
function choose(each) {
  const form = each.closest("[data-view]").querySelector(".choices");
  all(".tile.chosen").forEach((one) => { one.classList.toggle("chosen", one === each); });
  each.classList.add("chosen");
  form.hidden = false;
  form.elements.student.value = each.dataset.student;
  form.querySelector("[data-chosen]").textContent = nameOf(each);
  press();
  form.scrollIntoView({ block: "nearest" });
}
/* Which choices stand for the student who is chosen. */
function press() {
  const each = root.querySelector(".tile.chosen");
  if (!each) return;
  const now = read(each), faults = now.faults.split("|");
  all(".choices button", each.closest("[data-view]")).forEach((button) => {
    const what = button.value.split(":")[0], value = button.value.slice(what.length + 1), isDone = now.state === "done";
    const holds = what === "control" ? now.control === value : what === "fault" ? faults.indexOf(value) >= 0
      : what === "left_out" ? now.sets === "0" : what === "as_planned" ? now.written === words("AsPlanned")
      : now[what] === value;
    button.setAttribute("aria-pressed", String(isDone && holds));
  });
}

/* --- taps become entries of the outbox ------------------------------------------------------------------------ */

function keep(form, fields, named) {
  const path = form.getAttribute("action");
  Object.assign(fields, { key: outbox.key(), on: root.dataset.on });
  undoneAll = true;
  outbox.keep({ path, fields, words: named, show() { lay({ key: fields.key, path, fields, words: named }); } });
}
function exerciseName(key) { return rows[key].querySelector(".log-name").textContent.trim(); }
const ACTS = {
  "as-planned"(form) {
    const key = form.elements.exercise.value;
    const open = tiles(key).filter((each) => each.dataset.state === "open");
    pick(key);
    const students = open.map((each) => each.dataset.student);
    if (open.length) keep(form, { exercise: key, students }, `${exerciseName(key)}, ${words("All")}`);
  },
  "present"(form) {
    const open = tiles("").filter((each) => !each.dataset.state);
    const present = open.map((each) => each.dataset.student);
    if (open.length) keep(form, { present }, words("Who"));
    pick(exercises[0] || "");
  },
  "change"(form, button) {
    const each = places.get(placeOf(form.elements.exercise.value, form.elements.student.value));
    if (!each || each.classList.contains("off")) return;
    keep(form, { exercise: form.elements.exercise.value, student: each.dataset.student, change: button.value },
      `${exerciseName(form.elements.exercise.value)}, ${nameOf(each)}: ${button.textContent.trim()}`);
  },
  "take-back"(form) {
    const last = ledger.latest(), undo = form.querySelector("button span").textContent.trim();
    if (last) keep(form, { of: last.origin }, `${undo}: ${last.named}`);
    /* A tap of an earlier visit is undone by the server; the page then shows what stands. */
    else if (!undoneAll && form.elements.of.value) form.submit();
  },
};
ACTS.absent = ACTS.come = function (form) {
  const each = form.querySelector(".tile"), isAbsent = each.dataset.state === "absent";
  keep(form, isAbsent ? { present: each.dataset.student } : { absent: each.dataset.student },
    `${nameOf(each)} ${words(isAbsent ? "Here" : "Absent")}`);
};

/* What a tap of this tablet said is what the studio knows now, as it told it; who was not taken is shown as before, and
   who rests by now as resting. */
function settle({ key, path, fields, status, answer }) {
  if (!path.startsWith(root.dataset.logAddress)) return;
  const result = answer?.result || {}, entries = new Map(), laid = [];
  for (const each of result.results || []) entries.set(placeOf(each.exercise, each.student), each);
  for (const [place] of places) {
    let node = ledger.at(place).at(-1);
    while (node && node.tap?.key !== key) node = node.before;
    const isTaken = !place.startsWith(`${fields.exercise}|`) || !path.endsWith("as-planned/") || entries.has(place);
    if (node && isTaken) laid.push({ ...node, ...entryOf(entries.get(place)), order: undefined });
  }
  ledger.lift(key);
  if (status === 200) {
    ledger.learn(laid.map(({ tap: _tap, before: _before, laid: _laid, order: _order, ...row }) => row));
    for (const each of result.resting || []) {
      const place = placeOf(fields.exercise, each.student);
      if (ledger.at(place).at(-1)?.state === "open") learn(place, { state: "resting", written: each.written });
    }
  }
  redraw();
}
function entryOf(entry) {
  if (!entry || entry.is_withdrawn) return {};
  const { control, faults, written } = entry, [sets, reps] = [String(entry.sets), String(entry.reps)];
  const seconds = entry.seconds ? String(entry.seconds) : "";
  return { state: "done", sets, reps, seconds, control, written, faults: faults.join("|") };
}

function rehearseTap() {
  const each = tiles("").at(-1);
  if (!each || ledger.isWaiting()) return;
  const path = `${root.dataset.logAddress}attendance/`, fields = { absent: each.dataset.student };
  rehearse(each, () => { ledger.lay({ key: "", path, fields }); drawTiles(); },
    () => { ledger.lift(""); drawTiles(); });
}

/* Says why a tap does nothing; there is no reason for which somebody who rests is logged. */
function tellRest(each) {
  const rest = rests.of(each.dataset.student, each.closest("[data-view]").dataset.work);
  if (rest) rests.tell(nameOf(each), rest);
}

/* What the other tablet logged; while a tap of this one is on its way, its tiles are ahead of the server's. */
function hear({ isOld, results }) {
  if (isOld || ledger.isWaiting()) { news.again(); return; }
  for (const { exercise, student, ...now } of results) {
    const place = placeOf(exercise, student), before = places.has(place) && ledger.at(place).at(-1);
    if (before && (before.state !== now.state || before.written !== now.written)) learn(place, now);
  }
}

root.addEventListener("submit", (event) => {
  const act = ACTS[event.target.dataset.tap];
  if (!act) return;
  event.preventDefault();
  act(event.target, event.submitter);
});
root.addEventListener("click", (event) => {
  const link = event.target.closest("a");
  if (link?.matches("[data-pick]")) { event.preventDefault(); pick(link.dataset.pick); }
  if (!link?.matches(".tile")) return;
  event.preventDefault();
  if (link.classList.contains("off")) tellRest(link); else choose(link);
});
press();
afterPaint(rehearseTap);
on("outbox:answered", settle);
on("outbox:dropped", ({ key }) => { ledger.lift(key); redraw(); });
on("outbox:kept", ({ form }) => {
  const line = form.matches("[data-asked]") && form.closest("li");
  if (!line) return;
  line.classList.add("is-said");
  for (const each of all("form, a", line)) each.hidden = true;
  line.append(form.dataset.words.replace(line.querySelector("strong").textContent, ""));
});
on("barre:news", (heard) => { hear(heard); redraw(); });
on("barre:rests", redraw);
async function begin() {
  for (const each of await outbox.pending().catch(() => [])) {
    if (each.state !== "waiting" || !each.path.startsWith(root.dataset.logAddress)) continue;
    if (each.fields.on !== root.dataset.on) continue;
    lay(each);
  }
  await Promise.all([rests.ready, news.listen(root.dataset.news, root.dataset.stamp)]);
  redraw();
  root.classList.add("is-drawn");
}
begin();
