/* Shows the print button where there is script, and prints on its tap. */
(function () {
  "use strict";
  document.querySelectorAll("[data-print]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () { window.print(); });
  });
})();
