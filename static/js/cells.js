/* What stands in each cell of a sheet or of a run, and how it is written; draws nothing. */
import { fill, initials } from "./hand.js";
import { makeLedger } from "./ledger.js";

/* A result as the studio told it, as a row of the ledger. */
export function resultRow(told, me) {
  return {
    key: told.key, origin: told.origin || told.key, corrects: told.corrects || "", at: `${told.student}|${told.side}`,
    isGone: told.reason_missing === "withdrawn", isOver: !!told.superseded, isMine: String(told.by_id) === String(me),
    when: told.tapped, student: String(told.student), side: told.side, attempt: told.attempt, by: told.by,
    value: told.value === null ? null : Number(told.value), isCapped: told.reached_cap, fault: told.fault,
    reason: told.reason_missing,
  };
}
/* The ledger of a measure's results. `places`: its cells; `record`: reads a tap's value as {value, isCapped};
   `missing`: the address under which this measure's reasons are told. */
export function resultLedger({ me, places, record, missing }) {
  function say(tap, standing) {
    const { student, side = "", reason = "", corrects_key: corrects = "", fault = "" } = tap.fields;
    const said = { student: String(student), value: null, isCapped: false, fault, reason };
    const at = `${student}|${side}`;
    if (!reason) return places.includes(at) ? [{ ...said, ...record(tap.fields), at, side, corrects }] : [];
    /* Told at another measure and not sent yet: it is taken back there. */
    const isMine = tap.path === missing;
    const empty = places.filter((each) => each.startsWith(`${student}|`) && !standing.get(each)?.length);
    return empty.map((each) => ({ ...said, at: each, side: each.split("|")[1], isMine, isElsewhere: !isMine }));
  }
  const ledger = makeLedger(say);
  return { ...ledger, learn(told) {
    ledger.learn(told.filter(Boolean).map((row) => resultRow(row, me)).filter((row) => places.includes(row.at)));
  } };
}

/* `sheet`: what the page says of its measure; `me`: the person the page was made for; `places`: its cells. */
export function makeCells(sheet, me, places) {
  const { words } = sheet;

  function number(value) {
    const text = Math.abs(value).toFixed(Number.isInteger(value) ? 0 : sheet.decimals).replace(".", sheet.point);
    return (value < 0 ? "−" : "") + text;
  }
  function written(value, isCapped) {
    if (sheet.kind === "grade") return sheet.grades[Math.min(Math.max(Math.round(value), 0), sheet.grades.length - 1)];
    const text = number(value) + (sheet.unit ? ` ${sheet.unit}` : "");
    return isCapped ? fill(words.atLeast, { value: text }) : text;
  }
  /* A typed number, with point or comma; null where it is none here. */
  function parse(text) {
    const typed = text.trim().replace("−", "-").replace(",", "."), found = /^-?\d{1,5}(?:\.(\d*?)0*)?$/.exec(typed);
    return found && (found[1] || "").length <= sheet.decimals ? parseFloat(typed) : null;
  }
  /* What is wrong with it: {error} refuses, {question} asks back, {} is fine. */
  function judge(text) {
    const value = parse(text);
    if (value === null) return { error: fill(words.notANumber, { text }) };
    const [low, high] = sheet.hard, said = { value: written(value) };
    if (value < low || value > high) return { error: fill(words.cannotBe, said) };
    if (value >= sheet.soft[0] && value <= sheet.soft[1]) return {};
    return { question: sheet.cap !== null && value > sheet.cap ? words.stopsAt : fill(words.sure, said) };
  }
  function record(fields) {
    const value = parse(fields.value), isAtCap = value !== null && sheet.cap !== null && value >= sheet.cap;
    return { value: isAtCap ? sheet.cap : value, isCapped: isAtCap || fields.at_least === "1" };
  }
  function score(counted) {
    if (!counted.length) return null;
    if (sheet.rule === "last") return counted.at(-1);
    if (sheet.rule === "mean") {
      const sum = counted.reduce((total, entry) => total + entry.value, 0), mean = sum / counted.length;
      return { value: Math.round(100 * mean) / 100, isCapped: counted.some((entry) => entry.isCapped) };
    }
    return counted.reduce((best, entry) =>
      (entry.value > best.value || (entry.value === best.value && entry.isCapped) ? entry : best));
  }
  /* What a cell says: {written, attempts, isReason, isDone, isRefused}. */
  function said(entries) {
    const values = entries.filter((entry) => entry.value !== null), made = score(values);
    const reason = entries.find((entry) => entry.reason);
    return {
      written: made ? written(made.value, made.isCapped) : reason ? sheet.reasons[reason.reason] : "",
      isReason: !made && !!reason,
      attempts: sheet.attempts > 1 ? values.map((entry) => number(entry.value)).join(" · ") : "",
      isDone: !!reason || values.length >= sheet.attempts || values.some((entry) => entry.isCapped),
      isRefused: entries.some((entry) => entry.tap?.state === "refused"), by: initials(entries.at(-1)),
    };
  }
  return { ...resultLedger({ me, places, record, missing: sheet.missing }), said, judge, written, parse };
}
