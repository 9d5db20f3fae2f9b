/* What is known of each child in this measure: the ledger's rows, who rests, who came late; and how taps are kept. */
import { resultLedger } from "../cells.js";
import { fill } from "../hand.js";
import * as outbox from "../outbox.js";
import * as rests from "../rests.js";

export function makeFacts(plan) {
  const { words } = plan, children = plan.children.map((child) => ({
    ...child, away: null, tries: {}, rest: null, isAbsent: false,
  }));
  const place = (child, side) => `${child.id}|${side}`;
  const places = children.flatMap((child) => plan.sides.map((side) => place(child, side)));
  function isCap(value) { return plan.cap !== null && value >= plan.cap; }
  function record({ value, at_least: least }) {
    const given = Number(value);
    return { value: isCap(given) ? plan.cap : given, isCapped: least === "1" || isCap(given) };
  }
  const ledger = resultLedger({ me: plan.person, places, record, missing: plan.paths.missing });

  /* Every child anew from what stands: `tries` by foot, `away` with the reason for which nothing is measured. */
  function refresh() {
    for (const child of children) {
      child.away = null;
      for (const side of plan.sides) {
        const entries = ledger.at(place(child, side));
        child.tries[side] = entries.filter((entry) => entry.value !== null);
        child.away ??= entries.find((entry) => entry.reason) || null;
      }
    }
  }
  function learn(rows) {
    ledger.learn(rows);
    refresh();
  }
  learn(plan.rows);

  function written(value) {
    return value.toFixed(plan.decimals && value % 1 ? plan.decimals : 0).replace(".", plan.decimalSign);
  }
  function wordFor(fault) { return plan.faults.find(([key]) => key === fault)?.[1] || fault; }
  function reasonFor(reason) { return words.reasons[reason] || reason; }
  function said(entry) {
    if (entry.reason) return reasonFor(entry.reason);
    const value = written(entry.value) + words.unit, kept = entry.isCapped ? fill(words.kept_least, { value }) : value;
    return entry.fault ? `${kept}, ${wordFor(entry.fault)}` : kept;
  }
  /* `show` lays it over what is known, as soon as the tablet has noted it. */
  async function send(where, about, told) {
    const fields = { key: outbox.key(), ...about }, path = plan.paths[where];
    const tap = { key: fields.key, path, fields, state: "waiting", isNew: true };
    function show() {
      ledger.lay(tap);
      refresh();
    }
    await outbox.keep({ path, fields, words: told, show });
    tap.isNew = false;
  }
  function put(child, side, { value, fault = "", isLeast = false }, corrects) {
    const given = record({ value, at_least: isLeast ? "1" : "" }), why = child.rest && rests.reason(child.id);
    const fields = { student: String(child.id), side, value: String(given.value), confirmed: "1", fault,
      protocol: String(plan.protocol) };
    if (side) fields.is_first_side = side === plan.sides[0] ? "1" : "0";
    if (given.isCapped) fields.at_least = "1";
    if (corrects) fields.corrects_key = corrects;
    if (why) fields.despite = why;
    const foot = side ? `${child.name}, ${words[`foot_${side}`]}` : child.name;
    return send("record", fields, `${foot}: ${said({ ...given, fault, reason: "" })}`);
  }
  function undo(entry, told) { return send("takeBack", { of: entry.origin }, `${words.undo}: ${told}`); }
  function isOut(child) { return !!child.away || !!child.rests || child.isAbsent; }
  /* The result in one try of one foot, if there is one; a capped one stands for all later tries. */
  function resultOf(child, step) {
    const tries = child.tries[step.side], last = tries.at(-1);
    return tries[step.attempt - 1] || (last?.isCapped ? last : null);
  }
  /* `rest`: what is left out; `rests`: its words until somebody said why the child is measured all the same. */
  function layRests() {
    for (const child of children) {
      child.rest = rests.of(child.id, plan.work);
      child.rests = child.rest && !rests.reason(child.id) ? child.rest.words : "";
      child.isAbsent = !child.returned && rests.isAbsent(child.id);
    }
  }

  return {
    children, learn, written, said, wordFor, reasonFor, isCap, isOut, resultOf, layRests,
    byId(id) { return children.find((child) => String(child.id) === String(id)); },
    /* What waits on this tablet, after a page was opened, or an entry was thrown away or sent again. */
    relay(rows) { ledger.relay(rows); refresh(); },
    drop(key) { ledger.lift(key); refresh(); },
    record(child, side, value, isLeast) { return put(child, side, { value, isLeast }, ""); },
    correct(child, side, now, by) {
      const isLeast = by.value === undefined && now.isCapped;
      return put(child, side, { value: by.value ?? now.value, fault: by.fault ?? now.fault, isLeast }, now.key);
    },
    miss(child, reason) {
      return send("missing", { student: String(child.id), reason }, `${child.name}: ${reasonFor(reason)}`);
    },
    /* For a moment there is a result; `end` makes everything as it was. */
    pretend(child, side) {
      const fields = { student: child.id, side, value: "0" };
      ledger.lay({ key: "", path: plan.paths.record, fields, state: "waiting" });
      refresh();
    },
    end() { this.drop(""); },
    /* Whoever is here after all; rest and pain are answered, not tapped away. */
    mayComeBack(child) {
      return plan.isOpen && !!child.away && !child.rests && !child.away.isElsewhere && child.away.reason !== "pain";
    },
    bringBack(child) { return undo(child.away, `${child.name} ${reasonFor(child.away.reason)}`); },
    /* Here after all, whatever is still told: the studio knows it only with the next news. */
    comeLate(child) {
      child.returned = true;
      layRests();
    },
    /* What Undo would take back, and in which words. */
    lastTap() {
      const entry = ledger.latest(), child = entry && this.byId(entry.student);
      return entry && { child, side: entry.side, entry, words: `${child.name} ${said(entry)}` };
    },
    undo(tap) { return undo(tap.entry, tap.words); },
    /* Who is to go, as on every page: asked, and neither a result nor a reason on some foot. */
    toGo() {
      return children.filter((child) => !isOut(child) && plan.sides.some((side) => !child.tries[side].length)).length;
    },
    wants(child, step) { return !isOut(child) && !resultOf(child, step); },
  };
}
