/* It hurts, of a whole class: one page that this tablet keeps stands for each child's own, by whose address it was
   asked. */
(function () {
  "use strict";
  var place = document.getElementById("whose-pain"), about = document.querySelector("[data-of-child]");
  var who = document.querySelector("[data-who]");
  if (!place || !about || !who) return;
  var children = JSON.parse(place.textContent), asked = /hurts\/(\d+)\/$/.exec(window.location.pathname);
  var query = new URLSearchParams(window.location.search);
  var child = asked && children.filter(function (each) { return String(each.id) === asked[1]; })[0];
  /* Chosen here, the child has an address of its own, which says where the tap came from. */
  who.querySelectorAll(".name-row a").forEach(function (link) { link.search = window.location.search; });
  if (!child) return;

  function named(text) { return text.split("{name}").join(child.name); }
  /* The page is made without a name: it stands wherever one is missing. */
  function nameIn(root) {
    var words = document.createTreeWalker(root, NodeFilter.SHOW_TEXT), node;
    while ((node = words.nextNode())) if (node.data.indexOf("{name}") >= 0) node.data = named(node.data);
    root.querySelectorAll("*").forEach(function (each) {
      Array.prototype.forEach.call(each.attributes, function (one) {
        if (one.value.indexOf("{name}") >= 0) one.value = named(one.value);
      });
    });
  }
  nameIn(document.getElementById("main"));
  who.hidden = true;
  document.querySelector("[data-no-notes]").hidden = child.hasNotes;
  about.hidden = !child.hasNotes;
  /* What the address says and the page was made without. */
  var form = about.querySelector("form.hurts-form"), count = form && form.elements.at_count;
  if (count && !count.value) count.value = query.get("at") || "";
  var stopped = form && form.querySelector('[name=stopped][value="exercise"]');
  if (stopped && query.has("run") && !form.querySelector("[name=stopped]:checked")) stopped.checked = true;
})();
