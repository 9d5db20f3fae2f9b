/* The measuring day's page: who rests is said as soon as this tablet hears of it; it is drawn anew by the studio. */
(function () {
  "use strict";
  var rests = window.barreRests, line = document.querySelector("[data-resting-line]");
  var place = document.getElementById("barre-out"), names = document.getElementById("day-names");
  if (!rests || !line || !place || !names) return;
  var drawn = JSON.parse(place.textContent), people = JSON.parse(names.textContent);

  function draw() {
    var found = people.filter(function (each) {
      var rest = rests.of(each[0], "one_foot");
      return rest && rest.isTold;
    }).map(function (each) { return each[1]; });
    line.hidden = !found.length;
    if (found.length) line.textContent = line.dataset.words.replace("{names}", found.join(", "));
  }
  function said(out) { return JSON.stringify([out.students, out.absent]); }
  document.addEventListener("barre:heard", function (event) {
    ((event.detail.told || {}).outs || []).forEach(function (each) {
      /* The counts beside the measures follow from it. */
      if (each.class === drawn.class && each.day === drawn.day && said(each) !== said(drawn)) window.location.reload();
    });
  });
  document.addEventListener("barre:rests", draw);
  rests.ready.then(draw);
})();
