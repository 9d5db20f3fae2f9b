/* The line as tiles in their groups: a name is dragged to its place, or tapped and then the place where it should
   stand. The new order is sent as the form would send it. */
// A finger that moves less than this, in px, taps.
const STILL = 8;
const form = document.getElementById("line"), list = form?.querySelector(".line");
let held = null, from = null, chosen = null, before = "", isDragged = false;

function tiles() { return [...list.children]; }
function order() { return tiles().map((tile) => tile.dataset.enrolment).join(","); }
/* Places and groups belong to where a tile stands, not to the tile. */
function number() {
  const lengths = form.dataset.lengths.split(" ").map(Number);
  const starts = lengths.map((_length, at) => lengths.slice(0, at).reduce((sum, each) => sum + each, 0));
  tiles().forEach((tile, at) => {
    tile.querySelector(".line-place").textContent = at + 1;
    const group = starts.indexOf(at) + 1;
    if (group) tile.dataset.group = list.dataset.wordsGroup.replace("{n}", group);
    else delete tile.dataset.group;
  });
}
function move(tile, to) {
  const all = tiles();
  list.insertBefore(tile, all.indexOf(to) > all.indexOf(tile) ? to.nextElementSibling : to);
  number();
}
function send() {
  if (order() === before) return;
  form.elements.order.value = order();
  form.submit();
}
function choose(tile) {
  chosen?.querySelector(".line-tile").setAttribute("aria-pressed", "false");
  chosen = tile;
  tile?.querySelector(".line-tile").setAttribute("aria-pressed", "true");
}

list?.addEventListener("pointerdown", (event) => {
  held = event.target.closest(".line-tile")?.closest("li") || null;
  from = [event.clientX, event.clientY];
  isDragged = false;
  before = order();
});
document.addEventListener("pointermove", (event) => {
  if (!held) return;
  isDragged ||= Math.hypot(event.clientX - from[0], event.clientY - from[1]) > STILL;
  if (!isDragged) return;
  held.classList.add("is-dragged");
  const over = document.elementFromPoint(event.clientX, event.clientY)?.closest("#line li");
  if (over && over !== held) move(held, over);
});
function drop() {
  held?.classList.remove("is-dragged");
  if (held && isDragged) send();
  held = null;
}
document.addEventListener("pointerup", drop);
document.addEventListener("pointercancel", drop);
list?.addEventListener("click", (event) => {
  const tile = event.target.closest(".line-tile")?.closest("li");
  if (!tile || isDragged) return;
  if (!chosen || chosen === tile) { choose(chosen ? null : tile); return; }
  before = order();
  move(chosen, tile);
  send();
});
