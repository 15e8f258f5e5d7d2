"use strict";
// Today by this phone's own calendar, as 2026-12-01: texts of this form sort as days do.
function today() {
  const now = new Date(), two = n => String(n).padStart(2, "0");
  return now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
}
// Of boxes that each hold from a day on, show the last that has begun.
function showToday(boxes) {
  const begun = boxes.filter(box => box.dataset.first <= today());
  const now = begun.length ? begun[begun.length - 1] : boxes[0];
  boxes.forEach(box => { box.hidden = box !== now; });
  return now;
}
// Keep copies for the time without a connection, where the browser can.
function keepCopies(root) {
  if (location.protocol === "https:" || location.hostname === "localhost" || location.hostname === "127.0.0.1") {
    if ("serviceWorker" in navigator) navigator.serviceWorker.register(root + "sw.js");
    fetch(root + "sw.js", {method: "HEAD", cache: "no-store"})
      .catch(() => { document.getElementById("offline").hidden = false; });
  }
}
