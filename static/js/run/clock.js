/* The clock of a run: starts, counts or times for everyone, sounds the beat, and keeps the screen awake. */
(function () {
  "use strict";
  var COUNT_IN = 4, STALE_MS = 10 * 60 * 1000;
  var groupRun = window.groupRun;

  groupRun.clock = function (plan, root) {
    var isCount = plan.kind === "count";
    var face = root.querySelector(".count"), one = root.querySelector(".beat-one"),
      two = root.querySelector(".beat-two");
    var sound = groupRun.sound(),
      motion = isCount ? groupRun.motion(root.querySelector(".beat-bar"), root.querySelector(".beat-floor")) : null;
    var plans = null, startedAt = 0, frame = 0, hand = null, shown = 0, lock = null, wasUp = false;
    /* Each way of running has its own groups, and so its own place to come back to. */
    var store = "run:" + window.location.pathname;
    var self = { onLimit: function () {}, onChange: function () {} };

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
      var now = performance.now();
      if (isCount) turnBeat(now);
      if (now < startedAt) return;
      if (!wasUp) { wasUp = true; self.onChange(); }
      var value = timeAt(now);
      if (value !== shown) { shown = value; writeTime(Math.min(value, limit())); }
      if (value >= limit()) self.onLimit();
    }
    function turnBeat(now) {
      var beat = plans.beatAt(now), isUp = beat >= 0 && beat % 2 === 0;
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
        plans = groupRun.schedule(from, plan.beats);
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
      if (motion) motion.stop();
      [one, two].forEach(function (word) { if (word) word.classList.remove("is-now"); });
      face.classList.remove("is-count-in");
      if (lock) lock.release().catch(function () {});
      lock = null;
      self.forget();
    }

    /* --- a screen that goes dark stops nobody from rising, but nobody can be tapped --------------------------- */

    function stayAwake() {
      if (!navigator.wakeLock || document.visibilityState !== "visible") return;
      navigator.wakeLock.request("screen").then(function (got) {
        if (frame) lock = got; else got.release();
      }).catch(function () {});
    }
    document.addEventListener("visibilitychange", function () { if (frame) stayAwake(); });

    /* --- a run outlives its page: the pain form and a reload come back to it ----------------------------------- */

    self.remember = function () {
      if (!frame) return;
      var left = Object.assign({}, self.place, {
        startedAt: Date.now() + startedAt - performance.now(), left: Date.now(), beats: isCount ? plan.beats : 0,
        limit: limit(),
      });
      try { window.sessionStorage.setItem(store, JSON.stringify(left)); } catch (_full) { return; }
    };
    self.recall = function () {
      var found = null;
      try { found = JSON.parse(window.sessionStorage.getItem(store)); } catch (_none) { return null; }
      var gone = found ? Date.now() - found.left : 0;
      return found && gone >= 0 && gone < STALE_MS ? found : null;
    };
    self.forget = function () {
      try { window.sessionStorage.removeItem(store); } catch (_none) { return; }
    };
    window.addEventListener("pagehide", function () { self.remember(); });

    /* --- what the page asks for --------------------------------------------------------------------------------- */

    self.start = function (place) {
      self.place = place;
      var now = performance.now();
      run(isCount ? now + COUNT_IN * 60000 / plan.beats : now);
    };
    self.goOn = function (place) {
      self.place = { group: place.group, step: place.step, ids: place.ids };
      run(performance.now() + place.startedAt - Date.now());
    };
    self.stop = function () {
      if (frame) halt();
      hand = null;
    };
    self.clear = function () {
      self.stop();
      shown = 0;
      writeTime(0);
    };
    /* Called from every tap: a page that came back to its run may sound only once it was touched. */
    self.wake = function () {
      if (!isCount || !self.hasSound()) return;
      sound.wake();
      if (frame && !sound.isPlaying()) sound.play(plans, plans.beatAt(performance.now()) + 1);
    };
    self.isRunning = function () { return frame !== 0; };
    /* Who came since the start is counted from the next one on. */
    self.counts = function (child) { return !frame || !self.place.ids || self.place.ids.indexOf(child.id) >= 0; };
    self.isCountingIn = function () { return frame !== 0 && isCount && performance.now() < startedAt; };
    self.isUp = function () { return frame !== 0 && performance.now() >= startedAt; };
    self.valueAt = function (when) { return hand !== null ? hand : Math.min(timeAt(when), limit()); };
    self.value = function () { return self.valueAt(performance.now()); };
    self.limit = limit;
    /* One child at a time: the plus counts where no beat does. */
    self.byHand = function () { return hand !== null; };
    self.add = function (sign) {
      var by = plan.decimals ? Math.round(((hand || 0) + sign * 0.1) * 10) / 10 : (hand || 0) + sign;
      hand = Math.max(0, Math.min(by, limit()));
      writeTime(hand);
      if (!hand) hand = null;
    };

    /* --- sound is a wish of this tablet --------------------------------------------------------------------------- */

    self.hasSound = function () {
      try { return window.localStorage.getItem("run:sound") !== "off"; } catch (_none) { return true; }
    };
    self.setSound = function (isOn) {
      try { window.localStorage.setItem("run:sound", isOn ? "on" : "off"); } catch (_none) { /* for this page only */ }
      self.showSound();
      if (!isOn) sound.hush();
      else self.wake();
    };
    self.showSound = function () {
      var button = root.querySelector("[data-sound]");
      if (button) button.textContent = plan.words[self.hasSound() ? "sound_on" : "sound_off"];
    };
    self.showSound();
    writeTime(0);
    return self;
  };
})();
