/* It hurts, of a whole class: one page that this tablet keeps stands for each child's own, by whose address it was
   asked. */
import { all, fill, given } from "./hand.js";

const children = given("whose-pain"), about = document.querySelector("[data-of-child]");
const who = document.querySelector("[data-who]"), asked = /hurts\/(\d+)\/$/.exec(window.location.pathname);
const query = new URLSearchParams(window.location.search);

/* The page is made without a name: it stands wherever one is missing. */
function nameIn(root, child) {
  const words = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (words.nextNode()) {
    const node = words.currentNode;
    if (node.data.includes("{name}")) node.data = fill(node.data, { name: child.name });
  }
  for (const each of all("*", root)) {
    for (const one of each.attributes) {
      if (one.value.includes("{name}")) one.value = fill(one.value, { name: child.name });
    }
  }
}
function show(child) {
  nameIn(document.getElementById("main"), child);
  who.hidden = true;
  document.querySelector("[data-no-notes]").hidden = child.hasNotes;
  about.hidden = !child.hasNotes;
  /* What the address says and the page was made without. */
  const form = about.querySelector("form.hurts-form"), count = form?.elements.at_count;
  if (count && !count.value) count.value = query.get("at") || "";
  const stopped = form?.querySelector('[name=stopped][value="exercise"]');
  if (stopped && query.has("run") && !form.querySelector("[name=stopped]:checked")) stopped.checked = true;
}
if (children && about && who) {
  /* Chosen here, the child has an address of its own, which says where the tap came from. */
  for (const link of all(".name-row a", who)) link.search = window.location.search;
  const child = asked && children.find((each) => String(each.id) === asked[1]);
  if (child) show(child);
}
