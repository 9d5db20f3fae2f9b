/* A number pad and a stopwatch that write into the chosen box of a sheet; everything works without them. */
import { all, on } from "./hand.js";

const pad = document.querySelector("[data-pad]"), BUTTONS = "[data-pad] button, [data-pad-ways] button";
/* `chosen`: the one box that is outlined and takes the keys; `fresh`: its first digit replaces what stands in it. */
let chosen = null, fresh = false, timed = null, started = 0, timer = 0;

function boxes() { return all("#sheet .entry:not([hidden]) input.box"); }
function isThere(box) { return !!box && document.contains(box) && !box.form.hidden; }
function sideOf(cell) { return (cell.id.match(/-[LR]$/) || [""])[0]; }

function choose(box, how) {
  for (const cell of all("#sheet .cell.picked")) if (cell !== box.closest(".cell")) cell.classList.remove("picked");
  box.closest(".cell").classList.add("picked");
  if (chosen !== box) fresh = box.value !== "";
  chosen = box;
  if (document.activeElement !== box) box.focus(how);
  if (fresh) box.select();
  hint("");
}
function hint(words) {
  const line = document.querySelector(".pad .hint");
  if (line) line.textContent = words;
}
/* Whether there is a box to write into; otherwise it says so. */
function has() {
  if (isThere(chosen)) return true;
  hint(pad.dataset.wordsTap);
  return false;
}
function send() { if (has() && chosen.value.trim()) chosen.form.requestSubmit(); }
function fillIn(text) {
  chosen.value = text;
  fresh = false;
  chosen.dispatchEvent(new Event("input", { bubbles: true }));
  chosen.focus();
}
function type(sign) {
  if (!has() || sign === "." && (!chosen.value || chosen.value.includes("."))) return;
  /* What stood there before is replaced by the first digit, never added to. */
  const before = fresh ? "" : chosen.value;
  if (before.length < 6) fillIn(before + sign);
}
function rubOut() { if (has()) fillIn(chosen.value.slice(0, -1)); }

/* --- the stopwatch -------------------------------------------------------------------------------------------- */

/* The words of a button and those that it says in their place. */
function turn(button, name) {
  const words = button.textContent.trim();
  button.textContent = button.dataset[name];
  button.dataset[name] = words;
}
function face() { return pad.querySelector(".clock-face"); }
function seconds() { return (performance.now() - started) / 1000; }
function start(button) {
  if (!has()) return;
  timed = chosen;
  started = performance.now();
  turn(button, "wordsStop");
  timer = setInterval(() => {
    const now = seconds(), cap = parseFloat(pad.dataset.cap);
    if (cap && now >= cap) stop(button, cap);
    else face().textContent = now.toFixed(1);
  }, 50);
}
function stop(button, value) {
  clearInterval(timer);
  timer = 0;
  turn(button, "wordsStop");
  /* The child whose clock was started, wherever a finger has been since. */
  timed.value = face().textContent = value.toFixed(1);
  timed.form.requestSubmit();
}

/* --- which box ------------------------------------------------------------------------------------------------ */

function ready() {
  for (const button of all(BUTTONS)) button.disabled = false;
  const isTouch = window.matchMedia("(pointer: coarse)").matches, [first] = boxes();
  if (isTouch) for (const box of all("#sheet input.box")) box.inputMode = "none";
  if (isThere(chosen) || !first) return;
  /* Keys go where the outline is, but nobody is called away from what they are at. */
  if (document.activeElement === document.body || document.activeElement.matches("#sheet .box"))
    choose(first, { preventScroll: true });
  const open = document.querySelector("#sheet .cell .entry");
  if (open && !window.location.hash && open.getBoundingClientRect().bottom > window.innerHeight)
    open.scrollIntoView({ block: "center" });
}
document.addEventListener("click", (event) => {
  const button = event.target.closest(BUTTONS);
  if (!button) return;
  if (button.dataset.sign) type(button.dataset.sign);
  else if (button.hasAttribute("data-rub-out")) rubOut();
  else if (button.hasAttribute("data-keep-key")) send();
  else if (button.hasAttribute("data-clock")) { if (timer) stop(button, seconds()); else start(button); }
  else { pad.classList.toggle("clock-only"); turn(button, "wordsOther"); }
});
document.addEventListener("focusin", ({ target }) => {
  if (target.matches("#sheet .entry input.box")) choose(target);
});
document.addEventListener("input", ({ target }) => { if (target === chosen) fresh = false; });
/* A digit that was meant for the chosen box, while nothing has the keys. */
document.addEventListener("keydown", (event) => {
  if (document.activeElement === document.body && /^\d$/.test(event.key) && isThere(chosen)) choose(chosen);
});
/* After a kept entry the next empty box is chosen, so that a whole column goes by without aiming. */
on("sheet:kept", ({ cell }) => {
  const again = cell.querySelector(".entry:not([hidden]) input.box"), open = boxes();
  const next = again || open.find((box) => sideOf(box.closest(".cell")) === sideOf(cell)
    && cell.compareDocumentPosition(box) & Node.DOCUMENT_POSITION_FOLLOWING) || open[0];
  if (next) choose(next);
});
/* What was undone is to be done again: its box takes the keys. */
on("sheet:undone", ({ cell }) => {
  const box = cell.querySelector(".entry:not([hidden]) input.box");
  if (box) choose(box);
});
on("sheet:asked", () => {
  fresh = true;
  chosen?.select();
});
/* The first box may have been taken by what the tablet had kept. */
on("sheet:drawn", ready);
ready();
