/* How a child's tile, the count and the row of reasons look; decides nothing. */
(function () {
  "use strict";

  window.groupRun.tiles = function (plan, facts, root) {
    var words = plan.words;
    var tiles = {};
    root.querySelectorAll(".tile").forEach(function (tile) {
      tiles[tile.dataset.child] = {
        tile: tile, value: tile.querySelector(".tile-value"), word: tile.querySelector(".tile-word"),
      };
    });
    /* Writing only what changed keeps a tap within its frame. */
    function write(element, text) { if (element.textContent !== text) element.textContent = text; }

    /* A state's class, its figure and its word. `isUp`: the run counts for her. */
    function looks(child, step, isUp, isRunning) {
      var result = facts.resultOf(child, step);
      if (result) {
        var state = facts.top(result);
        var word = state.fault ? facts.wordFor(state.fault) : child.rest ? child.rest.words : state.least
          ? words[facts.isCap(state.value) ? "cap" : "least"] : "";
        return ["down", facts.written(state.value), word];
      }
      if (child.rests) return ["off", "", child.rests];
      if (child.away) return ["off", "", facts.reasonFor(child.away.reason)];
      if (child.isAbsent) return ["off", "", facts.reasonFor("absent")];
      if (isUp) return ["up", "", words.up];
      return ["ready", "", child.rest ? child.rest.words : isRunning ? words.ready : ""];
    }
    function draw(child, step, view) {
      var parts = tiles[child.id];
      var look = looks(child, step, view.isUp(child), view.isRunning);
      var name = "tile is-" + look[0] + (view.selected === child ? " is-selected" : "")
        + (view.picking ? " is-picked-" + view.picking : "");
      if (parts.tile.className !== name) parts.tile.className = name;
      parts.tile.setAttribute("aria-expanded", String(view.selected === child));
      write(parts.value, look[1]);
      write(parts.word, look[2]);
    }

    /* --- the row of reasons, with plus and minus ------------------------------------------------------------ */

    var why = root.querySelector(".why"), chips = why.querySelectorAll("[data-fault]");
    function drawWhy(child, step) {
      why.classList.toggle("is-open", !!child);
      root.classList.toggle("is-asking", !!child);
      why.setAttribute("aria-hidden", String(!child));
      why.querySelectorAll("button").forEach(function (button) { button.disabled = !child; });
      if (!child) return;
      var state = facts.top(facts.resultOf(child, step));
      write(why.querySelector(".why-name"), child.name);
      write(why.querySelector(".why-value"), facts.written(state.value));
      chips.forEach(function (chip) { chip.setAttribute("aria-pressed", String(chip.dataset.fault === state.fault)); });
      point(tiles[child.id].tile);
    }
    /* The pointer stands under the middle of her tile. */
    function point(tile) {
      var middle = tile.getBoundingClientRect().left + tile.offsetWidth / 2 - why.getBoundingClientRect().left;
      why.style.setProperty("--under", middle + "px");
    }

    return {
      draw: draw, drawWhy: drawWhy, write: write, tileOf: function (child) { return tiles[child.id].tile; },
    };
  };
})();
