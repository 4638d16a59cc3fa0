// Puts messages on top of the list as they come. Without it the page shows what
// was heard when it was made.
"use strict";
(function () {
  const list = document.getElementById("heard");
  const place = document.getElementById("live");
  if (!list || !place || !window.EventSource) return;
  const most = Number(list.dataset.most);
  const state = document.createElement("p");
  state.className = "quiet";
  state.setAttribute("role", "status");
  const button = document.createElement("button");
  button.type = "button";
  place.append(state, button);
  let source = null;
  let last = list.dataset.after;

  function say(words, next) {
    state.textContent = words;
    button.textContent = next;
  }

  function follow() {
    const query = new URLSearchParams({ topic: list.dataset.topic, after: last });
    source = new EventSource(list.dataset.events + "?" + query);
    source.onopen = () => say("Live: the newest message is on top.", "Hold still");
    source.onerror = () => say("The program does not answer; trying again.", "Hold still");
    source.addEventListener("heard", (event) => {
      last = event.lastEventId;
      const item = document.createElement("template");
      item.innerHTML = event.data; // escaped by the program
      list.prepend(item.content);
      while (list.children.length > most) list.lastElementChild.remove();
    });
  }

  function hold() {
    source.close();
    source = null;
    say("Held still.", "Go on");
  }

  button.addEventListener("click", () => (source ? hold() : follow()));
  say("Connecting.", "Hold still");
  follow();
})();
