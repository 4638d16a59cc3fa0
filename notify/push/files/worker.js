// Shows what the house sends while no page is open. It never touches the pages.
"use strict";

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("push", (event) => {
  let m = { id: "unread", title: "Weighbeam has something to tell", body: "Open the pages to read it.", path: "/" };
  try {
    m = { ...m, ...event.data.json() };
  } catch {
    // Shown all the same: a message that cannot be read is still one.
  }
  event.waitUntil(
    self.registration.showNotification(m.title, {
      body: m.body,
      tag: m.id, // the same message again takes the place of the first
      icon: "/icon.svg",
      requireInteraction: m.urgency === "today" || m.urgency === "now",
      data: { path: m.path },
    }),
  );
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const path = event.notification.data.path;
  // Only to a page of this house, whatever a message says.
  event.waitUntil(self.clients.openWindow(path.startsWith("/") && !path.startsWith("//") ? path : "/"));
});

self.addEventListener("pushsubscriptionchange", (event) => {
  const renew = async () => {
    const fresh =
      event.newSubscription || (await self.registration.pushManager.subscribe(event.oldSubscription.options));
    await fetch("/notices/push", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ old: event.oldSubscription ? event.oldSubscription.endpoint : "", ...fresh.toJSON() }),
    });
  };
  event.waitUntil(renew());
});
