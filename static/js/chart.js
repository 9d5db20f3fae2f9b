/* The drawing answers a finger: the nearest result is ringed and says its value in the line under it, and the arrow
   keys read one after the other. A button shades the other foot. All of it is in the page: nothing is fetched, and
   without script the drawing stands as it is.

   <div class="chart-box" tabindex="0">…svg… <p class="chart-said" role="status"></p>
     <ol class="chart-values" hidden><li>24 March: 18 rises</li>…</ol></div>
   <button data-shade="R" hidden>Shade the right</button> */
// A fingertip may lie this far, in px, from the result it means.
const NEAR = 44;

const drawn = (box) =>
  [...box.querySelectorAll("svg.chart")].find((svg) => svg.checkVisibility() && svg.querySelector(".chart-point"));
const results = (svg) => [...svg.querySelectorAll(".chart-point circle")];

function read(box, svg, at) {
  for (const circle of box.querySelectorAll(".is-read")) circle.classList.remove("is-read");
  const circle = results(svg)[at];
  const said = box.querySelector(".chart-said");
  if (!circle) return;
  circle.classList.add("is-read");
  box.dataset.at = at;
  said.textContent = box.querySelectorAll(".chart-values li")[at]?.textContent || "";
}

function nearest(svg, x, y) {
  let best = -1;
  let least = NEAR;
  results(svg).forEach((circle, at) => {
    const place = circle.getBoundingClientRect();
    const far = Math.hypot(place.left + place.width / 2 - x, place.top + place.height / 2 - y);
    if (far < least) [best, least] = [at, far];
  });
  return best;
}

function point(event) {
  const svg = event.target.closest?.(".chart-box svg.chart");
  if (!svg) return;
  const at = nearest(svg, event.clientX, event.clientY);
  if (at >= 0) read(svg.closest(".chart-box"), svg, at);
}

// Day by day, whatever foot: so the keys go along the term and not through one foot after the other.
function step(box, by) {
  const svg = drawn(box);
  if (!svg) return;
  const x = (circle) => Number(circle.getAttribute("cx"));
  const found = results(svg);
  const order = found.map((_, at) => at).sort((a, b) => x(found[a]) - x(found[b]));
  const now = order.indexOf(Number(box.dataset.at ?? -1));
  const next = now < 0 ? (by > 0 ? 0 : order.length - 1) : Math.min(order.length - 1, Math.max(0, now + by));
  read(box, svg, order[next]);
  found[order[next]]?.scrollIntoView({ block: "nearest", inline: "center" });
}

function shade(strand, side) {
  for (const part of strand.querySelectorAll("svg [data-band]")) {
    if (part.dataset.band === side) part.removeAttribute("display");
    else part.setAttribute("display", "none");
  }
  for (const note of strand.querySelectorAll(".band-note")) note.hidden = note.dataset.band !== side;
  for (const button of strand.querySelectorAll("[data-shade]")) button.hidden = button.dataset.shade === side;
}

document.addEventListener("pointermove", point);
document.addEventListener("click", (event) => {
  point(event);
  const button = event.target.closest?.("[data-shade]");
  if (!button) return;
  const strand = button.closest(".strand");
  shade(strand, button.dataset.shade);
  strand.querySelector("[data-shade]:not([hidden])")?.focus();
});
document.addEventListener("keydown", (event) => {
  const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!by || !event.target.matches?.(".chart-box")) return;
  event.preventDefault();
  step(event.target, by);
});

// The other foot can be shaded only with script; a wide drawing starts at its as-of end.
function ready() {
  for (const strand of document.querySelectorAll(".strand:not([data-ready])")) {
    strand.dataset.ready = "";
    const shown = strand.querySelector(".band-note:not([hidden])")?.dataset.band;
    if (shown !== undefined) shade(strand, shown);
    for (const wide of strand.querySelectorAll(".chart-scroll")) wide.scrollLeft = wide.scrollWidth;
  }
}
if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", ready);
else ready();
