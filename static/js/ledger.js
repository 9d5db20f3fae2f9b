/* The ledger of taps as one tablet sees it: what the studio told, with what waits here laid over it. Rows are
   appended and never changed; what stands, and what Undo would take back, follows from `origin`, `corrects` and `of`
   alone.

   A row is {key, origin, corrects, at, isGone, isOver, isMine, when, …what it says}: `at` is the place it stands in
   (a student's foot, an exercise), `origin` the tap whose saying it is, `corrects` the key of the row it replaces
   there, `isOver` that something replaced it that is not told here, `isGone` that it says nothing. A tap is
   {key, fields, …} as the outbox keeps it; one with `fields.of` takes back what that origin said, everywhere it was
   said, or the taking back of that key. */

/* `say(tap, standing)`: the rows that a tap appends. */
export function makeLedger(say) {
  const rows = new Map();
  let taps = [], folded = null;
  const id = (at, key) => `${at} ${key}`;

  function standing() { return (folded ??= fold()); }
  function fold() {
    const nodes = new Map(), over = new Set(), found = new Map();
    for (const [name, row] of rows) nodes.set(name, { ...row, before: null });
    for (const node of nodes.values()) {
      node.before = nodes.get(id(node.at, node.corrects)) || null;
      if (node.before) over.add(node.before);
    }
    const gone = new Map();
    for (const node of nodes.values()) if (!over.has(node) && !node.isOver) put(node.isGone ? gone : found, node);
    const known = new Set([...rows.values()].map((row) => row.key));
    /* What the studio has told already is no longer laid over, even if its own answer was lost. */
    taps.forEach((tap, order) => { if (!known.has(tap.key)) lay(found, gone, tap, order); });
    for (const list of found.values()) list.sort((a, b) => a.attempt - b.attempt);
    return found;
  }
  function put(found, node) {
    if (found.has(node.at)) found.get(node.at).push(node);
    else found.set(node.at, [node]);
  }
  function lay(found, gone, tap, order) {
    if (tap.fields.of) { takeBack(found, gone, tap); return; }
    for (const said of say(tap, found)) {
      const node = { key: tap.key, origin: tap.key, corrects: "", isMine: true, attempt: 1e9 + order, ...said,
        tap, laid: order, before: null };
      const list = found.get(node.at) || [], place = list.findIndex((each) => each.key === node.corrects);
      if (place >= 0) list[place] = Object.assign(node, { before: list[place], attempt: list[place].attempt });
      else if (!node.corrects) put(found, node);
    }
  }
  function takeBack(found, gone, tap) {
    const { key, fields: { of } } = tap;
    for (const node of [...found.values(), ...gone.values()].flat()) {
      if (node.origin !== of && node.key !== of) continue;
      const { before } = node.origin === of ? firstOf(node) : node, { at, attempt } = node;
      const isGone = !before || !!before.isGone, lay = { key, corrects: node.key, before: node, attempt, tap, isGone };
      for (const where of [found, gone]) where.set(at, (where.get(at) || []).filter((each) => each !== node));
      put(isGone ? gone : found, { ...before || { at, origin: key }, ...lay });
    }
  }

  return {
    standing,
    at(place) { return standing().get(place) || []; },
    learn(told) {
      for (const row of told) {
        const name = id(row.at, row.key);
        rows.set(name, { order: rows.size, ...rows.get(name), ...row });
      }
      folded = null;
    },
    isWaiting() { return taps.length > 0; },
    lay(tap) { taps.push(tap); folded = null; },
    lift(key) { taps = taps.filter((tap) => tap.key !== key); folded = null; },
    mark(key, state) { for (const tap of taps) if (tap.key === key) tap.state = state; folded = null; },
    /* What is on the tablet, in its order; then what is only just being written there. */
    relay(kept) {
      const isKept = (tap) => kept.some((each) => each.key === tap.key);
      taps = [...kept, ...taps.filter((tap) => tap.isNew && !isKept(tap))];
      folded = null;
    },
    /* The standing row that Undo takes back: the one whose saying was the latest of this person's. */
    latest() {
      const own = [...standing().values()].flat().filter((node) => firstOf(node).isMine);
      return own.reduce((best, node) => (!best || isLater(firstOf(node), firstOf(best)) ? node : best), null);
    },
  };
}

/* The row with which its origin first said what stands: in a chain, the earliest one of that origin. */
export function firstOf(node) {
  let first = node;
  for (let each = node; each; each = each.before) if (each.origin === node.origin) first = each;
  return first;
}
/* What waits here is later than what was told; what was told goes by its time, then by the order of telling. */
function isLater(one, other) {
  const [a, b] = [one, other].map((node) => [node.laid ?? -1, node.when || "", node.order ?? 0]);
  const at = a.findIndex((each, n) => each !== b[n]);
  return at >= 0 && a[at] > b[at];
}
