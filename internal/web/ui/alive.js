// Tells the desk, while a page is open and looked at, that somebody is there,
// so that it does not close itself for want of requests.
"use strict";
setInterval(() => {
  if (document.visibilityState === "visible") {
    fetch("/alive").catch(() => {}); // the desk was closed: the next click says so
  }
}, 4 * 60 * 1000);
