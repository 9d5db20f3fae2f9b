/* The measuring day's page: who rests is said as soon as this tablet hears of it; it is drawn anew by the studio. */
import { fill, given, on } from "./hand.js";
import * as rests from "./rests.js";

const line = document.querySelector("[data-resting-line]"), drawn = given("barre-out"), people = given("day-names");
const said = (out) => JSON.stringify([out.students, out.absent]);

function draw() {
  const names = people.filter(([student]) => rests.of(student, "one_foot")?.isTold).map(([, name]) => name);
  line.hidden = !names.length;
  if (names.length) line.textContent = fill(line.dataset.words, { names: names.join(", ") });
}
if (line && drawn && people) {
  on("barre:heard", ({ told }) => {
    /* The counts beside the measures follow from it. */
    const here = (told?.outs || []).filter((each) => each.class === drawn.class && each.day === drawn.day);
    if (here.some((each) => said(each) !== said(drawn))) window.location.reload();
  });
  on("barre:rests", draw);
  rests.ready.then(draw);
}
