// Lets a file be dropped anywhere on the page in place of choosing it, and
// sends it at once. Without this script the form works as it stands.
"use strict";
const form = document.querySelector("[data-drop]");
if (form) {
  const input = form.querySelector("input[type=file]");
  const hint = form.querySelector(".drop-hint");
  hint.hidden = false;
  const mark = (on) => form.classList.toggle("over-it", on);
  addEventListener("dragover", (e) => {
    if (e.dataTransfer && e.dataTransfer.types.includes("Files")) {
      e.preventDefault();
      mark(true);
    }
  });
  addEventListener("dragleave", (e) => {
    if (!e.relatedTarget) mark(false);
  });
  addEventListener("drop", (e) => {
    e.preventDefault();
    mark(false);
    if (e.dataTransfer && e.dataTransfer.files.length > 0) {
      input.files = e.dataTransfer.files;
      form.requestSubmit();
    }
  });
}
