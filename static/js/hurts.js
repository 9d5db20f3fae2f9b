/* It hurts, without waiting for the network: the report goes into the outbox, and the tablet says the next step. */
import { all, on } from "./hand.js";
import { painRules } from "./pain_rules.js";
import * as outbox from "./outbox.js";

const form = document.querySelector(".hurts-form"), panel = document.querySelector("[data-hurts-answer]");
const query = new URLSearchParams(window.location.search), measure = query.get("measure");
const child = /hurts\/(\d+)\/$/.exec(window.location.pathname);
/* The address of the measure's sheet, where there is one. */
const sheet = child && /^[-\w]+$/.test(measure || "") ? window.location.pathname.replace(child[0], `${measure}/`) : "";
export const rules = painRules(JSON.parse(panel.dataset.table), JSON.parse(panel.dataset.patterns));
let kept = "", stopped = "";

function chosen(name) { return all(`[name=${name}]:checked`, form).map((one) => one.value); }
function told() {
  const [number] = chosen("intensity"), [stop = ""] = chosen("stopped"), [since = ""] = chosen("since");
  return {
    feels: chosen("feels"), signs: chosen("signs"), places: chosen("region"), stopped: stop, since,
    intensity: number === undefined ? null : +number, note: form.elements.note.value, not_meant: chosen("not_meant"),
  };
}

/* --- what the words seem to name is asked back; nothing tapped is ever lowered -------------------------------- */
let settled = {};
function askBack() {
  all("[data-red-word]", form).forEach((line) => {
    const key = line.dataset.redWord, mark = line.querySelector("input");
    const found = rules.named(key, form.elements.note.value);
    const open = found.filter((one) => !(settled[key] || []).includes(one));
    if (open.length || !found.length) mark.checked = false;
    line.hidden = !open.length || isTapped(key);
    if (open.length) line.querySelector("[data-named]").textContent = open[0];
  });
}
function chip(key) { return form.querySelector(`[value=${key}]:not([name=not_meant])`); }
function isTapped(key) { return !!chip(key) && chip(key).checked; }
function settle(line, isMeant) {
  const key = line.dataset.redWord;
  const found = rules.named(key, form.elements.note.value), before = settled[key] || [];
  const shown = found.find((one) => !before.includes(one));
  settled[key] = isMeant ? found : before.concat([shown]);
  if (isMeant && chip(key)) chip(key).checked = true;
  /* Each word is asked by itself: "no fever" says nothing of a chest that hurts. */
  askBack();
  line.querySelector("input").checked = !isMeant && found.every((one) => settled[key].includes(one));
}
all("[data-red-word]", form).forEach((line) => {
  line.querySelector("[data-meant]").addEventListener("click", () => { settle(line, true); });
  line.querySelector("[data-not-meant]").addEventListener("click", () => { settle(line, false); });
});
form.addEventListener("input", askBack);
askBack();

/* --- the answer ----------------------------------------------------------------------------------------------- */
function saidWords() {
  const [number] = chosen("intensity");
  const parts = ["feels", "signs", "region"].flatMap((name) => all(`[name=${name}]:checked`, form).map((one) => {
    const said = one.parentNode.textContent.trim();
    return name === "region" ? said.replace(", ", " ") : said;
  }));
  if (form.elements.note.value) parts.push(`“${form.elements.note.value}”`);
  if (number) parts.push(`${number}/10`);
  const text = parts.join(", ");
  return `${text.charAt(0).toUpperCase() + text.slice(1)}.`;
}
function show() {
  const asked = rules.asks(told()), why = rules.referred(told());
  all("[data-asks]", panel).forEach((one) => {
    one.hidden = one.dataset.asks !== asked || one.dataset.referred !== why;
  });
  for (const one of all("[data-told]", panel)) one.textContent = saidWords();
  panel.querySelector("[data-first-aid]").hidden = asked === "watch" && !why;
  form.hidden = true;
  panel.hidden = false;
  window.scrollTo(0, 0);
  panel.querySelector("[data-asks]:not([hidden]) h2").focus();
}
function back() {
  kept = "";
  form.reset();
  settled = {};
  askBack();
  form.hidden = false;
  panel.hidden = true;
  if (stopped) takeStopBack(stopped);
  stopped = "";
  form.elements.key.value = outbox.key();
  delete form.dataset.kept;
  say(panel.dataset.wordsTakenBack, true);
}

/* A page that was kept for a time without network was kept without what its address asks: where she came from. */
function findWayBack() {
  if (!sheet) return;
  const way = sheet + (query.has("run") ? query.has("one") ? "run/one/" : "run/" : "");
  all("[data-way-back]", document).forEach((link) => { link.setAttribute("href", way); });
}
function knowTheRun() {
  const exercise = form.querySelector("[name=stopped][value=exercise]"), at = query.get("at");
  if (query.has("run") && !chosen("stopped").length) exercise.checked = exercise.defaultChecked = true;
  if (/^\d{1,3}$/.test(at || "") && !form.elements.at_count.value) {
    form.elements.at_count.value = form.elements.at_count.defaultValue = at;
  }
}
findWayBack();
knowTheRun();

/* Whoever was up in a run when it hurt is stopped there, by the report and not before it. */
function keepForRun(path, fields, sentence) {
  outbox.keep({ path: sheet + path, fields, words: sentence });
  return fields.key;
}
/* The stop that the report brought: never sent, or where that is too late taken back. */
async function takeStopBack(key) {
  if (await outbox.dropKey(key)) return;
  const undo = `${panel.querySelector("[data-undo]").textContent.trim()}: ${panel.dataset.wordsStopped}`;
  keepForRun("take-back/", { key: outbox.key(), of: key }, undo);
}
/* Made from the report's, as progress/actions/pain.py does, so that the studio knows which stop a report brought. */
function stopKey() {
  return form.elements.key.value.replace(/.$/, (last) => (parseInt(last, 16) ^ 1).toString(16));
}

const lacking = form.querySelector("[data-lacking]");
function say(sentence, isCalm) {
  lacking.hidden = false;
  lacking.classList.toggle("calm", !!isCalm);
  lacking.querySelector("p").textContent = sentence;
}
form.addEventListener("input", () => {
  if (rules.isWhole(told()) || lacking.classList.contains("calm")) lacking.hidden = true;
});
form.addEventListener("submit", (event) => {
  lacking.hidden = rules.isWhole(told());
  if (lacking.hidden) {
    if (sheet && query.has("up") && !form.dataset.kept) {
      const stop = { key: stopKey(), student: child[1], reason: "pain", report: form.elements.key.value };
      stopped = keepForRun("missing/", stop, panel.dataset.wordsStopped);
    }
    return;
  }
  event.preventDefault();
  say(panel.dataset.wordsLacking, false);
  lacking.focus({ preventScroll: true });
});
on("outbox:kept", (taken) => {
  if (taken.form !== form) return;
  kept = taken.key;
  show();
});
/* The studio's computer knows more: what was reported before. Its page takes over, if this one is still looked at. */
on("outbox:answered", ({ key, status, answer }) => {
  if (key === kept && status === 200 && answer?.report) window.location.replace(answer.report.next_step);
});
/* Whoever has gone back to the class is not fetched away from it. */
panel.addEventListener("click", (event) => { if (event.target.closest("a")) kept = ""; });
for (const button of all("[data-undo]", panel)) {
  /* While it is being sent its own page takes it back. */
  button.addEventListener("click", async () => { if (await outbox.dropKey(kept)) back(); });
}
