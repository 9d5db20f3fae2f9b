/* What the pages of the barre do alike: words, elements, frames, and the hand that taps. */
/* The second tap of a double tap meets what the first one did: it is not a wish to change that. */
export const DOUBLE_TAP_MS = 600;
/* A page out of sight draws no frames. */
const LONGEST_FRAME_MS = 100;
/* When a page that was kept was made, in milliseconds; 0 for one that comes fresh from the studio. */
export const keptAt = Number(globalThis.document?.documentElement.dataset.kept || 0);

/* `text` with its {places} filled from `about`. */
export function fill(text, about = {}) {
  return text.replace(/\{(\w+)\}/g, (place, name) => (name in about ? about[name] : place));
}
/* What an element carries as data-words-…, by name and filled. */
export function wordsOf(element) {
  return (name, about) => fill(element.dataset[`words${name.charAt(0).toUpperCase()}${name.slice(1)}`] || "", about);
}
export function all(selector, within = document) { return [...within.querySelectorAll(selector)]; }
/* Writing only what changed keeps a tap within its frame. */
export function write(element, text) { if (element.textContent !== text) element.textContent = text; }
/* What the page was given as JSON, or null. */
export function given(id) {
  const place = document.getElementById(id);
  return place && JSON.parse(place.textContent);
}
/* Whose a result is, where it is another person's; nothing for one's own, or where nobody is named. */
export function initials(entry) {
  return !entry || entry.isMine ? "" : entry.by || "";
}
export function emit(name, detail) { document.dispatchEvent(new CustomEvent(name, { detail })); }
export function on(name, act) { document.addEventListener(name, (event) => act(event.detail, event)); }
/* A page that the browser kept alive was come back to. */
export function onReturn(act) { window.addEventListener("pageshow", (event) => { if (event.persisted) act(); }); }

/* After the frame in which the tap is seen: everything else can wait for the eye. */
export function afterPaint(act) {
  let isDone = false;
  function once() { if (!isDone) { isDone = true; act(); } }
  window.requestAnimationFrame(() => window.setTimeout(once));
  window.setTimeout(once, LONGEST_FRAME_MS);
}
/* A browser reads a function when it is first called and shapes letters when they are first written. Both are done
   before a finger comes, on `element`, which says what it said again before any frame is drawn: `pretend` draws as a
   tap would, `back` as it was. Whoever tapped already is being answered, and what is said to them stays. */
let wasTouched = false;
globalThis.document?.addEventListener("pointerdown", () => { wasTouched = true; }, { capture: true, passive: true });
export function rehearse(element, pretend, back) {
  if (!element || wasTouched) return;
  pretend();
  element.getBoundingClientRect();
  back();
}
