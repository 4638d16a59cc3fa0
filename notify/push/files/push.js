// Lets this browser ask to be told, or no longer. The page says what this is for.
"use strict";

const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));

async function post(path, body) {
  const answer = await fetch(path, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
  if (!answer.ok) throw new Error((await answer.text()).trim());
  return answer.status === 204 ? null : answer.json();
}

async function worker() {
  await navigator.serviceWorker.register("/notices/worker.js");
  const here = await navigator.serviceWorker.getRegistration("/notices/");
  if (here.active) return here;
  const young = here.installing || here.waiting;
  await new Promise((done) => young.addEventListener("statechange", () => young.state === "activated" && done()));
  return here;
}

async function begin(here, box) {
  if ((await Notification.requestPermission()) !== "granted") {
    throw new Error("This browser does not allow messages from here: allow them in its settings for this page.");
  }
  const asked = await here.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(box.dataset.key) });
  try {
    await post("/notices/push", { channel: box.dataset.channel, ...asked.toJSON() });
  } catch (e) {
    await asked.unsubscribe();
    throw e;
  }
}

async function end(asked) {
  await post("/notices/push/end", { endpoint: asked.endpoint });
  await asked.unsubscribe();
}

async function show(box, here) {
  const asked = await here.pushManager.getSubscription();
  const told = asked && (await post("/notices/push/whose", { endpoint: asked.endpoint })).channel === box.dataset.channel;
  box.querySelector("[role=status]").textContent = told ? "This browser is told." : "This browser is not told.";
  const button = box.querySelector("button");
  button.textContent = told ? "No longer tell this browser" : "Tell this browser";
  button.hidden = false;
  button.onclick = async () => {
    button.disabled = true;
    let trouble = "";
    try {
      await (told ? end(asked) : begin(here, box));
    } catch (e) {
      trouble = e.message;
    }
    button.disabled = false;
    await Promise.all(boxes.map((b) => show(b, here)));
    if (trouble) box.querySelector("[role=status]").textContent = trouble;
  };
}

const boxes = [...document.querySelectorAll("[data-channel]")];

async function start() {
  if (!window.isSecureContext) throw new Error("A browser can be told only over https, or on the machine that runs Weighbeam.");
  if (!("serviceWorker" in navigator) || !("PushManager" in window)) throw new Error("This browser cannot be told.");
  const here = await worker();
  await Promise.all(boxes.map((b) => show(b, here)));
}

if (boxes.length > 0) {
  start().catch((e) => boxes.forEach((b) => (b.querySelector("[role=status]").textContent = e.message)));
}
