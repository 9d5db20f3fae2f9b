/* Sends what waits, in order and together, and knows what an answer means for its row. Knows no page and no network:
   `box` has pending(), save(row), accept([{row, told}]), remove(rows), send(rows) and answered(row, answer).
   An answer is {status, told}; send gives one for all, with told.answers where several were sent. */

/* A row at which the server fails this often is put aside, so that nobody waits for it. */
export const FAILURES = 5;
/* The most that goes out together. */
export const ROWS = 50, BYTES = 200000;

/* The key of the entry that a row is about. */
export function about(row) { return row.fields.of || row.fields.corrects_key || ""; }

async function refuse(box, row, answer) {
  const told = answer.told || {};
  Object.assign(row, { state: "refused", status: answer.status, told, why: told.why || "" });
  await box.save(row);
  box.answered(row, answer);
}
/* "refused" where the answer is ours and final; else why the row stays. */
function meaning({ status, told }) {
  if (status === 401) return told?.is_held ? "held" : "login";
  if (status === 500) return "failed";
  const isOurs = told && typeof told.why === "string" && !told.stale_token;
  /* Silence, a busy server, or a page that the network put in between: the row stays and goes out later. */
  return isOurs && status >= 400 && status < 500 && status !== 429 ? "refused" : "waiting";
}

/* Only these are taken together. */
function isOfTheBarre(row) { return row.path.startsWith("/barre/"); }
/* The next rows to go, in their order: none that speaks of one that the server failed at just now. */
async function choose(box, held, most) {
  const rows = await box.pending(), chosen = [];
  let bytes = 0;
  for (const row of rows.filter((each) => each.state === "waiting")) {
    const before = rows.find((each) => each.key === about(row));
    bytes += JSON.stringify(row.fields).length + 200;
    if (held.has(row.key) || held.has(about(row))) held.add(row.key);
    /* An entry that was never accepted and is taken back leaves nothing to tell the server. */
    else if (before?.state === "refused" && row.fields.of) await box.remove([before, row]);
    else if (before?.state === "refused") await refuse(box, row, { status: 422, told: { why: "", follows: true } });
    else if (chosen.length < most && (!chosen.length || bytes < BYTES && isOfTheBarre(row) && isOfTheBarre(chosen[0])))
      chosen.push(row);
    else most = 0;
  }
  return chosen;
}

/* What became of rows that were sent: the state in which the sending ends ("" goes on), and how many are done with. */
async function settle(box, rows, answers, held) {
  const accepted = [], left = [];
  rows.forEach((row, at) => {
    const answer = answers[at] || { status: 0, told: null };
    if (answer.status === 200 && answer.told?.key === row.key) accepted.push({ row, answer });
    else left.push({ row, answer, what: meaning(answer) });
  });
  await box.accept(accepted.map(({ row, answer }) => ({ row, told: answer.told })));
  accepted.forEach(({ row, answer }) => box.answered(row, answer));
  let done = accepted.length;
  for (const { row, answer, what } of left) {
    /* What speaks of an entry that was not taken yet is asked again after it. */
    if (what !== "refused" || held.has(about(row))) held.add(row.key);
    else { await refuse(box, row, answer); done += 1; }
  }
  const failed = left.filter((each) => each.what === "failed");
  /* Where nothing got through it is the server that fails, not each of these rows. */
  for (const { row } of done ? failed : failed.slice(0, 1)) {
    row.failed = (row.failed || 0) + 1;
    if (row.failed >= FAILURES) await refuse(box, row, { status: 500, told: {} });
    else await box.save(row);
  }
  return { state: left.find((each) => ["held", "login", "waiting"].includes(each.what))?.what || "", done };
}

/* Gives "sent", "waiting", "login" or "held". */
export async function sendAll(box) {
  const held = new Set();
  let most = ROWS, done = 0;
  for (;;) {
    const rows = await choose(box, held, most);
    if (!rows.length) return held.size ? "waiting" : "sent";
    await box.sending();
    const answer = await box.send(rows);
    if (rows.length > 1 && [413, 500].includes(answer.status)) {
      most = answer.status === 413 ? Math.ceil(rows.length / 2) : 1;
      continue;
    }
    /* What is answered in a batch is answered by the studio, also where it has no words for it. */
    const together = rows.length > 1 && answer.status === 200
      && answer.told?.answers?.map((each) => ({ status: each.status, told: each.told || { why: "" } }));
    const now = await settle(box, rows, together || rows.map(() => answer), held);
    done += now.done;
    if (now.state || (held.size && !done)) return now.state || "waiting";
  }
}
