/* What every page does beyond its links and forms: says that script is there, moves the focus, reports silence. */
document.documentElement.classList.remove("no-script");
document.documentElement.classList.add("script");

/* What a tablet keeps of the barre is one person's: with her it goes, and it goes when another one is in. */
const person = document.querySelector('meta[name="barre-person"]');
async function forgetOthers() {
  const isAnothers = (name) => name.startsWith("barre-pages-") && (!person || !name.endsWith(`-${person.content}`));
  if (!person) window.indexedDB?.deleteDatabase("barre-told");
  const names = await window.caches?.keys().catch(() => []) || [];
  await Promise.all(names.filter(isAnothers).map((name) => window.caches.delete(name)));
}
forgetOthers();
/* Once more for an answer that was still on its way. */
window.setTimeout(forgetOthers, 4000);

function focusSummary(root) { root.querySelector?.("[data-focus]")?.focus(); }
focusSummary(document);
document.addEventListener("htmx:afterSwap", (event) => { focusSummary(event.detail.elt); });

// What this tablet cannot do over a connection that it has no reason to trust.
if (!window.isSecureContext) {
  for (const line of document.querySelectorAll("[data-untrusted]")) line.hidden = false;
}

function silence() {
  const line = document.getElementById("page-error");
  line.className = "page-error";
  line.textContent = line.dataset.words;
}
document.addEventListener("htmx:sendError", silence);
document.addEventListener("htmx:timeout", silence);
document.addEventListener("htmx:responseError", (event) => {
  /* On a tablet with a lock what was typed stays under it. */
  if (event.detail.xhr.status === 401 && window.lock) { window.lock.close(); return; }
  if (event.detail.xhr.status === 401 || event.detail.xhr.status === 403) { window.location.reload(); return; }
  silence();
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (!event.detail.successful) return;
  const line = document.getElementById("page-error");
  line.className = "unseen";
  line.textContent = "";
});

/* One panel is open at a time; a finger elsewhere, or Escape, shuts it. */
const PANELS = ".picker[open], .outbox-line[open]";
function shutAllBut(isKept) {
  for (const panel of document.querySelectorAll(PANELS)) if (!isKept(panel)) panel.open = false;
}
document.addEventListener("toggle", ({ target }) => {
  if (target.open && target.matches(PANELS)) shutAllBut((panel) => panel === target);
}, true);
document.addEventListener("click", (event) => { shutAllBut((panel) => event.composedPath().includes(panel)); });
document.addEventListener("keydown", (event) => { if (event.key === "Escape") shutAllBut(() => false); });

/* A key for what must never be far from anybody. */
document.addEventListener("keydown", (event) => {
  const isH = event.code === "KeyH" || event.key.toLowerCase() === "h";
  const way = event.altKey && !event.ctrlKey && isH && document.querySelector('[aria-keyshortcuts="Alt+H"]');
  if (!way) return;
  event.preventDefault();
  way.focus();
  way.click();
});

document.addEventListener("change", (event) => {
  if (event.target.matches("[data-submit-on-change]")) event.target.form.requestSubmit();
});
