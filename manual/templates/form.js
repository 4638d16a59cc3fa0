// Makes the home-check form better: a counting aid, drafts that a reload or a
// call cannot lose, sending later when the house cannot be reached. All of the
// form works without it.
"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  const form = document.getElementById("form");
  const told = document.getElementById("told");
  const say = (text) => { if (told) told.textContent = text; };
  const fill = (text, of) => text.replace(/\{(\w+)\}/g, (_, k) => of[k]);

  // --- what waits on this phone ---------------------------------------------
  const base = () => new Promise((done, failed) => {
    const open = indexedDB.open("weighbeam", 1);
    open.onupgradeneeded = () => open.result.createObjectStore("waiting", { keyPath: "id" });
    open.onsuccess = () => done(open.result);
    open.onerror = () => failed(open.error);
  });
  const waiting = async (mode, f) => {
    const db = await base();
    return new Promise((done, failed) => {
      const t = db.transaction("waiting", mode);
      const asked = f(t.objectStore("waiting"));
      t.oncomplete = () => { db.close(); done(asked.result); };
      t.onerror = () => failed(t.error);
    });
  };
  const reachable = async () => {
    try {
      const r = await fetch("/check/-/reach", { cache: "no-store", signal: AbortSignal.timeout(4000) });
      return r.status === 204;
    } catch { return false; }
  };
  const draftKey = (cat) => "weighbeam-draft-" + cat;

  let sending = false;
  // The page that says to go says of its check when it is stored.
  const known = (id) => document.querySelectorAll(".keeping").forEach((p) => { if (p.dataset.id === id) p.textContent = p.dataset.stored; });
  const sendWaiting = async () => {
    if (sending) return;
    sending = true;
    try {
      const all = await waiting("readonly", (s) => s.getAll());
      if (!all.length || !(await reachable())) return;
      let stored = 0;
      for (const one of all) {
        const body = new FormData();
        for (const [k, v] of one.fields) body.append(k, v);
        const r = await fetch("/check", { method: "POST", body });
        if (r.status >= 500) continue; // later again
        if (r.ok) { stored++; known(one.id); }
        else if (form && form.elements.cat.value === one.cat && untouched()) { // the house would not take it: mend it here
          localStorage.setItem(draftKey(one.cat), JSON.stringify(one.fields.filter(([, v]) => typeof v === "string")));
          restore();
          say(form.dataset.refused);
        } else continue; // only the empty form of that cat can show it
        await waiting("readwrite", (s) => s.delete(one.id));
      }
      if (stored && form) say(form.dataset.sent);
    } catch { /* it waits */ } finally { sending = false; }
  };
  addEventListener("online", sendWaiting);
  setInterval(sendWaiting, 20000);

  // --- a page that says "stored" forgets the draft -----------------------------
  if (told && told.dataset.stored) {
    const key = draftKey(told.dataset.stored);
    const kept = localStorage.getItem(key);
    if (kept && JSON.parse(kept).some(([k, v]) => k === "id" && v === told.dataset.form)) localStorage.removeItem(key);
  }
  if (!form) { sendWaiting(); return; }

  // --- drafts -------------------------------------------------------------------
  const cat = form.elements.cat.value;
  const fields = () => [...new FormData(form)].filter(([, v]) => typeof v === "string");
  const content = () => JSON.stringify(fields().filter(([k]) => k !== "id" && k !== "when"));
  const blank = content();
  const untouched = () => content() === blank;
  const keepDraft = () => {
    if (untouched()) localStorage.removeItem(draftKey(cat));
    else localStorage.setItem(draftKey(cat), JSON.stringify(fields()));
  };
  const restore = () => {
    const kept = localStorage.getItem(draftKey(cat));
    if (!kept) return;
    const by = new Map();
    for (const [k, v] of JSON.parse(kept)) by.set(k, [...(by.get(k) || []), v]);
    for (const e of form.elements) {
      if (!e.name || e.type === "file" || e.type === "submit" || e.type === "button") continue;
      const values = by.get(e.name) || [];
      if (e.type === "checkbox" || e.type === "radio") e.checked = values.includes(e.value);
      else if (values.length) e.value = values[0];
      const typed = e.type === "checkbox" || e.type === "radio" ? e.checked && e.value : e.value !== e.defaultValue && e.tagName !== "SELECT";
      if (typed) for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) if (e.type !== "radio" || !e.defaultChecked) d.open = true;
    }
    say(form.dataset.draft);
  };
  if (!("fixed" in form.dataset)) restore();
  form.addEventListener("input", keepDraft);
  form.addEventListener("change", keepDraft);
  addEventListener("pagehide", keepDraft);

  // --- sending ---------------------------------------------------------------------
  const newID = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const flags = () => [...new Set([...form.querySelectorAll("[name=flag]:checked,[data-flag]:checked")].map((e) => e.dataset.flag || e.closest("label").textContent.trim()))];
  const goNow = (id) => {
    const page = document.getElementById("gonow").content.cloneNode(true);
    const main = document.querySelector("main");
    const before = [...main.childNodes];
    const lead = document.createElement("p");
    lead.className = "lead";
    lead.textContent = flags().join("; ");
    page.querySelector("h1").after(lead);
    page.querySelector(".keeping").dataset.id = id;
    page.querySelector(".back-to-form").addEventListener("click", () => main.replaceChildren(...before));
    main.replaceChildren(page);
    scrollTo(0, 0);
  };
  let leaving = false;
  form.addEventListener("submit", async (e) => {
    if (leaving) return;
    e.preventDefault();
    keepDraft();
    const red = flags().length > 0;
    const all = [...new FormData(form)].filter(([, v]) => typeof v === "string" || v.size);
    const id = form.elements.id.value;
    if (red) { // nothing stands before it, not even asking whether the house is there
      goNow(id);
      await waiting("readwrite", (s) => s.put({ id, cat, fields: all }));
      localStorage.removeItem(draftKey(cat));
      form.elements.id.value = newID();
      sendWaiting();
      return;
    }
    if (await reachable()) {
      leaving = true;
      form.submit();
      setTimeout(() => { leaving = false; }, 5000);
      return;
    }
    await waiting("readwrite", (s) => s.put({ id, cat, fields: all }));
    localStorage.removeItem(draftKey(cat));
    form.reset();
    scrollTo(0, 0);
    form.elements.id.value = newID();
    const n = (await waiting("readonly", (s) => s.getAll())).length;
    say(form.dataset.kept + (n > 1 ? " " + fill(form.dataset.waiting, { n }) : ""));
  });
  sendWaiting();

  // --- a place on the outline chooses it in the list --------------------------------
  const place = form.elements["new-place"];
  const mark = () => form.querySelectorAll(".spot").forEach((s) => s.classList.toggle("chosen", s.dataset.place === place.value));
  const map = form.querySelector(".outline");
  map.addEventListener("click", (e) => { // the nearest place: a thumb is wider than a spot
    let best, least = Infinity;
    for (const s of map.querySelectorAll(".spot")) {
      const b = s.getBoundingClientRect();
      const d = Math.hypot(e.clientX - b.x - b.width / 2, e.clientY - b.y - b.height / 2);
      if (d < least) [best, least] = [s, d];
    }
    place.value = best.dataset.place;
    mark();
    keepDraft();
  });
  place.addEventListener("change", mark);
  mark();

  // --- counting ------------------------------------------------------------------------
  let audio;
  const beep = (aid) => {
    if (aid.querySelector(".buzz").checked && navigator.vibrate) navigator.vibrate(30);
    if (!aid.querySelector(".sound").checked) return;
    audio = audio || new AudioContext();
    const tone = audio.createOscillator();
    tone.connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.05);
  };
  for (const aid of form.querySelectorAll(".aid")) {
    aid.hidden = false;
    const button = aid.querySelector(".tapper"), out = aid.querySelector(".told"), d = aid.dataset;
    let began = 0, seen = 0, count = 0, timer = 0;
    const seconds = () => Number(form.elements[d.window].value || 30);
    const stop = (text) => {
      clearInterval(timer);
      timer = 0;
      button.classList.remove("on");
      button.textContent = d.start;
      out.textContent = text;
    };
    const look = () => {
      const now = Date.now(), left = seconds() - (now - began) / 1000;
      // A phone that slept, or a call, saw no taps: such a count is none.
      if (now - seen > 3000 || now < seen) { stop(d.broken); return; }
      seen = now;
      if (left > 0) { button.dataset.left = fill(d.left, { n: Math.ceil(left), count }); button.textContent = d.tap + " · " + button.dataset.left; return; }
      form.elements[d.field].value = count;
      stop(fill(d.done, { count, n: seconds() }));
      beep(aid);
      keepDraft();
    };
    button.addEventListener("click", () => {
      if (!timer) {
        began = seen = Date.now();
        count = 0;
        out.textContent = "";
        button.classList.add("on");
        timer = setInterval(look, 100);
      } else if (Date.now() - began <= seconds() * 1000) {
        count++;
        beep(aid);
      }
      look();
    });
    aid.querySelector(".again").addEventListener("click", () => stop(""));
    for (const r of form.querySelectorAll(`[name="${d.window}"]`)) r.addEventListener("change", () => { if (timer) stop(d.broken); });
  }
})();
