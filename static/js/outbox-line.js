/* The line that says whether everything is sent, and the list behind it where a refused entry is resolved. */
import { all, emit, keptAt, on, wordsOf, write } from "./hand.js";
import * as outbox from "./outbox.js";

const line = document.querySelector("[data-outbox-line]"), panel = line?.querySelector("[data-outbox-panel]");
const words = line && wordsOf(line);
/* `asked`: the key of the entry about which the list asks whether to throw it away. Since when nothing was heard of the
   other tablets: a page that was kept, or a network that is gone, says how old it is. */
let last = null, asked = "", heard = keptAt || Date.now(), isSilent = keptAt > 0;
function age() {
  const at = new Date(heard), minutes = String(at.getMinutes()).padStart(2, "0");
  return isSilent ? ` ${words("asOf", { time: `${at.getHours()}:${minutes}` })}` : "";
}
function said(now) { return told(now) + (now.waiting && !keptAt ? "" : age()); }
function told(now) {
  const n = { n: now.waiting };
  if (now.isUnsafe && now.waiting) return words("unsafe");
  const text = now.waiting === 0 ? words("sent")
    : words({ sending: "sending", login: "login", held: "held" }[now.state] || "waiting", n);
  if (!now.refused) return text;
  const refused = words("refused", { n: now.refused });
  return now.waiting ? `${refused} ${words("more", n)}` : refused;
}
function show(now) {
  last = now;
  const mark = now.waiting === 0 && !now.refused ? "full" : now.state === "sending" ? "half" : "open";
  for (const each of all("[data-mark]", line)) each.hidden = each.dataset.mark !== mark;
  write(line.querySelector(".outbox-words"), said(now));
  line.dataset.state = now.state;
  line.dataset.waiting = now.waiting;
  line.dataset.refused = now.refused;
  line.classList.toggle("needs-someone", now.refused > 0 || (now.waiting > 0 && now.state === "login"));
  if (line.open) list();
}

/* --- the list ------------------------------------------------------------------------------------------------- */

function made(name, className, text) {
  const element = document.createElement(name);
  if (className) element.className = className;
  if (text) element.textContent = text;
  return element;
}
function button(text, act, className) {
  const element = made("button", `button ${className || "plain"}`, text);
  element.type = "button";
  element.addEventListener("click", act);
  return element;
}
async function list() {
  const [rows, others] = await Promise.all([outbox.pending(), outbox.others()]);
  const [refused, waiting] = ["refused", "waiting"].map((state) => rows.filter((row) => row.state === state));
  /* A question stays until it is answered, whatever is sent meanwhile. */
  if (refused.some((row) => row.key === asked)) return;
  const items = [], counts = new Map();
  if (waiting.length && last?.state === "login") {
    const login = made("a", "button primary", words("logIn"));
    login.href = `${line.dataset.loginAddress}?next=${encodeURIComponent(window.location.pathname)}`;
    items.push(login);
  } else if (waiting.length && last?.state === "waiting") items.push(made("p", "", words("offline")));
  items.push(...refused.map((row) => refusal(row, rows)));
  items.push(...waiting.map((row) => made("p", "outbox-row", row.words)));
  for (const { name } of others) counts.set(name, (counts.get(name) || 0) + 1);
  for (const [name, n] of counts) items.push(made("p", "outbox-row", words("others", { n, name })));
  panel.replaceChildren(...(items.length ? items : [made("p", "", words("nothing"))]));
}
function why(row) {
  const told = row.told || {};
  if (told.follows) return words("follows");
  return row.why || (row.status === 500 ? words("fails") : row.status === 404 ? words("gone") : words("unclear"));
}
function refusal(row, rows) {
  const told = row.told || {}, item = made("div", "outbox-refused"), ways = made("div", "outbox-ways");
  item.append(made("strong", "", row.words), made("p", "", why(row)));
  const again = (by) => () => outbox.change(row, { state: "waiting", failed: 0, ...by });
  const withField = (name, value) => ({ ...row.fields, [name]: value });
  /* Of somebody who should rest: sent again with the reason, or left out. */
  if (told.asks_rest) {
    for (const [reason, text] of told.reasons) {
      ways.append(button(text, again({ fields: withField("despite", reason) })));
    }
  } else if (told.asks_back) ways.append(button(words("yes"), again({ fields: withField("confirmed", "1") })));
  else if (told.reopen) ways.append(button(words("reopen"), () => { reopen(told.reopen, rows); }));
  else if (row.status === 409) {
    const other = outbox.key();
    ways.append(button(words("attempt"), again({ key: other, fields: withField("key", other) })));
  } else ways.append(button(words("again"), again({})));
  for (const day of told.others || []) {
    ways.append(button(words("other", { day: day.words }), again({ path: day.path })));
  }
  ways.append(button(words(told.asks_rest ? "leaveOut" : "throw"), () => { sure(row, item, ways); }, "stop"));
  item.append(ways);
  return item;
}
/* Everything that was refused for the same closed day goes out again, in its order. */
async function reopen(path, rows) {
  const answer = await outbox.deliver(path, {}, {});
  if (answer.status !== 200 || !answer.told) { outbox.flush(); return; }
  for (const row of rows.filter((each) => each.state === "refused")) {
    if (row.told?.reopen === path || row.told?.follows) outbox.change(row, { state: "waiting", failed: 0 });
  }
}
function sure(row, item, ways) {
  const ask = made("p", "", words("sure", { words: row.words }));
  const yes = button(words("throw"), async () => {
    await outbox.drop(row);
    emit("outbox:dropped", { key: row.key, path: row.path, fields: row.fields });
  }, "stop");
  const no = button(words("keep"), () => { asked = ""; list(); });
  asked = row.key;
  ask.setAttribute("role", "alert");
  ways.replaceChildren(yes, no);
  item.insertBefore(ask, ways);
  no.focus();
}

function redraw(isNowSilent, began) {
  isSilent = isNowSilent;
  heard = began || heard;
  if (last) show(last);
}
if (line) {
  on("outbox:change", show);
  on("barre:heard", ({ began }) => redraw(false, began));
  on("barre:silence", () => redraw(true));
  line.addEventListener("toggle", () => { if (line.open) list(); });
  outbox.tell().catch(() => {});
}
