/* The page of a group run: groups, feet and tries in their order, the start, the taps, Stop all, Undo. */
import { DOUBLE_TAP_MS, afterPaint, all, fill, on, onReturn, rehearse, write } from "../hand.js";
import * as news from "../news.js";
import * as outbox from "../outbox.js";
import * as rests from "../rests.js";
import { makeClock } from "./clock.js";
import { makeFacts } from "./facts.js";
import { makeSteps } from "./steps.js";
import { makeTiles } from "./tiles.js";

const MOVE_ON_MS = 3000, REASONS_MS = 12000, GIVEN_MS = 4000;
const root = document.getElementById("run"), plan = JSON.parse(root.dataset.plan), { words } = plan;
const facts = makeFacts(plan), tiles = makeTiles(plan, facts, root), clock = makeClock(plan, root);
const order = makeSteps(plan, facts), { groups, all: steps } = order;
/* Where we are: the group, the step shown, the child whose reasons are open, whom the next tap is about. */
const at = { group: 1, step: 0, selected: null, picking: "" }, downAt = {};
let moveOn = 0, shutting = 0, notice = "";

function $(name) { return root.querySelector(`[data-${name}]`); }
function here() { return order.inGroup(at.group); }
function step() { return steps[at.step]; }
/* While the clock runs: those who stood at the barre when it was started. */
function left() { return order.wanting(at.group, step()).filter(clock.counts); }
function nextGroup() { return order.nextGroup(at.group); }

/* --- drawing -------------------------------------------------------------------------------------------------- */

function hint(text) { write($("hint"), text); }
function tell(text) { notice = text; hint(text); }
function usualHint() {
  /* What a tap came to, or the server refused or could not tell, is said until the next tap, whatever is heard
     meanwhile. */
  if (notice) return notice;
  if (!plan.isOpen) return words.closed;
  if (at.picking) return words[`who_${at.picking}`];
  if (clock.isCountingIn()) return words.four;
  if (clock.isRunning()) return words.tap;
  if (!groups) return words.nobody_line;
  if (left().length) return words.ready_hint;
  if (here().every(facts.isOut) && nextGroup()) return fill(words.nobody, { at: nextGroup() });
  return nextGroup() ? words.all_down : words.nobody_left;
}
/* What the large button does now: its words and its deed. */
function nextDeed() {
  if (clock.isRunning()) return plan.one ? [words.stop, stopAll] : [words.stop_all, stopAll];
  if (clock.byHand()) {
    const keeps = fill(words.keep, { value: facts.written(clock.value()) });
    return [keeps, () => { if (left().length) takeFor(left()[0], 0); }];
  }
  if (left().length) return [words.start, start];
  const next = order.first(at.group);
  if (next >= 0) return [stepWords(steps[next]), () => { goTo(at.group, next); start(); }];
  const group = nextGroup();
  if (!group) return [words.done, () => { window.location.assign(plan.paths.screening); }];
  const label = plan.one ? fill(words.next_child, { name: order.inGroup(group)[0].name })
    : fill(words.next_group, { at: group });
  return [label, () => { goTo(group, order.first(group)); }];
}
function stepWords(one) {
  const foot = words[`side_${one.side}`], tried = fill(words.attempt, { at: one.attempt, all: plan.attempts });
  if (plan.attempts === 1) return foot || words.start;
  return foot ? `${foot}, ${tried}` : tried;
}
function view() { return { isUp, isRunning: clock.isRunning(), selected: at.selected, picking: at.picking }; }
/* The tile that a tap is about is drawn in the tap's own turn and alone; the rest follows once that is seen. */
function drawFirst(child, rest) {
  tiles.draw(child, step(), view());
  if (at.selected) tiles.drawWhy(at.selected, step());
  afterPaint(rest);
}
function draw() {
  const now = view();
  for (const row of all(".tiles", root)) row.hidden = Number(row.dataset.group) !== at.group;
  for (const child of here()) tiles.draw(child, step(), now);
  tiles.drawWhy(at.selected, step());
  if(groups) {
    root.dataset.side = step().side;
    write($("side-words"), words[`side_${step().side}`]);
    write($("attempt"),
      plan.attempts > 1 ? fill(words.attempt, { at: step().attempt, all: plan.attempts }) : "");
    write($("group"), fill(plan.one ? words.one_of : words.group, { at: at.group, all: groups }));
  }
  const count = facts.toGo();
  write($("to-go"), count ? `${count} ${words.to_go}` : words.seen);
  const deed = groups && plan.isOpen ? nextDeed() : [words.done, null];
  write($("deed"), deed[0]);
  root.classList.toggle("is-running", clock.isRunning());
  root.classList.toggle("is-by-hand", clock.byHand());
  const tap = plan.isOpen ? facts.lastTap() : null;
  $("undo").disabled = !tap;
  write($("undo-words"), tap ? tap.words : "");
  for (const name of ["not", "hurts"]) $(`pick-${name}`).setAttribute("aria-pressed", String(at.picking === name));
  hint(usualHint());
}
function isUp(child) { return (clock.isUp() || clock.byHand()) && clock.counts(child) && facts.wants(child, step()); }

/* --- deeds ---------------------------------------------------------------------------------------------------- */

function goTo(group, number) {
  window.clearTimeout(moveOn);
  clock.clear();
  at.group = group;
  at.step = Math.max(number, 0);
  at.selected = null;
  draw();
}
function start() {
  at.selected = null;
  clock.start({ group: at.group, step: at.step, ids: left().map((child) => child.id) });
  draw();
}
async function kept(promise, what) {
  try {
    await promise;
    draw();
  } catch { hint(fill(words.not_kept, { what })); }
}
function take(child, value, isLeast) {
  downAt[child.id] = performance.now();
  kept(facts.record(child, step().side, value, isLeast), `${child.name} ${facts.written(value)}`);
}
/* Ends the run once nobody is up any more. */
function settle() {
  if (!left().length) {
    clock.stop();
    if (plan.one) moveOn = window.setTimeout(() => { if (!at.selected) next(); }, MOVE_ON_MS);
  }
  draw();
}
function next() {
  const number = order.first(at.group), group = nextGroup();
  if (number >= 0) goTo(at.group, number);
  else if (group) goTo(group, order.first(group));
}
function takeFor(child, when) {
  take(child, clock.valueAt(when), false);
  drawFirst(child, settle);
}
function stopAll() {
  if (clock.isUp()) {
    const value = clock.value();
    if (value > 0) for (const child of left()) take(child, value, true);
  }
  clock.stop();
  /* The row of reasons would lie over Not today and It hurts. */
  at.selected = null;
  settle();
}
/* The cap, or what no child can pass, ends the run by itself. */
clock.onLimit = () => {
  const value = clock.limit();
  for (const child of left()) take(child, value, true);
  settle();
};
clock.onChange = draw;

/* --- taps on names -------------------------------------------------------------------------------------------- */

function onTile(child, when) {
  if (at.picking) { pick(child); return; }
  if (!plan.isOpen) { tell(words.closed); return; }
  const result = facts.resultOf(child, step());
  if(result) { onDown(child, result); return; }
  if (child.rests && !child.away && !child.isAbsent) { askFor(child, () => { back(child); }); return; }
  if (facts.isOut(child)) {
    const reason = child.rests || facts.reasonFor(child.away ? child.away.reason : "absent");
    const told = facts.mayComeBack(child) || (child.isAbsent && !child.away) ? words.away : words.off;
    tell(fill(told, { name: child.name, why: reason }));
    return;
  }
  if (!clock.counts(child)) { tell(fill(words.next_run, { name: child.name })); return; }
  if (clock.byHand() || (clock.isUp() && clock.valueAt(when) > 0)) { takeFor(child, when); return; }
  tell(clock.isRunning() ? words.early : words.not_yet);
}
/* The second tap of a double tap is not a wish to say why. */
function onDown(child, result) {
  if (performance.now() - (downAt[child.id] || -DOUBLE_TAP_MS) < DOUBLE_TAP_MS) {
    hint(fill(words.double, { value: facts.written(result.value) }));
    return;
  }
  at.selected = at.selected === child ? null : child;
  draw();
  shutLater();
}
/* Reasons that nobody gives are put away again: what lies under them may be wanted. */
function shutLater(after = REASONS_MS) {
  clearTimeout(shutting);
  if (at.selected) shutting = setTimeout(() => { if (at.selected) close(); }, after);
}
function pick(child) {
  const what = at.picking;
  at.picking = "";
  if (what === "not") {
    if (facts.mayComeBack(child)) {
      notice = fill(clock.isRunning() ? words.back_next : words.back, { name: child.name });
      facts.comeLate(child);
      kept(facts.bringBack(child), child.name);
    } else if (child.isAbsent && !child.away) {
      facts.comeLate(child);
      back(child);
    } else if (!facts.isOut(child)) kept(facts.miss(child, "not_today"), child.name);
    settle();
    return;
  }
  draw();
  hurts(child);
}
/* On which rise or at which second it hurt; of a count that was kept before, its key, too. */
function atCount(child) {
  const result = facts.resultOf(child, step());
  if (result) return `&at=${Math.floor(result.value)}&of=${result.key}`;
  return isUp(child) ? `&at=${Math.floor(clock.value())}` : "";
}
/* Only where that page can be had: a tablet without network must not lose this one. Whoever hurts stops, for what
   she had done so far is no measure of her strength: her report stores that with it, so that nobody is left stopped
   for a pain that was never reported. */
async function hurts(child) {
  const stops = plan.isOpen && isUp(child), way = plan.paths.hurts.replace("/0/", `/${child.id}/`);
  const address = way + (stops ? "&up" : "") + atCount(child);
  /* Where the family agreed to no notes of pain there will be no report, and no word of pain here. */
  const isOut = stops && !child.hasNotes ? facts.miss(child, "not_today") : null;
  try {
    /* Asked as a page, so that the one kept on this tablet answers for the network; led elsewhere, there is none. */
    const answer = await fetch(address, { credentials: "same-origin", headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
    await isOut;
    clock.remember();
    window.location.assign(address);
  } catch {
    notice = fill(words.no_pain_page, { name: child.name });
    kept(stops && child.hasNotes ? facts.miss(child, "pain") : isOut, child.name);
    draw();
  }
}

/* The finger's own instant, not the one at which a busy page got round to it. */
let touched = { tile: null, when: 0 };
root.addEventListener("pointerdown", (event) => {
  touched = { tile: event.target.closest(".tile"), when: event.timeStamp };
});
const menu = root.querySelector(".run-menu");
document.addEventListener("click", (event) => { if (!menu.contains(event.target)) menu.open = false; });
root.addEventListener("click", (event) => {
  notice = "";
  clock.wake();
  const button = event.target.closest("button"), tile = event.target.closest(".tile");
  if(tile) {
    const isOwn = touched.tile === tile && event.timeStamp - touched.when < 1000;
    onTile(facts.byId(tile.dataset.child), isOwn ? touched.when : event.timeStamp);
    touched.tile = null;
    return;
  }
  if (!button) { if (at.selected && !event.target.closest(".why")) close(); return; }
  const deed = Object.keys(deeds).find((name) => button.hasAttribute(`data-${name}`));
  if (deed) deeds[deed](button);
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") { menu.open = false; close(); }
});
function close() {
  at.selected = null;
  at.picking = "";
  draw();
  if (plan.one && !left().length && !clock.isRunning()) next();
}
/* Who is counted after all, from the next start on. */
function back(child) { notice = fill(clock.isRunning() ? words.back_next : words.back, { name: child.name }); }
/* Nothing is recorded of whoever should rest before somebody said why. */
async function askFor(child, act) {
  const why = await rests.ask(child.id, child.name, child.rest);
  facts.layRests();
  if (why) act();
  settleQuietly();
}
function change(by) {
  const child = at.selected;
  if (child.rests && by.value !== undefined) {
    askFor(child, () => { at.selected = child; change(by); });
    return;
  }
  const result = facts.resultOf(at.selected, step());
  kept(facts.correct(at.selected, step().side, result, by), at.selected.name);
  drawFirst(at.selected, draw);
  shutLater(by.fault ? GIVEN_MS : REASONS_MS);
}
function nudge(sign) {
  if (clock.byHand() || (plan.one && !clock.isRunning() && left().length && !at.selected)) {
    clock.add(sign);
    draw();
    return;
  }
  if (!at.selected) return;
  const { value } = facts.resultOf(at.selected, step());
  const by = plan.decimals ? Math.round((value + sign * 0.1) * 10) / 10 : value + sign;
  if (by >= 0 && by <= plan.most) change({ value: by });
}
const deeds = {
  deed() {
    const deed = groups && plan.isOpen ? nextDeed() : [];
    if (deed[1]) deed[1](); else window.location.assign(plan.paths.screening);
  },
  undo() {
    const tap = facts.lastTap();
    if (!tap) return;
    kept(facts.undo(tap), tap.words);
    delete downAt[tap.child.id];
    at.selected = null;
    window.clearTimeout(moveOn);
    /* Back to where that tap was made, unless the others are just being counted. */
    if (!clock.isRunning()) {
      const number = steps.findIndex((one) => one.side === tap.side && facts.wants(tap.child, one));
      if (number >= 0) { at.group = tap.child.group; at.step = number; }
    }
    draw();
  },
  "pick-not"() { at.picking = at.picking === "not" ? "" : "not"; at.selected = null; draw(); },
  "pick-hurts"() {
    /* Whose reasons are open is the one whom it hurts. */
    if (at.selected) { hurts(at.selected); return; }
    at.picking = at.picking === "hurts" ? "" : "hurts";
    draw();
  },
  fault(button) {
    const { fault } = facts.resultOf(at.selected, step());
    change({ fault: fault === button.dataset.fault ? "" : button.dataset.fault });
  },
  plus() { nudge(1); },
  minus() { nudge(-1); },
  "go-group"(button) {
    const number = Number(button.dataset.goGroup);
    menu.open = false;
    if (!clock.isRunning()) goTo(number, Math.max(order.first(number), 0));
  },
  sound() { clock.setSound(!clock.hasSound()); },
};

/* --- the outbox and the other tablets ------------------------------------------------------------------------- */

function isHere(row) { return row.path.startsWith(plan.paths.run); }
function isOurs(row) { return isHere(row) || news.isOfDay(row, plan.paths.screening); }
async function loadOwn() {
  const rows = await outbox.pending().catch(() => []);
  facts.relay(rows.filter((row) => isOurs(row) && row.state !== "refused"));
}
/* Somebody else's result may have been the last one that this run waited for. */
function settleQuietly() { if (clock.isUp() && !left().length) settle(); else draw(); }
on("barre:rests", () => { facts.layRests(); settleQuietly(); });
on("barre:news", (told) => {
  plan.isOpen = told.is_open !== false;
  facts.learn(told.results);
  outbox.remember(plan.paths.run, told.results);
  settleQuietly();
});
on("outbox:answered", (row) => {
  const told = row.answer || {};
  if (!isOurs(row)) return;
  /* Nothing came of it where somebody else had said why before. */
  if (row.status === 200 && isHere(row)) facts.learn(told.results || []);
  facts.drop(row.key);
  if (row.status === 200) return;
  draw();
  const child = facts.byId(row.fields.student);
  if (child && told.why) tell(fill(words.refused, { name: child.name, why: told.why }));
});
on("outbox:dropped", ({ key }) => { facts.drop(key); draw(); });
on("outbox:changed", () => loadOwn().then(draw));
/* Left for the page of pain and come back to by Back: what was kept there is not known here yet. */
onReturn(() => loadOwn().then(settleQuietly));

async function begin() {
  /* The page may be an old one that was kept: what was told and tapped since is laid over it. */
  facts.learn(await outbox.recall(plan.paths.run));
  await loadOwn();
  await Promise.all([rests.ready, news.listen(plan.paths.news, plan.stamp)]);
  facts.layRests();
  const remembered = clock.recall();
  if (remembered && remembered.group <= groups && order.wanting(remembered.group, steps[remembered.step]).length) {
    [at.group, at.step] = [remembered.group, remembered.step];
    clock.goOn(remembered);
  } else {
    clock.forget();
    at.group = groups && order.first(1) < 0 ? nextGroup() || 1 : 1;
    at.step = Math.max(order.first(at.group), 0);
  }
  draw();
  root.classList.add("is-drawn");
  afterPaint(rehearseTap);
}
function rehearseTap() {
  const child = groups && !clock.isRunning() && left()[0];
  if (!child) return;
  rehearse(tiles.tileOf(child), () => { facts.pretend(child, step().side); draw(); }, () => { facts.end(); draw(); });
}
begin();
