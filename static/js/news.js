/* News from the other tablets: asks every few seconds what else was recorded on the page that lies open. */
import { emit, keptAt, on, onReturn } from "./hand.js";
import * as outbox from "./outbox.js";

const EVERY_MS = 4000, AFTER_SILENCE_MS = 15000, FIRST_MS = 2000;
let at = "", stamp = "", every = EVERY_MS, timer = 0, asking = false, answered = 0;

async function ask() {
  clearTimeout(timer);
  if (document.hidden || asking || !at) return;
  asking = true;
  const before = answered, began = Date.now(), seen = `seen=${encodeURIComponent(stamp)}`;
  const { status, told } = await outbox.ask(`${at}${at.includes("?") ? "&" : "?"}${seen}`, { method: "GET" });
  asking = false;
  const isNew = status === 200 && !!told?.results, isHeard = isNew || status === 204;
  emit(isHeard ? "barre:heard" : "barre:silence", { began, told: isNew ? told : null });
  if (isNew) {
    stamp = told.stamp;
    /* What was asked before a tap of ours was stored does not know of it. */
    emit("barre:news", Object.assign(told, { isOld: before !== answered }));
  }
  /* The network came back: what waits on the tablet goes out now, not at its next turn. */
  if (isHeard) outbox.wake();
  timer = setTimeout(ask, isHeard ? every : AFTER_SILENCE_MS);
}

/* `address` of the news, and the stamp of what the page already shows; told again from the start after `again`.
   A page that was kept, or that names no stamp, asks at once; what it gives back is there once that is answered, or
   no answer comes. */
export async function listen(address, seen = "", pace = EVERY_MS) {
  [at, stamp, every] = [address, seen, pace];
  on("outbox:answered", () => { answered += 1; });
  on("visibilitychange", ask);
  window.addEventListener("online", ask);
  onReturn(ask);
  if ((keptAt || !seen) && navigator.onLine) {
    await Promise.race([ask(), new Promise((resolve) => { setTimeout(resolve, FIRST_MS); })]);
    return;
  }
  if (keptAt) emit("barre:silence", {});
  timer = setTimeout(ask, every);
}
export function again() { stamp = ""; }
/* Whether an entry of this tablet, kept at another measure of the `day` (its address), holds in all of them:
   whoever is absent is so everywhere, until it is taken back where it was told. */
export function isOfDay(row, day) {
  return row.path.startsWith(day) && (!!row.fields.of || row.fields.reason === "absent");
}
