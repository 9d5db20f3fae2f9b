/* The clock of a run: starts, counts or times for everyone, sounds the beat, and keeps the screen awake. */
import { makeMotion, makeSound, schedule } from "./beat.js";

const COUNT_IN = 4, STALE_MS = 10 * 60 * 1000;

export function makeClock(plan, root) {
  const isCount = plan.kind === "count", face = root.querySelector(".count");
  const one = root.querySelector(".beat-one"), two = root.querySelector(".beat-two");
  const [bar, floor] = [root.querySelector(".beat-bar"), root.querySelector(".beat-floor")];
  const sound = makeSound(), motion = isCount ? makeMotion(bar, floor) : null;
  let plans = null, startedAt = 0, frame = 0, hand = null, shown = 0, lock = null, wasUp = false;
  /* Each way of running has its own groups, and so its own place to come back to. */
  const store = `run:${window.location.pathname}`;
  const self = { onLimit () {}, onChange () {} };

  function timeAt(now) {
    if (isCount) return plans.countAt(now);
    return Math.max(0, Math.floor((now - startedAt) / 100 + 1e-6) / 10);
  }
  function limit() { return plan.cap === null ? plan.most : Math.min(plan.cap, plan.most); }
  function write(text) {
    if (face.textContent !== text) face.textContent = text;
    face.classList.toggle("is-wide", text.length > (isCount ? 2 : 4));
  }
  function writeTime(value) { write(isCount ? String(value) : value.toFixed(1).replace(".", plan.decimalSign)); }

  /* --- each frame: nothing but the figure and the two words ------------------------------------------------ */

  function turn() {
    frame = window.requestAnimationFrame(turn);
    const now = performance.now();
    if (isCount) turnBeat(now);
    if (now < startedAt) return;
    if (!wasUp) { wasUp = true; self.onChange(); }
    const value = timeAt(now);
    if (value !== shown) { shown = value; writeTime(Math.min(value, limit())); }
    if (value >= limit()) self.onLimit();
  }
  function turnBeat(now) {
    const beat = plans.beatAt(now), isUp = beat >= 0 && beat % 2 === 0;
    one.classList.toggle("is-now", isUp);
    two.classList.toggle("is-now", beat >= 0 && !isUp);
    face.classList.toggle("is-count-in", beat < 0);
    if (beat < 0) write(beat < -COUNT_IN ? "" : String(beat + COUNT_IN + 1));
  }
  function run(from) {
    hand = null;
    wasUp = false;
    shown = -1;
    startedAt = from;
    if (isCount) {
      plans = schedule(from, plan.beats);
      motion.play(plans);
      if (self.hasSound()) sound.play(plans, Math.max(-COUNT_IN, plans.beatAt(performance.now()) + 1));
    }
    window.cancelAnimationFrame(frame);
    turn();
    stayAwake();
  }
  function halt() {
    window.cancelAnimationFrame(frame);
    frame = 0;
    sound.hush();
    motion?.stop();
    for (const word of [one, two]) word?.classList.remove("is-now");
    face.classList.remove("is-count-in");
    lock?.release().catch(() => {});
    lock = null;
    self.forget();
  }

  /* --- a screen that goes dark stops nobody from rising, but nobody can be tapped --------------------------- */

  async function stayAwake() {
    if (!navigator.wakeLock || document.visibilityState !== "visible") return;
    try {
      const got = await navigator.wakeLock.request("screen");
      if (frame) lock = got; else await got.release();
    } catch { /* it goes dark by itself then */ }
  }
  document.addEventListener("visibilitychange", () => { if (frame) stayAwake(); });

  /* --- a run outlives its page: the pain form and a reload come back to it ----------------------------------- */

  self.remember = () => {
    if (!frame) return;
    const began = Date.now() + startedAt - performance.now(), beats = isCount ? plan.beats : 0;
    const left = { ...self.place, startedAt: began, left: Date.now(), beats, limit: limit() };
    try { sessionStorage.setItem(store, JSON.stringify(left)); } catch { /* full: a reload starts anew */ }
  };
  self.recall = () => {
    let found = null;
    try { found = JSON.parse(sessionStorage.getItem(store)); } catch { return null; }
    const gone = found ? Date.now() - found.left : 0;
    return found && gone >= 0 && gone < STALE_MS ? found : null;
  };
  self.forget = () => {
    try { sessionStorage.removeItem(store); } catch { /* nothing is kept */ }
  };
  window.addEventListener("pagehide", () => { self.remember(); });

  /* --- what the page asks for --------------------------------------------------------------------------------- */

  self.start = (place) => {
    self.place = place;
    const now = performance.now();
    run(isCount ? now + COUNT_IN * 60000 / plan.beats : now);
  };
  self.goOn = (place) => {
    self.place = { group: place.group, step: place.step, ids: place.ids };
    run(performance.now() + place.startedAt - Date.now());
  };
  self.stop = () => {
    if (frame) halt();
    hand = null;
  };
  self.clear = () => {
    self.stop();
    shown = 0;
    writeTime(0);
  };
  /* Called from every tap: a page that came back to its run may sound only once it was touched. */
  self.wake = () => {
    if (!isCount || !self.hasSound()) return;
    sound.wake();
    if (frame && !sound.isPlaying()) sound.play(plans, plans.beatAt(performance.now()) + 1);
  };
  self.isRunning = () => { return frame !== 0; };
  /* Who came since the start is counted from the next one on. */
  self.counts = (child) => { return !frame || !self.place.ids || self.place.ids.includes(child.id); };
  self.isCountingIn = () => { return frame !== 0 && isCount && performance.now() < startedAt; };
  self.isUp = () => { return frame !== 0 && performance.now() >= startedAt; };
  self.valueAt = (when) => { return hand !== null ? hand : Math.min(timeAt(when), limit()); };
  self.value = () => { return self.valueAt(performance.now()); };
  self.limit = limit;
  /* One child at a time: the plus counts where no beat does. */
  self.byHand = () => { return hand !== null; };
  self.add = (sign) => {
    const by = plan.decimals ? Math.round(((hand || 0) + sign * 0.1) * 10) / 10 : (hand || 0) + sign;
    hand = Math.max(0, Math.min(by, limit()));
    writeTime(hand);
    if (!hand) hand = null;
  };

  /* --- sound is a wish of this tablet --------------------------------------------------------------------------- */

  self.hasSound = () => {
    try { return localStorage.getItem("run:sound") !== "off"; } catch { return true; }
  };
  self.setSound = (isOn) => {
    try { localStorage.setItem("run:sound", isOn ? "on" : "off"); } catch { /* for this page only */ }
    self.showSound();
    if (!isOn) sound.hush();
    else self.wake();
  };
  self.showSound = () => {
    const button = root.querySelector("[data-sound]");
    if (button) button.textContent = plan.words[self.hasSound() ? "sound_on" : "sound_off"];
  };
  self.showSound();
  writeTime(0);
  return self;
}
