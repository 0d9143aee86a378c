// Links the route and the curves: point at one place, by pointer, finger or slider, and see it in all of them.
"use strict";
(() => {
  const slider = document.getElementById("along");
  const words = document.getElementById("pointer-words");
  const numbers = (text) => (text || "").split(" ").map((part) => (part === "" || part === "-" ? NaN : Number(part)));
  const WORDS = {
    speed: "speed", air_speed: "air speed", height: "height", grade: "grade", engine_power: "engine power",
    engine_speed: "engine speed", load: "load", fuel_rate: "fuel rate",
  };

  const pictures = [...document.querySelectorAll(".chart-samples")].map((group) => ({
    svg: group.ownerSVGElement,
    x: numbers(group.dataset.x),
    y: group.dataset.y ? numbers(group.dataset.y) : null,
    cursor: group.querySelector(".chart-cursor"),
    panels: [...group.querySelectorAll(".chart-panel")].map((panel) => ({
      name: WORDS[panel.dataset.quantity] || panel.dataset.quantity,
      unit: panel.dataset.unit,
      values: (panel.dataset.values || "").split(" "),
    })),
  })).filter((picture) => picture.cursor && picture.x.length > 1);
  if (!pictures.length || !slider || !words) return;

  const count = Math.min(...pictures.map((picture) => picture.x.length));
  const told = pictures.find((picture) => picture.panels.length);
  const invitation = words.textContent;
  slider.max = String(count - 1);
  slider.hidden = false;

  function show(place) {
    for (const { x, y, cursor } of pictures) {
      if (Number.isNaN(x[place])) { cursor.setAttribute("visibility", "hidden"); continue; }
      if (y) { cursor.setAttribute("cx", x[place]); cursor.setAttribute("cy", y[place]); }
      else { cursor.setAttribute("x1", x[place]); cursor.setAttribute("x2", x[place]); }
      cursor.setAttribute("visibility", "visible");
    }
    slider.value = String(place);
    if (!told) return;
    const said = told.panels
      .filter((panel) => panel.values[place] && panel.values[place] !== "-")
      .map((panel) => `${panel.name} ${Number(panel.values[place])} ${panel.unit}`.trim());
    words.textContent = said.length ? `${said.join(" · ")}` : "Nothing is known of this place.";
    slider.setAttribute("aria-valuetext", words.textContent);
  }

  function nearest(picture, event) {
    const matrix = picture.svg.getScreenCTM();
    if (!matrix) return null;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    let best = null;
    let least = Infinity;
    for (let place = 0; place < count; place += 1) {
      const dx = picture.x[place] - at.x;
      const dy = picture.y ? picture.y[place] - at.y : 0;
      const far = dx * dx + dy * dy;
      if (far < least) { least = far; best = place; }
    }
    return best;
  }

  for (const picture of pictures) {
    const point = (event) => {
      const place = nearest(picture, event);
      if (place !== null) show(place);
    };
    picture.svg.addEventListener("pointermove", point);
    picture.svg.addEventListener("pointerdown", point);
  }
  slider.addEventListener("input", () => show(Number(slider.value)));
  slider.setAttribute("aria-valuetext", invitation);
})();
