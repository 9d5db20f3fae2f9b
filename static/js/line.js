/* Dragging in the line: the row follows the finger, and where it is let go the new order is sent as the form would. */
const form = document.getElementById("line"), list = form?.querySelector(".line");
let dragged = null, before = "";

function rows() { return [...list.children]; }
function order() { return rows().map((row) => row.dataset.enrolment).join(","); }
function number() { rows().forEach((row, at) => { row.querySelector(".line-place").textContent = at + 1; }); }

list?.addEventListener("pointerdown", (event) => {
  const grip = event.target.closest(".line-grip");
  if (!grip) return;
  event.preventDefault();
  dragged = grip.closest("li");
  before = order();
  list.setPointerCapture(event.pointerId);
  dragged.classList.add("is-dragged");
});
list?.addEventListener("pointermove", (event) => {
  if (!dragged) return;
  const after = rows().find((row) => {
    const box = row.getBoundingClientRect();
    return row !== dragged && event.clientY < box.top + box.height / 2;
  }) || null;
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
list?.addEventListener("pointerup", drop);
list?.addEventListener("pointercancel", drop);
