/* What the tablet keeps: rows that wait to be sent, taps that are only noted, and what the studio told last. */
import { openDB } from "./vendor/idb-8.0.4.js";

const WAITING = "barre-outbox", TOLD = "barre-told", NOTE = "barre-tap-";
const bases = {};
/* The rows of a browser that stores nothing (a private window): they live as long as the page does. */
let memory = null;

function make(base, _old, _new, work) {
  if (base.name === WAITING) {
    const rows = base.createObjectStore("rows", { keyPath: "seq", autoIncrement: true });
    rows.createIndex("key", "key", { unique: true });
  } else base.createObjectStore("rows", { keyPath: "key" }).createIndex("at", "at");
  return work.done;
}
function open(name) {
  const lose = () => { delete bases[name]; };
  bases[name] ??= openDB(name, 1, {
    upgrade: make, terminated: lose, blocking(_now, _next, event) { event.target.close(); lose(); },
  }).catch((error) => { lose(); throw error; });
  return bases[name];
}
/* One transaction; gives what `act` found in it, once it is on the disk. */
async function within(name, mode, act) {
  const durability = name === WAITING ? "strict" : "default";
  const work = (await open(name)).transaction("rows", mode, { durability });
  const [found] = await Promise.all([act(work.store), work.done]);
  return found;
}

/* --- rows that wait ------------------------------------------------------------------------------------------- */

export function isUnsafe() { return !!memory; }
export async function allRows() {
  return memory ? memory.slice() : within(WAITING, "readonly", (rows) => rows.getAll());
}
export async function addRow(row) {
  if (memory) {
    row.seq = (memory.at(-1)?.seq || 0) + 1;
    memory.push(row);
    return;
  }
  try { await within(WAITING, "readwrite", (rows) => rows.add(row)); } catch (error) {
    /* The same key again is the same tap: it is kept already. */
    if (error?.name !== "ConstraintError") throw error;
  }
}
export function addInMemory(row) {
  memory ??= [];
  return addRow(row);
}
/* Only what is still there: it may have been thrown away, or sent from another tab, meanwhile. */
export async function saveRow(row) {
  if (memory) return;
  await within(WAITING, "readwrite", async (rows) => { if (await rows.get(row.seq)) await rows.put(row); });
}
export async function removeRows(gone) {
  if (memory) memory = memory.filter((each) => !gone.includes(each));
  else await within(WAITING, "readwrite", (rows) => Promise.all(gone.map((row) => rows.delete(row.seq))));
}

/* --- taps noted in their own breath, so that closing the tab in that instant loses nothing -------------------- */

/* False where this browser notes nothing: full, or forbidden. */
export function note(row) {
  try { localStorage.setItem(NOTE + row.key, JSON.stringify(row)); return true; } catch { return false; }
}
export function unnote(row) {
  try { localStorage.removeItem(NOTE + row.key); } catch { /* forbidden: nothing was noted */ }
}
/* Puts on the disk what a page only noted before it was closed. */
export async function recover() {
  /* The first word is the slow one: not the first tap's. */
  localStorage.setItem("barre-opened", String(Date.now()));
  const names = Object.keys(localStorage).filter((name) => name.startsWith(NOTE));
  const found = names.map((name) => JSON.parse(localStorage.getItem(name)));
  for (const row of found.sort((a, b) => a.kept - b.kept || a.tap - b.tap)) {
    await addRow(row);
    unnote(row);
  }
}

/* --- what the studio told, so that it is seen again without the network --------------------------------------- */

/* `at`: whose and of which sheet. Results only ever grow, so the order in which they come does not matter. */
export function shelve(at, results) {
  const told = results.filter(Boolean);
  const put = (rows) => Promise.all(told.map((result) => rows.put({ key: result.key, at, result })));
  return within(TOLD, "readwrite", put).catch(() => {});
}
/* Told again in the order in which they were stored. */
export function unshelve(at) {
  return within(TOLD, "readonly", (rows) => rows.index("at").getAll(at)).then((found) => found
    .map((each) => each.result).sort((a, b) => (a.tapped < b.tapped ? -1 : a.tapped > b.tapped ? 1 : 0)), () => []);
}
export function forgetOthers(person) {
  return within(TOLD, "readwrite", async (rows) => {
    for await (const cursor of rows) if (!cursor.value.at.startsWith(`${person}/`)) await cursor.delete();
  }).catch(() => {});
}
