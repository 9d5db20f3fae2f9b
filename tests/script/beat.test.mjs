/* The clock of a run: when a beat falls, and which rise it belongs to. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { schedule } from "../../static/js/run/beat.js";

/* Two beats a rise, worked out by hand: beats a minute, beat, its time in ms, the count shown. */
for (const [pace, beat, ms, count] of [
  [40, 0, 0, 1], [40, 1, 1500, 1], [40, 2, 3000, 2], [60, 15, 15000, 8], [80, 4, 3000, 3], [80, 159, 119250, 80],
]) {
  test(`at ${pace} beats a minute beat ${beat} falls after ${ms} ms, in rise ${count}`, () => {
    const plan = schedule(1000, pace), at = plan.timeOf(beat);
    assert.deepEqual([at - 1000, plan.beatAt(at), plan.beatAt(at - 0.5)], [ms, beat, beat - 1]);
    assert.equal(plan.countAt(at), count);
  });
}
test("nobody has a rise before the first beat", () => assert.equal(schedule(1000, 60).countAt(999), 0));
