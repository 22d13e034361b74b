// Shows how far work is without loading the page anew, and goes to its result
// when it is done. Without this script the page loads itself again.
"use strict";
for (const box of document.querySelectorAll("[data-job]")) {
  const far = box.querySelector(".far");
  const bar = box.querySelector("progress");
  const look = async () => {
    let state;
    try {
      const answer = await fetch("/jobs/" + encodeURIComponent(box.dataset.job));
      if (!answer.ok) return location.assign(box.dataset.to);
      state = await answer.json();
    } catch {
      return; // the desk was closed
    }
    if (state.ended) return location.assign(state.to);
    if (state.of > 0) {
      bar.max = state.of;
      bar.value = state.done;
      far.textContent = state.text;
    }
    setTimeout(look, 700);
  };
  setTimeout(look, 400);
}
