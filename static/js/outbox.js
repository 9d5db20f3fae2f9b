/* The outbox: what was tapped is written on the tablet first, then sent, in order, each once; it draws nothing. */
import { afterPaint, emit, onReturn } from "./hand.js";
import { sendAll } from "./sending.js";
import * as store from "./store.js";

const SEND_WITHIN_MS = 20000, FIRST_WAIT_MS = 2000, LONGEST_WAIT_MS = 60000, TOGETHER = "/barre/taps/";
/* A browser lets no more than this go on after its page is closed. */
const KEEPALIVE_BYTES = 60000;
const meta = (name) => document.querySelector(`meta[name="${name}"]`);
export const person = { id: meta("barre-person")?.content || "", name: meta("barre-person")?.dataset.name || "" };
let token = meta("barre-token")?.content || "";
let flushing = false, again = false, wait = FIRST_WAIT_MS, timer = 0, state = "sent", taps = 0;
/* Taps that are noted and not on the disk yet. */
const fresh = [];

export function key() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64;
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((byte) => (byte + 256).toString(16).slice(1)).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/* --- what pages ask for --------------------------------------------------------------------------------------- */

/* `show` lets the screen say so: at once where the tap is noted, else as soon as the disk has it. */
export async function keep({ path, fields, words = "", show = () => {} }) {
  taps += 1;
  const row = {
    key: fields.key, person: person.id, name: person.name, path, fields, words, state: "waiting", why: "",
    kept: Date.now(), tap: taps,
  };
  const isNoted = store.note(row), kept = new Promise((resolve) => { fresh.push({ row, resolve }); });
  if (isNoted) { show(); afterPaint(putDown); } else { putDown(); kept.then(show); }
  await kept;
  navigator.storage?.persist?.().catch(() => {});
  wait = FIRST_WAIT_MS;
  await tell(state === "sent" ? "waiting" : state);
  flush();
}
/* Writes to the disk, in their order, the taps that are only noted so far. */
function putDown() {
  fresh.splice(0).forEach(({ row, resolve }) => {
    /* No storage at all (a private window): it lives as long as this page does, and the line says so. */
    resolve(store.addRow(row).then(() => store.unnote(row), () => store.addInMemory(row)));
  });
}
/* What was noted only is put down first: a page must not show a box as empty that was tapped already. */
async function everyone() {
  await recovered;
  putDown();
  return store.allRows();
}
export async function pending() { return (await everyone()).filter((row) => row.person === person.id); }
export async function others() { return (await everyone()).filter((row) => row.person !== person.id); }
export async function change(row, by) {
  await store.saveRow(Object.assign(row, by));
  wait = FIRST_WAIT_MS;
  emit("outbox:changed", { key: row.key, path: row.path });
  await tell();
  flush();
}
/* What the server failed at gets another try whenever a page opens, and is put aside again if it fails again. */
async function revive() {
  const failed = (await pending()).filter((row) => row.state === "refused" && row.status === 500);
  await Promise.all(failed.map((row) => store.saveRow(Object.assign(row, { state: "waiting", failed: 4 }))));
}
/* Throws a row away for good; only a person asks for this. */
export async function drop(row) {
  await store.removeRows([row]);
  await tell();
}
/* The waiting row of this key goes before it is sent; false where it is not there any more. */
export async function dropKey(wanted) {
  const row = (await pending()).find((each) => each.key === wanted);
  if (row) await drop(row);
  return !!row;
}
export async function tell(now) {
  if (now) state = now;
  const rows = await pending(), refused = rows.filter((row) => row.state === "refused").length;
  const waiting = rows.length - refused;
  if (!waiting && state !== "sending") state = "sent";
  emit("outbox:change", { waiting, refused, state, isUnsafe: store.isUnsafe() });
}
/* `at`: the sheet's address, under which this person finds again what was told of it. */
export function remember(at, results) { return store.shelve(person.id + at, results); }
export function recall(at) { return store.unshelve(person.id + at); }

/* --- sending -------------------------------------------------------------------------------------------------- */

/* Gives {status, told}; status 0 where nothing answered, told null where what did is not ours. */
export async function ask(path, options) {
  const headers = { "X-Outbox": "yes", "X-Outbox-Person": person.id, ...options.headers };
  const stop = new AbortController(), clock = setTimeout(() => stop.abort(), SEND_WITHIN_MS);
  const how = { credentials: "same-origin", redirect: "manual", cache: "no-store", signal: stop.signal };
  try {
    const answer = await fetch(path, { ...options, ...how, headers }), text = await answer.text();
    let told = null;
    try { told = JSON.parse(text); } catch { /* a page of the network in between */ }
    return { status: answer.status, told };
  } catch { return { status: 0, told: null }; } finally { clearTimeout(clock); }
}
function post(path, body, headers) {
  const keepalive = String(body).length < KEEPALIVE_BYTES;
  return ask(path, { method: "POST", body, keepalive, headers: { "X-CSRFToken": token, ...headers } });
}
/* A post with a token that is too old is sent once more with a fresh one. */
async function insist(path, body, headers) {
  const answer = await post(path, body, headers);
  if (answer.status !== 403 || !answer.told?.stale_token) return answer;
  const line = document.querySelector("[data-token-address]");
  const given = await ask(line ? line.dataset.tokenAddress : "/barre/token/", { method: "GET" });
  if (given.status !== 200) return given;
  token = given.told?.token || token;
  return post(path, body, headers);
}
export function deliver(path, fields, headers) {
  const pairs = Object.entries(fields).flatMap(([name, value]) => [value].flat().map((one) => [name, one]));
  return insist(path, new URLSearchParams(pairs), headers);
}
function age(row) { return Math.max(0, Math.round((Date.now() - row.kept) / 1000)); }
const box = {
  pending, save: store.saveRow, remove: store.removeRows, sending: () => tell("sending"),
  send(rows) {
    if (rows.length === 1) return deliver(rows[0].path, rows[0].fields, { "X-Outbox-Age": String(age(rows[0])) });
    const body = JSON.stringify({ taps: rows.map((row) => ({ path: row.path, fields: row.fields, age: age(row) })) });
    return insist(TOGETHER, body, { "Content-Type": "application/json" });
  },
  async accept(answers) {
    if (!answers.length) return;
    wait = FIRST_WAIT_MS;
    const bySheet = new Map();
    for (const { row, told } of answers) {
      const at = row.path.replace(/[^/]+\/$/, "");
      bySheet.set(at, [...(bySheet.get(at) || []), ...(told.results || [])]);
    }
    await Promise.all([...bySheet].map(([at, results]) => results.length && remember(at, results)));
    await store.removeRows(answers.map(({ row }) => row));
  },
  answered(row, { status, told }) {
    emit("outbox:answered", { key: row.key, path: row.path, fields: row.fields, status, answer: told });
  },
};
export async function flush() {
  if (flushing) { again = true; return; }
  flushing = true;
  again = false;
  clearTimeout(timer);
  /* One tab of this browser sends at a time; without locks the key, unique on the server, guards two tabs. */
  const sent = navigator.locks ? navigator.locks.request("barre-outbox", () => sendAll(box)) : sendAll(box);
  await tell(await sent.catch(() => "waiting")).catch(() => {});
  flushing = false;
  if (again) { flush(); return; }
  if (state === "sent") return;
  timer = setTimeout(flush, wait * (0.75 + Math.random() / 2));
  wait = Math.min(wait * 2, LONGEST_WAIT_MS);
}
function flushNow() {
  wait = FIRST_WAIT_MS;
  flush();
}
/* Sends now what waits for its next turn; for whoever heard the server answer. */
export function wake() { if (state === "waiting") flushNow(); }

/* --- forms that are taken as they are ------------------------------------------------------------------------- */

function renewKeys() {
  document.querySelectorAll("form[data-outbox]").forEach((form) => {
    if (form.elements.key) form.elements.key.value = key();
    delete form.dataset.kept;
  });
}
function takeForm(event) {
  const form = event.target;
  if (!form.matches("form[data-outbox]") || event.defaultPrevented) return;
  event.preventDefault();
  if (form.dataset.kept) return;
  form.dataset.kept = "yes";
  const fields = {};
  for (const [name, value] of new FormData(form, event.submitter)) {
    /* Several chosen values of one name travel as one list. */
    if (name !== "csrfmiddlewaretoken") fields[name] = name in fields ? [fields[name], value].flat() : value;
  }
  fields.key ||= key();
  keep({
    path: form.getAttribute("action") || location.pathname + location.search, fields, words: form.dataset.words,
    show() { emit("outbox:kept", { form, key: fields.key }); },
  });
}

const recovered = store.recover().catch(() => {});
if (person.id) {
  document.addEventListener("submit", takeForm);
  renewKeys();
  store.forgetOthers(person.id);
  recovered.then(revive).then(flush, flush);
  onReturn(() => { renewKeys(); flush(); });
  window.addEventListener("pagehide", putDown);
  for (const name of ["online", "focus"]) window.addEventListener(name, flushNow);
  for (const name of ["visibilitychange", "lock:opened"]) {
    document.addEventListener(name, () => { if (!document.hidden) flushNow(); });
  }
}
