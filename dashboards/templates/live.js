// Keeps what the scale says up to date. Without it the page shows what it said
// when the page was made.
"use strict";
(function () {
  const place = document.getElementById("says");
  if (!place || !window.EventSource) return;
  const source = new EventSource(place.dataset.events);
  source.onmessage = (event) => (place.textContent = event.data);
})();
