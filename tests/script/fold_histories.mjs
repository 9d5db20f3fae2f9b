/* Reads histories (tests/ledger_player.py: told) and prints every look at which the tablet's ledger says something else
   than must stand, or than Undo must offer. */
import { readFileSync } from "node:fs";
import { makeLedger } from "../../static/js/ledger.js";

function say({ key, fields }) {
  return fields.places.map((at) => ({ at, value: fields.value, corrects: fields.corrects?.[at] || "", key }));
}
function row(told, person) {
  return { ...told, at: told.place, isMine: told.by_id === person, isGone: told.value === null, attempt: 0,
    when: told.tapped };
}
function look({ rows, values }, { person, heard, taps, stands, undo }) {
  const ledger = makeLedger(say), wrong = [];
  ledger.learn(rows.slice(0, heard).map((told) => row(told, person)));
  for (const { key, what, of, places } of taps) {
    if (what === "take back") { ledger.lay({ key, fields: { of } }); continue; }
    const corrects = what === "put right" && Object.fromEntries(places.map((at) => [at, ledger.at(at).at(-1)?.key]));
    ledger.lay({ key, fields: { places, value: values[key], corrects } });
  }
  for (const [at, words] of Object.entries(stands)) {
    const found = ledger.at(at), said = found.map((node) => `${node.origin} ${node.value}`).join();
    const must = words ? `${words} ${values[words]}` : "";
    if (said !== must) wrong.push(`at ${at}: ${said || "nothing"} instead of ${must || "nothing"}`);
  }
  const offered = ledger.latest()?.origin || "";
  if (offered !== undo) wrong.push(`Undo: ${offered || "nothing"} instead of ${undo || "nothing"}`);
  return wrong;
}
JSON.parse(readFileSync(0, "utf8")).forEach((history, at) => {
  history.looks.forEach((each, step) => {
    for (const wrong of look(history, each)) console.log(`history ${at}, look ${step}: ${wrong}`);
  });
});
