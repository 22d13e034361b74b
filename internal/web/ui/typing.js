// Makes a paper sheet quick to type: Enter goes to the next field, a fate goes to
// the next box by itself, 0 or Backspace takes it back, and the counts of a check
// are added up. Without this script every field is there all the same; then Tab
// goes on, and Enter looks the sheet over.
"use strict";
const sheet = document.querySelector("[data-typing]");
if (sheet) {
  const fields = () => [...sheet.querySelectorAll("input:not([type=hidden]),button")].filter((e) => e.getClientRects().length > 0 && e.value !== "look");
  const go = (from, by) => {
    const all = fields();
    const to = all[all.indexOf(from) + by];
    if (to) {
      to.focus();
      if (to.select) to.select();
    }
  };
  const group = (box) => [...box.closest(".boxes").querySelectorAll("input")];
  let moved = false; // Enter has gone to the next field and is still held down
  sheet.addEventListener("keyup", () => { moved = false; });
  sheet.addEventListener("keypress", (e) => {
    if (moved && e.key === "Enter") e.preventDefault(); // or it would press the button it has come to
  });
  sheet.addEventListener("keydown", (e) => {
    const at = e.target;
    if (e.key === "Enter" && e.repeat) {
      e.preventDefault(); // one press, one field: a key held too long keeps nothing
      return;
    }
    if (at.tagName !== "INPUT" || at.type === "checkbox") return;
    const box = at.classList.contains("box");
    if (e.key === "Enter") {
      e.preventDefault();
      moved = true;
      const boxes = box ? group(at) : [];
      if (box && at === boxes[0] && boxes.every((b) => b.value === "")) {
        go(boxes[boxes.length - 1], 1); // nothing was read: past all the boxes
      } else {
        go(at, 1);
      }
    } else if (e.key === "Backspace" && box && at.value === "") {
      e.preventDefault();
      go(at, -1);
    }
  });
  const sum = (check) => {
    const out = check.querySelector(".sum");
    if (!out) return;
    const counts = [...out.parentElement.querySelectorAll("input.f2")].map((e) => e.value.trim());
    if (counts.every((c) => c === "")) {
      out.textContent = "";
      return;
    }
    const n = counts.reduce((all, c) => all + (parseInt(c, 10) || 0), 0);
    out.textContent = out.dataset.text.replace("#", n);
    out.classList.toggle("is-off", n !== Number(check.dataset.baits));
  };
  // Fewer people back than out is said while the figure is typed.
  const heads = (visit) => {
    const says = visit.querySelector(".headsnow");
    const read = (name) => parseInt((visit.querySelector(`input[name^="t:people_${name}"]`) || {}).value, 10);
    const text = read("back") < read("out") ? says.dataset.text : "";
    if (says.textContent !== text) says.textContent = text;
  };
  sheet.addEventListener("input", (e) => {
    const at = e.target;
    if (at.classList.contains("box")) {
      if (/^[1-4]$/.test(at.value)) {
        at.parentElement.classList.remove("is-wrong");
        go(at, 1);
      } else {
        at.value = "";
      }
    }
    const check = at.closest("[data-check]");
    if (check) sum(check);
    const visit = at.closest("[data-heads]");
    if (visit) heads(visit);
  });
  sheet.querySelectorAll("[data-heads]").forEach(heads);
  sheet.querySelectorAll("[data-check]").forEach(sum);
}
