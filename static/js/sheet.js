/* The sheet at the barre: a tap is written at once, goes through the outbox, and can be taken back. */
import { makeCells } from "./cells.js";
import { DOUBLE_TAP_MS, afterPaint, all, emit, fill, given, on, rehearse, write } from "./hand.js";
import * as news from "./news.js";
import * as outbox from "./outbox.js";
import * as rests from "./rests.js";

const sheet = given("sheet-words"), { words } = sheet, everyCell = all("#sheet .cell");
const cells = makeCells(sheet, outbox.person.id, everyCell.map(at));
const here = sheet.record.replace(/record\/$/, ""), day = sheet.record.replace(/[^/]+\/record\/$/, "");
const shown = new Map(), returned = {};
let reopened = null;
cells.learn(sheet.results);

function at(cell) { return `${cell.dataset.student}|${cell.dataset.side}`; }
function cellAt(where) { return everyCell.find((cell) => at(cell) === where); }
function boxOf(cell) { return cell?.querySelector("input.box"); }
/* Who leaves this measure out, or is absent and has nothing here; null for everybody else. */
function restOf(cell) { return rests.of(cell.dataset.student, sheet.work); }
function isAway(cell) {
  const student = cell.dataset.student;
  return !cell.entries.length && !returned[student] && rests.isAbsent(student);
}
function isMarked(cell) {
  const mark = cell.querySelector("[data-rest]");
  return !!mark && !mark.hidden;
}
function mayGo(cell) { return !restOf(cell) || !!rests.reason(cell.dataset.student); }
function nameOf(cell) { return cell.dataset.name + (cell.dataset.side ? ` ${sheet.sides[cell.dataset.side]}` : ""); }

/* --- drawing -------------------------------------------------------------------------------------------------- */

function draw() {
  drawCells(everyCell);
  drawSide();
}
/* Many are answered in one breath. */
let isAsked = false;
function drawOnce() {
  if (isAsked) return;
  isAsked = true;
  queueMicrotask(() => { isAsked = false; draw(); });
}
/* What a tap is about is drawn in the tap's own turn and alone; the rest follows once that is seen. */
function drawFirst(some) {
  drawCells(some);
  afterPaint(draw);
}
function drawCells(some) {
  for (const cell of some) {
    cell.entries = cells.at(at(cell));
    const said = cells.said(cell.entries), sign = JSON.stringify(
      [said, reopened === at(cell), restOf(cell), mayGo(cell), isAway(cell)]);
    if (shown.get(cell.id) !== sign) drawCell(cell, said);
    shown.set(cell.id, sign);
  }
}
function drawCell(cell, said) {
  const form = cell.querySelector(".entry"), link = cell.querySelector(".written");
  if (!link) return;
  const mark = cell.querySelector("[data-rest]"), rest = restOf(cell), isOff = !mayGo(cell) || isAway(cell);
  /* A box that holds digits stays, whatever another tablet told meanwhile. */
  const isOpen = !!form && sheet.isOpen && (reopened === at(cell) || !said.isDone && !isOff || !!boxOf(cell)?.value);
  if (form) {
    form.hidden = !isOpen;
    form.querySelector(".back").hidden = reopened !== at(cell);
    ask(cell, "", false);
    show(form.querySelector(".attempts"), said.attempts);
  }
  if (mark) {
    mark.hidden = isOpen || !isOff || cell.entries.length > 0 && !rest?.isWithdrawn;
    mark.textContent = rest ? rest.words : isAway(cell) ? sheet.reasons.absent : "";
  }
  const isHidden = isOpen || !cell.entries.length || !!rest?.isWithdrawn;
  if (link.hidden && !isHidden) cell.dataset.writtenAt = performance.now();
  link.hidden = isHidden;
  link.querySelector(".kept").textContent = said.written;
  link.querySelector(".kept").classList.toggle("soft", said.isReason);
  show(link.querySelector(".attempts"), said.isRefused ? words.refused : said.attempts);
  show(link.querySelector(".by"), said.by);
}
function show(element, text) {
  if (!element) return;
  element.textContent = text;
  element.hidden = !text;
}
function ask(cell, question, isQuestion) {
  const line = cell.querySelector(".ask"), yes = cell.querySelector(".yes"), box = boxOf(cell);
  cell.classList.toggle("asked", !!question);
  show(line, question);
  if (yes) yes.hidden = !isQuestion;
  if (!box) return;
  if (question) { box.setAttribute("aria-invalid", "true"); box.setAttribute("aria-describedby", line.id); }
  else { box.removeAttribute("aria-invalid"); box.removeAttribute("aria-describedby"); }
}
function undoWords(entry) {
  const cell = cellAt(entry.at);
  if (entry.reason) return `${cell.dataset.name}, ${sheet.reasons[entry.reason]}`;
  return `${nameOf(cell)}, ${cells.written(entry.value, entry.isCapped)}`;
}
function drawSide() {
  const undo = document.querySelector("[data-undo] button"), entry = cells.latest();
  if (undo) {
    undo.disabled = !entry;
    write(undo.querySelector(".what"), entry ? undoWords(entry) : "");
  }
  for (const button of all("[data-missing] [name=student]")) {
    button.hidden = !everyCell.some((cell) => cell.dataset.student === button.value && !cell.entries.length);
  }
  drawLeft();
}
function drawLeft() {
  const count = document.querySelector(".left-count"), half = [];
  let left = 0;
  if (!count) return;
  for (const row of all("#sheet [data-row]")) {
    const mine = all(".cell", row), empty = mine.filter((cell) => !cell.entries.length);
    const rest = mine.length ? restOf(mine[0]) : null, isOff = !!rest || mine.every(isAway);
    row.classList.toggle("resting", !!rest);
    /* The mark stays in the row, also where its cells are taken or being filled. */
    if (sheet.isOpen) show(row.querySelector("[data-rest-note]"), rest && !mine.every(isMarked) ? rest.words : "");
    row.querySelector(".sheet-name").classList.toggle("off", isOff || mine.every((cell) => cell.entries[0]?.reason));
    if (isOff) continue;
    if (empty.length) left += 1;
    if (empty.length < mine.length) half.push(...empty);
  }
  count.querySelector(".big-count").hidden = !left;
  count.querySelector(".big-count").textContent = left;
  count.querySelector(".soft").textContent = leftWords(left, half);
}
function leftWords(left, half) {
  if (!left || !half.length) return left ? words.toGo : words.seen;
  const about = { n: half.length, name: half[0].dataset.name, side: sheet.sides[half[0].dataset.side] };
  return fill(half.length === 1 ? words.toGoOne : words.toGoMore, about);
}

/* --- tapping -------------------------------------------------------------------------------------------------- */

async function keep(path, fields, told, touched) {
  fields.key = outbox.key();
  const tap = { key: fields.key, path, fields, state: "waiting", isNew: true };
  function show() { cells.lay(tap); drawFirst(touched); }
  await outbox.keep({ path, fields, words: told, show });
  tap.isNew = false;
}
function record(cell, text, isConfirmed) {
  const wrong = cells.judge(text);
  if (wrong.error || (wrong.question && !isConfirmed)) {
    ask(cell, wrong.error || wrong.question, !wrong.error);
    emit("sheet:asked", { cell });
    return;
  }
  const rest = restOf(cell), why = rest ? rests.reason(cell.dataset.student) : "";
  if (rest && !why) { askFor(cell, () => record(cell, text, isConfirmed)); return; }
  const { student, side } = cell.dataset, last = cell.entries.at(-1);
  const fields = { student, side, value: text.trim(), protocol: String(sheet.protocol) };
  if (isConfirmed) fields.confirmed = "1";
  if (why) fields.despite = why;
  if (reopened === at(cell) && !last.isElsewhere) fields.corrects_key = last.key;
  reopened = null;
  ask(cell, "", false);
  if (boxOf(cell)) boxOf(cell).value = "";
  keep(sheet.record, fields, `${nameOf(cell)}: ${cells.written(cells.parse(text))}`, [cell]);
  emit("sheet:kept", { cell });
}
/* Nothing is recorded of whoever should rest before somebody said why; without a reason what was typed goes. */
async function askFor(cell, act) {
  const why = await rests.ask(cell.dataset.student, cell.dataset.name, restOf(cell));
  if (why) act();
  else {
    if (boxOf(cell)) boxOf(cell).value = "";
    if (reopened === at(cell)) reopened = null;
  }
  draw();
}
async function takeBack(entry) {
  if (reopened) leave();
  /* What the server refused, or what waits to be thrown away, is nowhere else: it goes from the tablet. */
  if (entry.tap?.state === "refused" && !entry.tap.fields.of) {
    await outbox.dropKey(entry.key);
    cells.lift(entry.key);
    draw();
    comeBackTo(entry);
    return;
  }
  const undo = document.querySelector("[data-undo] .undo > span").textContent.trim();
  keep(sheet.takeBack, { of: entry.origin }, `${undo}: ${undoWords(entry)}`, [cellAt(entry.at)]);
  comeBackTo(entry);
}
/* What was undone is to be done again. */
function comeBackTo({ at: place }) {
  const cell = cellAt(place);
  if (boxOf(cell)) emit("sheet:undone", { cell });
  else cell.querySelector(".entry:not([hidden]) .box")?.focus();
}

/* A tap waits until what the tablet kept is laid over: its box may have been tapped already. A shelf that does not
   answer holds nobody up. */
const SHELF_MS = 2000, held = [];
let isLaid = false;
function isHeld(event) {
  const form = event.target, button = event.submitter;
  if (isLaid || !form.matches("#sheet .entry, [data-undo], [data-missing]")) return false;
  event.preventDefault();
  held.push(() => { if (!form.hidden) form.requestSubmit(button); });
  return true;
}
function letGo() {
  if (isLaid) return;
  isLaid = true;
  draw();
  document.getElementById("sheet").classList.add("is-drawn");
  emit("sheet:drawn");
  for (const act of held.splice(0)) act();
}

document.addEventListener("submit", (event) => {
  const form = event.target, button = event.submitter;
  if (isHeld(event)) return;
  if (form.matches("#sheet .entry")) {
    event.preventDefault();
    const cell = form.closest(".cell"), box = boxOf(form);
    if (button?.matches(".back")) takeBack(cell.entries.at(-1));
    else if (box) { if (box.value.trim()) record(cell, box.value, !!button?.matches(".yes")); }
    else if (button?.name === "value") record(cell, button.value, false);
  } else if (form.matches("[data-undo]")) {
    event.preventDefault();
    const entry = cells.latest();
    if (entry) takeBack(entry);
  } else if (form.matches("[data-missing]") && button?.name === "student") {
    event.preventDefault();
    const reason = new FormData(form).get("reason"), student = button.value;
    form.closest("details").open = false;
    if (reason === "pain" && askPain(student)) return;
    keep(sheet.missing, { student, reason }, `${button.dataset.name}, ${sheet.reasons[reason]}`,
      everyCell.filter((cell) => cell.dataset.student === student));
  }
});
/* Pain is a report, not a reason: its page asks where and how, and brings the reason along. */
function askPain(student) {
  const link = document.querySelector(`.picker.hurts a[href*="/hurts/${student}/"]`);
  if (!link) return false;
  link.search += "&up";
  link.click();
  return true;
}
document.addEventListener("click", (event) => {
  const mark = event.target.closest("#sheet [data-rest]");
  if (mark) { onMark(mark.closest(".cell")); return; }
  const cell = event.target.closest("#sheet .written")?.closest(".cell");
  if (!cell) return;
  event.preventDefault();
  if (!sheet.isOpen) { show(document.querySelector("[data-closed]"), words.closed); return; }
  if (performance.now() - (cell.dataset.writtenAt || -DOUBLE_TAP_MS) < DOUBLE_TAP_MS) return;
  if (cells.said(cell.entries).isRefused) { document.querySelector("[data-outbox-line]").open = true; return; }
  if (!mayGo(cell)) askFor(cell, () => reopen(cell));
  else reopen(cell);
}, true);
/* Whoever is absent and is tapped is here; whoever rests is asked about first. */
function onMark(cell) {
  function open() { draw(); cell.querySelector(".entry:not([hidden]) .box")?.focus(); }
  if (!isLaid) return;
  if (!mayGo(cell)) { askFor(cell, open); return; }
  returned[cell.dataset.student] = true;
  open();
}
function reopen(cell) {
  const last = cell.entries.at(-1);
  reopened = at(cell);
  draw();
  if (boxOf(cell)) boxOf(cell).value = last.value === null ? "" : String(last.value);
  cell.querySelector(".entry .box")?.focus();
  /* What stands is replaced by the first digit, from the keyboard, too. */
  if (boxOf(cell)) emit("sheet:asked", { cell });
}
/* A finger elsewhere leaves what stood there as it was. */
document.addEventListener("pointerdown", (event) => {
  if (!reopened || event.target.closest(".pad, .pad-ways, .outbox-line")) return;
  const cell = cellAt(reopened);
  if (cell && !cell.contains(event.target)) leave();
});
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && reopened) leave(); });
/* A question is about the value that was typed, not about the one that is being typed. */
document.addEventListener("input", ({ target }) => {
  if (target.matches("#sheet .box")) ask(target.closest(".cell"), "", false);
});
function leave() {
  const box = boxOf(cellAt(reopened));
  if (box) box.value = "";
  reopened = null;
  draw();
}

/* --- answers and news ----------------------------------------------------------------------------------------- */

on("outbox:answered", ({ key, status, answer }) => {
  if (status === 200) {
    cells.learn(answer?.results || []);
    cells.lift(key);
  } else cells.mark(key, "refused");
  drawOnce();
});
on("outbox:dropped", ({ key }) => { cells.lift(key); draw(); });
on("outbox:changed", load);
on("barre:rests", draw);
on("barre:news", (told) => {
  cells.learn(told.results);
  outbox.remember(here, told.results);
  if (told.is_open !== sheet.isOpen) window.location.reload();
  else draw();
});
/* The page may be an old one that was kept: what was told and tapped since is laid over it. */
async function load() {
  const [rows, told] = await Promise.all([outbox.pending(), outbox.recall(here)]);
  cells.learn(told);
  cells.relay(rows.filter(({ path, fields }) => [sheet.record, sheet.missing, sheet.takeBack].includes(path)
    || news.isOfDay({ path, fields }, day)));
  draw();
}
function rehearseTap() {
  const cell = everyCell.filter((each) => each.querySelector(".entry")).at(-1);
  if (!cell || cell.contains(document.activeElement)) return;
  const { student, side } = cell.dataset;
  rehearse(cell, () => {
    cells.judge("0");
    cells.lay({ key: "", path: sheet.record, fields: { student, side, value: "0" }, state: "waiting" });
    drawCells([cell]);
  }, () => { cells.lift(""); drawCells([cell]); });
}
const again = document.querySelector(".cell .back:not([hidden])");
if (again) reopened = at(again.closest(".cell"));
draw();
Promise.all([load(), rests.ready, news.listen(sheet.news, sheet.stamp)]).then(letGo, letGo);
window.setTimeout(letGo, SHELF_MS);
window.addEventListener("load", () => afterPaint(rehearseTap));
