/* Keeps the board honest: counts from the server's instant, says how old the list is, and says when nobody answers. */
"use strict";
(() => {
  const LOST_AFTER = 10;
  const asOf = document.getElementById("as-of");
  const pace = Number(asOf.dataset.pace || 1); // more than 1 in a drill alone
  let server = Date.parse(asOf.dataset.now);
  let heard = performance.now();

  const words = (seconds) => {
    const minutes = Math.floor(Math.abs(seconds) / 60);
    const span = minutes >= 60 ? `${Math.floor(minutes / 60)} h ${minutes % 60} min` : `${minutes} min`;
    return seconds < 0 ? `${span} ago` : minutes === 0 ? "now" : `in ${span}`;
  };

  const tick = () => {
    const since = (performance.now() - heard) / 1000;
    const now = server + since * 1000 * pace;
    for (const one of document.querySelectorAll("[data-due]")) {
      one.textContent = words((Date.parse(one.dataset.due) - now) / 1000);
    }
    document.getElementById("ago").textContent = since < 5 ? "" : `, ${Math.floor(since)} seconds ago`;
    document.getElementById("lost").hidden = since < LOST_AFTER;
  };

  document.body.addEventListener("htmx:configRequest", (event) => {
    event.detail.parameters.have = document.getElementById("board").dataset.digest;
  });
  document.body.addEventListener("htmx:afterRequest", (event) => {
    const at = event.detail.xhr.getResponseHeader("X-Now");
    if (!event.detail.successful || !at) return;
    server = Date.parse(at);
    heard = performance.now();
    const clock = event.detail.xhr.getResponseHeader("X-Clock");
    if (clock) {
      asOf.textContent = clock;
      document.getElementById("lost-since").textContent = clock;
    }
    tick();
  });
  document.body.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.xhr.status === 403) window.location.reload();
  });
  setInterval(tick, 1000);
  tick();
})();
