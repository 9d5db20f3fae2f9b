/* The order of a run: groups, and in each the feet and tries; which of them is next. */
(function () {
  "use strict";

  window.groupRun.steps = function (plan, facts) {
    var groups = facts.children.reduce(function (most, child) { return Math.max(most, child.group); }, 0);
    var steps = [];
    for (var attempt = 1; attempt <= plan.attempts; attempt += 1) {
      plan.sides.forEach(function (side) { steps.push({ side: side, attempt: attempt }); });
    }
    function inGroup(number) { return facts.children.filter(function (child) { return child.group === number; }); }
    function wanting(number, one) {
      return inGroup(number).filter(function (child) { return facts.wants(child, one); });
    }
    /* The first step of a group that somebody in it still wants; -1 where all are seen. */
    function first(number) {
      return steps.findIndex(function (one) { return wanting(number, one).length > 0; });
    }
    /* The next group with anybody to see, from the one after `here` round to `here` itself; 0 where there is none. */
    function nextGroup(here) {
      for (var n = 0; n < groups; n += 1) {
        var number = (here + n) % groups + 1;
        if (first(number) >= 0) return number;
      }
      return 0;
    }
    return { groups: groups, all: steps, inGroup: inGroup, wanting: wanting, first: first, nextGroup: nextGroup };
  };
})();
