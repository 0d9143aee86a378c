// Sliders beside the boxes of a question: a moved slider asks the logbook again and puts the new answer in place.
// Without this script the boxes and their button do the same.
"use strict";
(() => {
  const form = document.querySelector("form[data-sliders]");
  if (!form) return;
  const PLACES = ["answer-first", "answer"];
  let asking = false;
  let again = false;

  function question() {
    const parts = new URLSearchParams();
    for (const box of form.querySelectorAll("input[name], select[name]")) {
      if (box.name.endsWith("~unit")) continue;
      if (box.type === "checkbox" ? !box.checked : box.value.trim() === "") continue;
      parts.set(box.name, box.value.trim());
      const unit = form.elements[`${box.name}~unit`];
      if (unit) parts.set(unit.name, unit.value);
    }
    const text = parts.toString();
    return form.getAttribute("action") + (text ? `?${text}` : "");
  }

  // One question at a time; what changed meanwhile is asked right after, and nothing in between.
  async function ask() {
    if (asking) { again = true; return; }
    asking = true;
    const began = performance.now();
    const where = question();
    try {
      const answer = await fetch(where, { headers: { Accept: "text/html" } });
      if (answer.ok) {
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        for (const id of PLACES) {
          const [old, made] = [document.getElementById(id), fresh.getElementById(id)];
          if (old && made) old.replaceChildren(...made.childNodes);
        }
        const ways = [document.querySelector(".ways"), fresh.querySelector(".ways")];
        if (ways[0] && ways[1]) ways[0].replaceWith(ways[1]);
        history.replaceState(null, "", where);
        document.documentElement.dataset.answered = String(Math.round(performance.now() - began));
      }
    } catch { /* the last answer stays; the button asks the plain way */ } finally {
      asking = false;
      if (again) { again = false; ask(); }
    }
  }

  for (const control of form.querySelectorAll("[data-control]")) {
    const box = control.querySelector("input[name]");
    const reach = control.querySelector(".reach");
    reach.hidden = false;
    reach.addEventListener("input", () => { box.value = reach.value; ask(); });
    box.addEventListener("input", () => {
      const value = Number(box.value.replace(",", "."));
      if (box.value.trim() !== "" && Number.isFinite(value)) reach.value = String(value);
    });
  }
  form.addEventListener("change", (event) => { if (event.target.name) ask(); });
})();
