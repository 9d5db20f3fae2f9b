/* What a report of pain asks for: the same rows, words and reasons as in progress/rules; a test compares the two. */
const URGENCY = ["watch", "stop", "doctor_today", "head", "emergency"];
export const HEAD = ["head", "neck"];
const GROWING = ["heel", "shin"], ENOUGH = ["limps", "swollen", "numb"], BONE = ["shin", "top", "ball", "outer-edge"];
const OTHERWISE = ["changed", "exercise", "class"];

function meets(list, other) { return !list.length || list.some((one) => other.includes(one)); }
function plain(note) {
  const small = note.normalize("NFC").toLowerCase().replace(/[’ʼ´`‘]/g, "'");
  return ` ${(small.match(/[\p{L}\p{N}]+(?:['-][\p{L}\p{N}]+)*/gu) || []).join(" ")} `;
}

/* `table`: the rows that only raise; `patterns`: the words that name a sign. What was told is {feels, signs, places,
   stopped, since, intensity, note, not_meant}. */
export function painRules(table, patterns) {
  /* Every word of the note that seems to name it. */
  function named(key, note) {
    const finds = new RegExp(` (${patterns[key]})(?= )`, "g"), text = plain(note), found = [];
    for (let one = finds.exec(text); one; one = finds.exec(text)) {
      found.push(one[1]);
      finds.lastIndex = one.index + 1;
    }
    return found;
  }
  function inWords(told) {
    return Object.keys(patterns).filter((key) => named(key, told.note).length && !told.not_meant.includes(key));
  }
  function asks(told) {
    const words = inWords(told), signs = [...told.signs, ...words], feels = [...told.feels, ...words];
    const places = told.places.map((place) => (place.charAt(1) === "-" ? place.slice(2) : place));
    places.push(...words.filter((key) => HEAD.includes(key)));
    return table.reduce((worst, row) => {
      const fits = meets(row.feels, feels) && meets(row.signs, signs) && meets(row.places, places)
        && meets(row.stopped, [told.stopped]) && (told.intensity || 0) >= row.number;
      return fits && URGENCY.indexOf(row.asks) > URGENCY.indexOf(worst) ? row.asks : worst;
    }, "watch");
  }
  function isBone(told) {
    const words = inWords(told);
    if ([...told.signs, ...words].includes("rest")) return true;
    const isThere = [...told.feels, ...words].includes("sharp")
      && told.places.some((place) => BONE.includes(place.slice(2)));
    return isThere && (OTHERWISE.includes(told.stopped) || !["", "today"].includes(told.since));
  }
  /* Why a health professional should see it, as far as one report says it by itself. */
  function referred(told) {
    if (URGENCY.indexOf(asks(told)) > 1) return "";
    if (told.since === "longer") return "lasts";
    if (isBone(told)) return "bone";
    const isOnBoth = (name) => told.places.includes(`L-${name}`) && told.places.includes(`R-${name}`);
    return GROWING.some(isOnBoth) ? "growing" : "";
  }
  /* Whether it says enough to be sent: where or how it hurts. */
  function isWhole(told) {
    return told.signs.length > 0 || told.places.some((place) => HEAD.includes(place))
      || told.feels.some((one) => ENOUGH.includes(one))
      || told.feels.length > 0 && (told.places.length > 0 || !!told.note.trim());
  }
  return { named, asks, referred, isWhole };
}
