/* What waits on the tablet goes out in order and together; what an answer means for its row. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { FAILURES, ROWS, sendAll } from "../../static/js/sending.js";

/* A tablet with these rows, and a server that answers each tap by its key; `posts` is what went out. */
function tablet(rows, answerOf = () => ({ status: 200 }), whole = () => null) {
  const posts = [], heard = [];
  const answer = (row) => {
    const made = answerOf(row, posts.length);
    return { key: row.key, status: made.status, told: made.told ?? (made.status === 200 ? { key: row.key } : null) };
  };
  const box = {
    rows: rows.map((row, at) => ({ seq: at, path: "/barre/x/record/", state: "waiting", fields: {}, ...row })),
    posts, heard,
    async pending() { return this.rows.slice(); },
    async save() {},
    async remove(gone) { this.rows = this.rows.filter((row) => !gone.includes(row)); },
    async accept(answers) { await this.remove(answers.map(({ row }) => row)); },
    async sending() {},
    answered(row, { status }) { heard.push([row.key, status]); },
    async send(some) {
      posts.push(some.map((row) => row.key));
      const refusal = whole(some);
      if (refusal) return refusal;
      if (some.length === 1) return answer(some[0]);
      return { status: 200, told: { answers: some.map(answer) } };
    },
  };
  return box;
}
const rows = (...keys) => keys.map((key) => ({ key }));
const left = (box) => box.rows.map((row) => `${row.key} ${row.state}`);

test("rows that wait go out together, in their order", async () => {
  const box = tablet(rows("a", "b", "c"));
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.posts, [["a", "b", "c"]]);
  assert.deepEqual(box.heard, [["a", 200], ["b", 200], ["c", 200]]);
  assert.deepEqual(box.rows, []);
});
test("two hundred rows go out in batches of the agreed size", async () => {
  const box = tablet(rows(...Array(200).keys()));
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.posts.map((post) => post.length), Array(200 / ROWS).fill(ROWS));
});
test("a batch that is too large for the server is halved", async () => {
  const most = (some) => (some.length > 2 ? { status: 413, told: null } : null);
  const box = tablet(rows("a", "b", "c", "d"), undefined, most);
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.posts.map((post) => post.length), [4, 2, 2]);
});
test("a row at which the server fails holds up nobody, and is put aside after its tries", async () => {
  const box = tablet(rows("poison", "b", "c"), (row) => ({ status: row.key === "poison" ? 500 : 200 }));
  assert.equal(await sendAll(box), "waiting");
  assert.deepEqual(left(box), ["poison waiting"]);
  for (let at = 1; at < FAILURES; at += 1) await sendAll(box);
  assert.deepEqual(left(box), ["poison refused"]);
});
test("where the server fails at everything, the rows after the first are not to blame", async () => {
  const box = tablet(rows("a", "b", "c"), () => ({ status: 500 }));
  for (let at = 1; at < FAILURES; at += 1) assert.equal(await sendAll(box), "waiting");
  assert.deepEqual(box.rows.map((row) => row.failed || 0), [FAILURES - 1, 0, 0]);
});
test("what speaks of a row that was not taken yet waits for it", async () => {
  let isDown = true;
  const taken = new Set();
  const box = tablet([{ key: "a" }, { key: "b", fields: { corrects_key: "a" } }, { key: "c" }], (row) => {
    if (row.key === "a" && isDown) return { status: 500 };
    if (row.key === "b" && !taken.has("a")) return { status: 422, told: { why: "not here" } };
    taken.add(row.key);
    return { status: 200 };
  });
  assert.equal(await sendAll(box), "waiting");
  assert.deepEqual(left(box), ["a waiting", "b waiting"]);
  isDown = false;
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.rows, []);
});
test("a refused row is put aside with its reason, and the next ones go on", async () => {
  const box = tablet(rows("a", "b"), (row) => (row.key === "a" ? { status: 422, told: { why: "999 is not possible" } }
    : { status: 200 }));
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.rows.map((row) => [row.key, row.state, row.why]), [["a", "refused", "999 is not possible"]]);
});
test("what is not there any more is put aside, also where a batch says so without a word", async () => {
  const box = tablet(rows("a", "b", "c"), (row) => (row.key === "b" ? { status: 404 } : { status: 200 }));
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(left(box), ["b refused"]);
});
test("what belongs to another room goes alone, in its turn", async () => {
  const box = tablet([{ key: "a" }, { key: "b", path: "/follow-ups/1/" }, { key: "c" }, { key: "d" }]);
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual(box.posts, [["a"], ["b"], ["c", "d"]]);
});
test("an entry that was never accepted and is taken back leaves nothing to tell", async () => {
  const box = tablet([{ key: "a", state: "refused" }, { key: "b", fields: { of: "a" } }]);
  assert.equal(await sendAll(box), "sent");
  assert.deepEqual([box.rows, box.posts], [[], []]);
});
for (const [name, answer, state] of [
  ["logged out", { status: 401, told: {} }, "login"],
  ["somebody else is in", { status: 401, told: { is_held: true } }, "held"],
  ["silence", { status: 0, told: null }, "waiting"],
  ["a busy server", { status: 429, told: { why: "later" } }, "waiting"],
  ["a page of the network's own", { status: 200, told: null }, "waiting"],
]) {
  test(`${name}: everything stays`, async () => {
    const box = tablet(rows("a", "b"), undefined, () => answer);
    assert.equal(await sendAll(box), state);
    assert.deepEqual(left(box), ["a waiting", "b waiting"]);
  });
}
