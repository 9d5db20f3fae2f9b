/* Dragging in the line: the row follows the finger, and where it is let go the new order is sent as the form would. */
(function () {
  "use strict";
  var form = document.getElementById("line");
  if (!form) return;
  var list = form.querySelector(".line"), dragged = null, before = "";

  function rows() { return Array.prototype.slice.call(list.children); }
  function order() { return rows().map(function (row) { return row.dataset.enrolment; }).join(","); }
  function number() { rows().forEach(function (row, at) { row.querySelector(".line-place").textContent = at + 1; }); }

  list.addEventListener("pointerdown", function (event) {
    var grip = event.target.closest(".line-grip");
    if (!grip) return;
    event.preventDefault();
    dragged = grip.closest("li");
    before = order();
    list.setPointerCapture(event.pointerId);
    dragged.classList.add("is-dragged");
  });
  list.addEventListener("pointermove", function (event) {
    if (!dragged) return;
    var after = rows().filter(function (row) {
      var box = row.getBoundingClientRect();
      return row !== dragged && event.clientY < box.top + box.height / 2;
    })[0] || null;
    if (after !== dragged.nextElementSibling) list.insertBefore(dragged, after);
    number();
  });
  function drop() {
    if (!dragged) return;
    dragged.classList.remove("is-dragged");
    dragged = null;
    if (order() === before) return;
    form.elements.order.value = order();
    form.submit();
  }
  list.addEventListener("pointerup", drop);
  list.addEventListener("pointercancel", drop);
})();
