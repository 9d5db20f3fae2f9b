/* The beat: when each one falls, how it sounds and how it moves; knows no child and no result. */

/* Sounds are handed to the audio clock this long before they fall, so that a busy page is not heard. */
const AHEAD_MS = 1500, LOOK_EVERY_MS = 100;
const HIGH_HZ = 990, LOW_HZ = 660, COUNT_IN_HZ = 1320, LENGTH_S = 0.06;
/* A hair, so that the instant of a beat belongs to that beat whatever a division left behind the comma. */
const HAIR = 1e-6;

/* Beat 0 is the first "one, up"; the four of the count-in are -4 to -1. A count is two beats, up and down. */
export function schedule(startsAt, perMinute) {
  const gap = 60000 / perMinute;
  function beatAt(now) { return Math.floor((now - startsAt) / gap + HAIR); }
  return {
    startsAt,
    gap,
    timeOf(beat) { return startsAt + beat * gap; },
    beatAt,
    isUp(now) { return beatAt(now) % 2 === 0; },
    countAt(now) { return Math.max(0, Math.floor(beatAt(now) / 2) + 1); },
  };
}

export function makeSound() {
  const waiting = [];
  let context = null, plan = null, next = 0, timer = 0, leadMs = null;

  /* Where the audio clock will stand at an instant of the page's clock. Single readings jump by a few
     milliseconds, so the distance between the clocks is followed slowly. */
  function follow() {
    const stamp = context.getOutputTimestamp ? context.getOutputTimestamp() : null;
    const isThere = stamp && stamp.performanceTime > 0;
    const lead = isThere ? stamp.contextTime * 1000 - stamp.performanceTime
      : context.currentTime * 1000 - performance.now();
    leadMs = leadMs === null || Math.abs(lead - leadMs) > 50 ? lead : leadMs + (lead - leadMs) * 0.1;
  }
  function tick(beat) {
    const at = (plan.timeOf(beat) + leadMs) / 1000;
    const tone = context.createOscillator(), loud = context.createGain();
    tone.frequency.value = beat < 0 ? COUNT_IN_HZ : beat % 2 ? LOW_HZ : HIGH_HZ;
    loud.gain.setValueAtTime(0.5, at);
    loud.gain.exponentialRampToValueAtTime(0.001, at + LENGTH_S);
    tone.connect(loud).connect(context.destination);
    tone.start(at);
    tone.stop(at + LENGTH_S);
    waiting.push(tone);
    tone.onended = () => { waiting.splice(waiting.indexOf(tone), 1); };
  }
  function look() {
    const now = performance.now();
    if (context.state !== "running") return;
    follow();
    /* A beat that the page slept through is left out: a late one would mislead. */
    next = Math.max(next, plan.beatAt(now) + 1);
    for (; plan.timeOf(next) < now + AHEAD_MS; next += 1) tick(next);
  }
  function hush() {
    window.clearInterval(timer);
    timer = 0;
    waiting.splice(0).forEach((tone) => { tone.onended = null; tone.stop(); });
  }
  return {
    /* Called from a tap: only then may a page make sound. */
    wake() {
      if (!window.AudioContext) return;
      context = context || new window.AudioContext({ latencyHint: "interactive" });
      if (context.state !== "running") context.resume().catch(() => {});
    },
    play (given, from) {
      hush();
      if (!context) return;
      plan = given;
      next = from;
      leadMs = null;
      timer = window.setInterval(look, LOOK_EVERY_MS);
      look();
    },
    hush,
    isPlaying() { return timer !== 0; },
  };
}

/* The bar stands above at "one, up" and on the floor at "two, down". It runs in the compositor, on the page's own
   clock, and so stays in time while the page is busy. */
export function makeMotion(bar, floor) {
  let moving = null, plan = null;
  const isStill = window.matchMedia("(prefers-reduced-motion: reduce)");
  function stop() {
    if (moving) moving.cancel();
    moving = null;
  }
  function play() {
    stop();
    if (isStill.matches) return;
    const low = `translateY(${floor.offsetTop - bar.offsetTop - bar.offsetHeight}px)`;
    const quick = Math.min(0.12, 120 / (plan.gap * 2));
    moving = bar.animate([
      { transform: low, offset: 0, easing: "ease-out" }, { transform: "none", offset: quick },
      { transform: "none", offset: 0.5, easing: "ease-in" }, { transform: low, offset: 0.5 + quick },
      { transform: low, offset: 1 },
    ], { duration: plan.gap * 2, iterations: Infinity, fill: "backwards" });
    moving.startTime = plan.startsAt;
  }
  /* A tablet that is turned has its floor at another height. */
  window.addEventListener("resize", () => { if (moving) play(); });
  return {
    play(given) { plan = given; play(); },
    stop,
  };
}
