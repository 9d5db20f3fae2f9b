/* The lock over a page on an enrolled tablet: hides it when no hand was there for a while, opens it by PIN or
   password. */
(function () {
  "use strict";
  /* The number of rounds that OWASP's Password Storage Cheat Sheet asks of PBKDF2 with SHA-256. */
  const ROUNDS = 600000; const TRIES = 5; const CHECK_MS = 5000; const TELL_MS = 60000; const WAIT_MS = 10000;
  const page = document.currentScript.dataset; const root = document.documentElement;
  const memory = {};
  let title = ""; let focused = null; let told = Date.now();
  let closing = null; let hasEnded = false; let isOpening = false;

  /* What every tab of this tablet knows: the latest visit, the last touch, and who is locked out. */
  function known(name) {
    try { return localStorage.getItem(`lock-${  name}`) || ""; } catch { return memory[name] || ""; }
  }
  function know(name, value) {
    memory[name] = String(value);
    try { localStorage.setItem(`lock-${  name}`, value); } catch { /* This tab knows it at least. */ }
  }
  function dialog() { return document.getElementById("lock"); }
  function isLocked() { return root.classList.contains("locked"); }
  function isIdle() {
    /* A clock that was put back would keep the page open for as long. */
    if (Number(known("active")) > Date.now()) know("active", Date.now());
    return Date.now() - Number(known("active")) > Number(page.idleMinutes) * 60000;
  }
  function touch() {
    if (!isLocked() && Date.now() - Number(known("active")) > 500) know("active", Date.now());
  }
  function begin(visit, person) {
    know("visit", visit);
    know("person", person);
    know("locked", "");
    know("active", Date.now());
  }

  /* --- asking the server ------------------------------------------------------------------------ */

  function renewTokens(token) {
    document.querySelectorAll("[name=csrfmiddlewaretoken]").forEach((field) => { field.value = token; });
    document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRFToken": token }));
  }
  function patience() { return AbortSignal.timeout ? AbortSignal.timeout(WAIT_MS) : undefined; }
  async function fetchToken() {
    const text = await (await fetch(page.login, { signal: patience() })).text();
    const field = new DOMParser().parseFromString(text, "text/html").querySelector("[name=csrfmiddlewaretoken]");
    if (field) renewTokens(field.value);
  }
  /* Gives {status, ...the JSON}; status 0 where no server answered. */
  async function ask(path, fields, isSecondTry) {
    const token = document.querySelector("[name=csrfmiddlewaretoken]").value;
    let answer;
    try {
      answer = await fetch(path, {
        method: "POST", body: new URLSearchParams({ ...fields, csrfmiddlewaretoken: token }), redirect: "manual",
        headers: { Accept: "application/json" }, signal: patience(),
      });
      if (answer.status === 403 && !isJson(answer) && !isSecondTry) {
        await fetchToken();
        return ask(path, fields, true);
      }
      if (answer.type === "opaqueredirect") return { status: 401 };
      if (answer.status >= 500) return { status: 0 };
      return { ...(isJson(answer) ? await answer.json() : {}), status: answer.status };
    } catch {
      return { status: 0 };
    }
  }
  function isJson(answer) { return (answer.headers.get("Content-Type") || "").startsWith("application/json"); }

  /* --- the PIN as this tablet can check it without the network ------------------------------------ */

  /* Asked for at once: it is wanted when there is no network. */
  const store = window.indexedDB ? import("./vendor/idb-8.0.4.js").catch(() => null) : null;
  /* One transaction on the disk; gives what `act` found in it. */
  async function shelf(act) {
    const upgrade = (base) => { base.createObjectStore("pins", { keyPath: "person" }); };
    const base = await (await store).openDB("lock", 1, { upgrade });
    try {
      const work = base.transaction("pins", "readwrite", { durability: "strict" });
      const [found] = await Promise.all([act(work.store), work.done]);
      return found;
    } finally { base.close(); }
  }
  async function bitsOf(pin, salt) {
    const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
    const how = { name: "PBKDF2", hash: "SHA-256", salt, iterations: ROUNDS };
    return new Uint8Array(await crypto.subtle.deriveBits(how, key, 256));
  }
  /* Only over HTTPS do browsers offer this; elsewhere opening needs the network. */
  function mayCheckAlone() { return Boolean(window.crypto && crypto.subtle && window.indexedDB); }

  async function learnPin(person, pin, set) {
    if (!mayCheckAlone()) return;
    const salt = crypto.getRandomValues(new Uint8Array(16)); const bits = await bitsOf(pin, salt);
    /* The tablet opens without the network for whoever was here last, and for nobody else. */
    await shelf(async (pins) => { await pins.clear(); await pins.put({ person, set, salt, bits, wrong: 0 }); });
  }
  /* "right", "wrong", or "unknown" where this tablet cannot tell (any more). The try is counted before it is looked
     at. */
  async function checkPin(person, pin) {
    if (!mayCheckAlone()) return "unknown";
    const row = await shelf(async (pins) => {
      const found = await pins.get(person);
      if (!found) return null;
      found.wrong += 1;
      await (found.wrong < TRIES ? pins.put(found) : pins.delete(person));
      return found;
    });
    if (!row) return "unknown";
    const bits = await bitsOf(pin, row.salt);
    if (bits.some((byte, at) => byte !== row.bits[at])) return row.wrong < TRIES ? "wrong" : "unknown";
    await shelf((pins) => pins.put({ ...row, wrong: 0 }));
    return "right";
  }
  async function forgetPins(isStale) {
    if (!window.indexedDB) return;
    await shelf(async (pins) => {
      for (const row of await pins.getAll()) if (isStale(row)) await pins.delete(row.person);
    }).catch(() => {});
  }

  /* --- locked and opened -------------------------------------------------------------------------- */

  function cover() {
    root.classList.add("locked");
    const over = dialog();
    if (!over || over.open) return;
    focused = document.activeElement;
    if (title === "") title = document.title;
    document.title = over.dataset.wordsTitle;
    for (const part of document.body.children) if (part !== over) part.inert = true;
    say("");
    over.showModal();
    const field = over.querySelector("form:not([hidden]) [data-secret]");
    if (field) field.focus();
  }
  function close() {
    if (!page.person || isLocked()) return;
    know("locked", page.person);
    cover();
    endVisit();
  }
  /* Without the network it is tried again; and the server ends the visit by itself after the owner's minutes. */
  function endVisit() {
    hasEnded = true;
    closing = ask(page.lock, {}).then((answer) => { hasEnded = answer.status !== 0; });
  }
  function uncover() {
    if (!isLocked()) return;
    root.classList.remove("locked");
    document.title = title;
    for (const part of document.body.children) part.inert = false;
    if (dialog().open) dialog().close();
    if (focused && document.contains(focused)) focused.focus();
    document.dispatchEvent(new Event("lock:opened"));
  }
  function say(words) {
    const line = document.querySelector("[data-lock-says]");
    if (line) line.textContent = words;
  }
  function showPassword() {
    const over = dialog();
    if (!over) { window.location.assign(`${page.login  }?by_password=yes`); return; }
    over.querySelector("[data-lock-form=password]").hidden = false;
    const pins = over.querySelector("[data-lock-form=pin]");
    if (pins) pins.hidden = true;
    over.querySelector("[data-other-way]").hidden = true;
    over.querySelector("[data-lock-form=password] [data-secret]").focus();
  }

  async function openWith(form) {
    const fields = Object.fromEntries(new FormData(form)); const secret = form.querySelector("[data-secret]");
    const words = document.querySelector("[data-lock-words]").dataset;
    if (!secret.value || ("pin" in fields && !fields.person)) {
      say(secret.value ? words.wordsWho : words.wordsEmpty);
      return;
    }
    secret.value = "";
    form.inert = true;
    say(words.wordsChecking);
    /* Its answer takes the cookie away, and must not take the new one. */
    isOpening = true;
    await closing;
    const answer = await ask(form.getAttribute("action"), fields);
    isOpening = false;
    form.inert = false;
    secret.focus();
    if (answer.status === 0) { await openAlone(fields, words); return; }
    if (answer.needs_password) await forgetPins(() => true);
    if (answer.status !== 200) {
      say(answer.why || (answer.status === 429 ? words.wordsWait : words.wordsSilent));
      if (answer.needs_password) showPassword();
      return;
    }
    renewTokens(answer.token);
    begin(answer.visit, answer.person);
    const learned = fields.pin ? learnPin(answer.person, fields.pin, answer.pin_set).catch(() => {}) : null;
    if (String(answer.person) === page.person) { uncover(); return; }
    await learned;
    window.location.assign(fields.next || page.today);
  }
  /* Without the network the same person may go on with her PIN; what she taps waits on the tablet. */
  async function openAlone(fields, words) {
    if (!page.person || !fields.pin) { say(page.person ? words.wordsPasswordAlone : words.wordsSilent); return; }
    const found = await checkPin(Number(page.person), fields.pin).catch(() => "unknown");
    if (found !== "right") { say(found === "wrong" ? words.wordsWrong : words.wordsUnknown); return; }
    know("locked", "");
    know("active", Date.now());
    uncover();
  }

  /* --- the pad ------------------------------------------------------------------------------------ */

  function buildPad(pad) {
    const field = pad.closest("form").querySelector("[name=pin]");
    function key(words, label, act) {
      const made = document.createElement("button");
      made.type = "button";
      made.className = "button plain";
      made.textContent = words;
      if (label) made.setAttribute("aria-label", label);
      made.addEventListener("click", act);
      pad.append(made);
    }
    function digit(sign) {
      key(sign, "", () => { if (field.value.length < field.maxLength) field.value += sign; say(""); });
    }
    "123456789".split("").forEach(digit);
    key("✕", pad.dataset.wordsClear, () => { field.value = ""; });
    digit("0");
    key("←", pad.dataset.wordsBack, () => { field.value = field.value.slice(0, -1); });
    pad.hidden = false;
    if (window.matchMedia("(pointer: coarse)").matches) field.inputMode = "none";
  }

  function check() {
    /* A group run: nobody taps while the beat or the clock counts. */
    if (document.querySelector(".is-running")) touch();
    if (!isLocked() && known("locked")) cover();
    if (isLocked() && !hasEnded && !isOpening) endVisit();
    if (!isLocked() && isIdle()) { close(); return; }
    if (isLocked() || Number(known("active")) <= told || Date.now() - told < TELL_MS) return;
    told = Date.now();
    ask(page.stillHere, {}).then((answer) => { if (answer.status === 401) close(); });
  }

  function ready() {
    document.querySelectorAll("[data-pin-pad]").forEach(buildPad);
    if (!page.person) {
      /* At the entrance after a log-out: the tablet forgets what it could check. */
      if (!known("locked")) forgetPins(() => true);
      return;
    }
    forgetPins((row) => row.person === Number(page.person) && row.set < Number(page.pinSet));
    const over = dialog();
    over.addEventListener("cancel", (event) => event.preventDefault());
    over.addEventListener("close", () => { if (isLocked()) over.showModal(); });
    over.querySelector("[data-other-way]").addEventListener("click", showPassword);
    if (isLocked()) { cover(); endVisit(); }
    window.setInterval(check, CHECK_MS);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches("[data-lock-form]")) { event.preventDefault(); openWith(form); }
    if (form.matches("[data-lock-now]")) { event.preventDefault(); close(); }
    if (form.matches("[data-lock-leave]")) {
      event.preventDefault();
      /* A sheet at the barre is gone on with by the next hand; any other page is the last person's. */
      const { pathname } = window.location, isShared = pathname.startsWith("/barre/");
      const login = page.login + (isShared ? `?next=${encodeURIComponent(pathname)}` : "");
      ask(page.lock, {}).then((answer) => {
        if (answer.status === 0) say(dialog().dataset.wordsOthers); else window.location.assign(login);
      });
    }
    if (page.person && form.getAttribute("action") === page.logout) forgetPins(() => true);
  });

  window.lock = { close };
  if (!page.person) { document.addEventListener("DOMContentLoaded", ready); return; }

  /* A visit that this tablet has not met is a fresh log-in; a page kept from an older one tells nothing new. */
  if (Number(page.visit) > Number(known("visit"))) begin(page.visit, page.person);
  if (known("locked") || known("person") !== page.person || isIdle()) {
    know("locked", page.person);
    root.classList.add("locked");
  }
  ["pointerdown", "keydown", "wheel", "touchmove"].forEach((what) => {
    document.addEventListener(what, touch, { capture: true, passive: true });
  });
  document.addEventListener("visibilitychange", check);
  window.addEventListener("pageshow", check);
  window.addEventListener("storage", (event) => {
    if (event.key !== "lock-locked") return;
    if (event.newValue) cover();
    else if (known("person") !== page.person) window.location.reload();
    else if (isLocked()) fetchToken().catch(() => {}).then(uncover);
  });
  document.addEventListener("DOMContentLoaded", ready);
})();
