/* How a child's tile, the count and the row of reasons look; decides nothing. */
import { all, initials, write } from "../hand.js";

export function makeTiles(plan, facts, root) {
  const words = plan.words;
  const tiles = {};
  for (const tile of all(".tile", root)) {
    const [value, word] = [tile.querySelector(".tile-value"), tile.querySelector(".tile-word")];
    tiles[tile.dataset.child] = { tile, value, word, by: tile.querySelector(".tile-by") };
  }

  /* A state's class, its figure and its word. `isUp`: the run counts for her. */
  function looks(child, step, isUp, isRunning) {
    const result = facts.resultOf(child, step);
    if (result) {
      const least = result.isCapped ? words[facts.isCap(result.value) ? "cap" : "least"] : "";
      const word = result.fault ? facts.wordFor(result.fault) : child.rest ? child.rest.words : least;
      return ["down", facts.written(result.value), word];
    }
    if (child.rests) return ["off", "", child.rests];
    if (child.away) return ["off", "", facts.reasonFor(child.away.reason)];
    if (child.isAbsent) return ["off", "", facts.reasonFor("absent")];
    if (isUp) return ["up", "", words.up];
    return ["ready", "", child.rest ? child.rest.words : isRunning ? words.ready : ""];
  }
  function draw(child, step, view) {
    const parts = tiles[child.id];
    const look = looks(child, step, view.isUp(child), view.isRunning);
    const name = ["tile", `is-${look[0]}`, view.selected === child && "is-selected",
      view.picking && `is-picked-${view.picking}`].filter(Boolean).join(" ");
    if (parts.tile.className !== name) parts.tile.className = name;
    parts.tile.setAttribute("aria-expanded", String(view.selected === child));
    write(parts.value, look[1]);
    write(parts.word, look[2]);
    write(parts.by, initials(facts.resultOf(child, step)));
  }

  /* --- the row of reasons, with plus and minus ------------------------------------------------------------ */

  const why = root.querySelector(".why"), chips = all("[data-fault]", why);
  function drawWhy(child, step) {
    why.classList.toggle("is-open", !!child);
    root.classList.toggle("is-asking", !!child);
    why.setAttribute("aria-hidden", String(!child));
    for (const button of all("button", why)) button.disabled = !child;
    if (!child) return;
    const result = facts.resultOf(child, step);
    write(why.querySelector(".why-name"), child.name);
    write(why.querySelector(".why-value"), facts.written(result.value));
    for (const chip of chips) chip.setAttribute("aria-pressed", String(chip.dataset.fault === result.fault));
    point(tiles[child.id].tile);
  }
  /* The pointer stands under the middle of her tile. */
  function point(tile) {
    const middle = tile.getBoundingClientRect().left + tile.offsetWidth / 2 - why.getBoundingClientRect().left;
    why.style.setProperty("--under", `${Math.min(middle, why.offsetWidth - 24)}px`);
  }

  return {
    draw, drawWhy, tileOf(child) { return tiles[child.id].tile; },
  };
}
