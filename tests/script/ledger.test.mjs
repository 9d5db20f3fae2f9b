/* What stands and what Undo takes back follows from origins alone, on the tablet as at the studio. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeLedger } from "../../static/js/ledger.js";

const AT = "ama|L";
function say({ fields }) {
  return [{ at: fields.at || AT, value: fields.value, corrects: fields.corrects_key || "" }];
}
/* A tablet and a studio: what is tapped is laid over, until the studio has told of it. */
function bench() {
  const ledger = makeLedger(say);
  let count = 0;
  const at = (place = AT) => ledger.at(place).at(-1);
  return {
    ledger, value: (place) => at(place)?.value ?? null,
    tap(fields) { count += 1; ledger.lay({ key: `k${count}`, fields, state: "waiting" }); return `k${count}`; },
    record(value, place = AT) { return this.tap({ value, at: place }); },
    correct(value) { return this.tap({ value, corrects_key: at().key }); },
    undo() { const node = ledger.latest(); return node && this.tap({ of: node.origin }); },
  };
}
const row = (key, value, corrects = "", origin = key) => ({
  key, origin, corrects, at: AT, value, isMine: true, isGone: value === null, attempt: 1, when: key,
});

test("14, put right to 15, put right to 14, Undo: 15 stands", () => {
  const one = bench();
  one.record(14);
  one.correct(15);
  one.correct(14);
  one.undo();
  assert.equal(one.value(), 15);
  one.undo();
  assert.equal(one.value(), 14);
  one.undo();
  assert.equal(one.value(), null);
  assert.equal(one.ledger.latest(), null);
});
test("the same as the studio tells it", () => {
  const ledger = makeLedger(say);
  ledger.learn([row("a", 14), row("b", 15, "a"), row("c", 14, "b")]);
  assert.equal(ledger.latest().origin, "c");
  ledger.learn([row("d", 15, "c", "b")]);
  assert.deepEqual([ledger.at(AT)[0].value, ledger.latest().origin], [15, "b"]);
  ledger.learn([row("e", 14, "d", "a")]);
  assert.deepEqual([ledger.at(AT)[0].value, ledger.latest().origin], [14, "a"]);
  ledger.learn([row("f", null, "e", "f")]);
  assert.deepEqual([ledger.at(AT), ledger.latest()], [[], null]);
});
test("rows told in any order stand the same", () => {
  const rows = [row("a", 14), row("b", 15, "a"), row("c", 14, "b"), row("d", 15, "c", "b")];
  const forth = makeLedger(say), back = makeLedger(say);
  forth.learn(rows);
  back.learn(rows.slice().reverse());
  assert.deepEqual(back.at(AT).map((node) => node.value), forth.at(AT).map((node) => node.value));
  assert.equal(back.latest().origin, forth.latest().origin);
});
test("a tap that the studio has told of is laid over no more", () => {
  const one = bench(), key = one.record(9);
  one.ledger.learn([{ ...row(key, 9) }]);
  assert.equal(one.ledger.at(AT).length, 1);
});
test("what one tap said in several places is taken back in all of them", () => {
  const ledger = makeLedger((tap) => ["ama|L", "ama|R"].map((at) => ({ at, reason: tap.fields.reason, value: null })));
  ledger.lay({ key: "k", fields: { reason: "absent" } });
  assert.equal(ledger.at("ama|R").length, 1);
  ledger.lay({ key: "u", fields: { of: "k" } });
  assert.deepEqual([ledger.at("ama|L"), ledger.at("ama|R")], [[], []]);
});
test("Undo offers the latest saying that stands, not the latest row", () => {
  const one = bench();
  one.record(1, "a");
  one.record(2, "b");
  one.tap({ value: 3, at: "a", corrects_key: one.ledger.at("a")[0].key });
  one.undo();
  assert.equal(one.ledger.latest().at, "b");
});
test("another person's result is never offered", () => {
  const ledger = makeLedger(say);
  ledger.learn([{ ...row("a", 14), isMine: false }]);
  assert.equal(ledger.latest(), null);
});
test("a taking back that waits is taken back in its turn", () => {
  const one = bench();
  one.record(14);
  one.correct(15);
  const back = one.undo(), forth = one.tap({ of: back });
  assert.deepEqual([one.value(), one.ledger.latest().origin], [15, "k2"]);
  one.tap({ of: forth });
  one.undo();
  assert.equal(one.value(), null);
  one.tap({ of: "k6" });
  assert.equal(one.value(), 14);
});
