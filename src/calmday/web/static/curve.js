// Draws the full-load curve again while it is typed; the drawing comes from the logbook, as on paper.
"use strict";
(() => {
  const form = document.querySelector("form.curve-form[data-curve]");
  const place = document.getElementById("curve-drawn");
  if (!form || !place) return;
  let timer = 0;
  form.addEventListener("input", (event) => {
    if (event.target.type === "file") return;
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const points = new URLSearchParams();
      for (const box of form.querySelectorAll("[name]")) if (box.type !== "file") points.set(box.name, box.value);
      points.set("go", "draw");
      try {
        const answer = await fetch(form.dataset.curve, { method: "POST", body: points, headers: { Accept: "application/json" } });
        if (!answer.ok) return;
        const parsed = new DOMParser().parseFromString(await answer.text(), "text/html");
        place.replaceChildren(...parsed.body.childNodes);
      } catch { /* the drawing waits for the connection; what was typed is sent with the button */ }
    }, 400);
  });
})();
