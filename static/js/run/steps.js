/* The order of a run: groups, and in each the feet and tries; which of them is next. */
export function makeSteps(plan, facts) {
  const groups = facts.children.reduce((most, child) => Math.max(most, child.group), 0);
  const steps = [];
  for (let attempt = 1; attempt <= plan.attempts; attempt += 1) {
    for (const side of plan.sides) steps.push({ side, attempt });
  }
  function inGroup(number) { return facts.children.filter((child) => child.group === number); }
  function wanting(number, one) {
    return inGroup(number).filter((child) => facts.wants(child, one));
  }
  /* The first step of a group that somebody in it still wants; -1 where all are seen. */
  function first(number) {
    return steps.findIndex((one) => wanting(number, one).length > 0);
  }
  /* The next group with anybody to see, from the one after `here` round to `here` itself; 0 where there is none. */
  function nextGroup(here) {
    for (let n = 0; n < groups; n += 1) {
      const number = (here + n) % groups + 1;
      if (first(number) >= 0) return number;
    }
    return 0;
  }
  return { groups, all: steps, inGroup, wanting, first, nextGroup };
}
