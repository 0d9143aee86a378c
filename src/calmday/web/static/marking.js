// Marks places in a picture: choose a box, tap the picture (or move with the arrow keys and press Enter), and the box
// holds the pixel. Without script the boxes are typed.
"use strict";
(() => {
  const marking = document.querySelector(".marking");
  const view = marking?.querySelector(".marking-view");
  const image = view?.querySelector("img");
  if (!image) return;
  const width = Number(marking.dataset.width);
  const height = Number(marking.dataset.height);
  const cross = marking.querySelector(".cross");
  const told = marking.querySelector(".marking-armed");
  const tools = marking.querySelector(".marking-tools");
  const places = [...document.querySelectorAll("[data-key] input, [data-key] textarea")].filter((box) =>
    /(\.at|\.colour_at|\.guide|\.point)$/.test(box.name));
  const undone = [];
  let armed = null;
  let at = null;
  tools.hidden = false;

  const label = (box) => {
    const group = box.closest("section")?.querySelector("h2")?.textContent || "";
    return `${group}: ${document.querySelector(`label[for="${box.id}"]`)?.textContent || box.name}`;
  };
  function arm(box) {
    armed = box;
    told.hidden = false;
    told.textContent = box ? `Tap the picture for ${label(box)}.` : "Every mark has its place. Fill in the values below, or choose a box to mark it again.";
    for (const each of places) each.classList.toggle("armed", each === box);
  }
  // four marks at least, then the curves; what else is empty may stay so
  function next() {
    const empty = places.filter((box) => box.tagName !== "TEXTAREA" && !box.value.trim());
    const marks = places.filter((box) => box.name.endsWith(".at"));
    const few = marks.filter((box) => box.value.trim()).length < Math.min(6, marks.length);
    return (few && empty.find((box) => box.name.endsWith(".at"))) || empty.find((box) => box.name.endsWith(".colour_at") && Number(box.name.match(/\d+/)[0]) < 2) || null;
  }
  function show(x, y) {
    at = [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];
    const [cx, cy] = [at[0] + 0.5, at[1] + 0.5];
    cross.setAttribute("d", `M 0 ${cy} H ${width} M ${cx} 0 V ${height}`);
  }
  function write(box, text) {
    undone.push([box, box.value]);
    box.value = text;
    box.dispatchEvent(new Event("input", { bubbles: true }));
    box.dispatchEvent(new Event("change", { bubbles: true }));
  }
  const words = () => `${Math.round(at[0] * 10) / 10}, ${Math.round(at[1] * 10) / 10}`;
  function put() {
    if (!armed || !at) return;
    const many = armed.tagName === "TEXTAREA";
    write(armed, many && armed.value.trim() ? `${armed.value.trim()}\n${words()}` : words());
    last = armed;
    // a finger on a small picture is not good to a pixel of the file: say so, unless somebody said more
    const doubt = Math.round(15 * width / image.getBoundingClientRect().width) / 10;
    const said = document.querySelector('[name="mark_pm"]');
    if (said && doubt > 1.5 && !(Number(said.value.replace(",", ".")) >= doubt)) write(said, String(doubt));
    if (!many) arm(next());
  }
  let last = null;

  view.addEventListener("click", (event) => {
    const box = image.getBoundingClientRect();
    show(((event.clientX - box.left) / box.width) * width - 0.5, ((event.clientY - box.top) / box.height) * height - 0.5);
    put();
  });
  view.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 20 : 1;
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    if (ways[event.key]) {
      const [x, y] = at || [width / 2, height / 2];
      show(x + step * ways[event.key][0], y + step * ways[event.key][1]);
      event.preventDefault();
    } else if (event.key === "Enter") { put(); event.preventDefault(); }
  });
  tools.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.nudge && last && at) {
      const [dx, dy] = button.dataset.nudge.split(",").map(Number);
      show(at[0] + dx, at[1] + dy);
      const kept = last.tagName === "TEXTAREA" ? last.value.trim().split("\n").slice(0, -1) : [];
      write(last, [...kept, words()].join("\n"));
    } else if ("undo" in button.dataset && undone.length) {
      const [box, before] = undone.pop();
      write(box, before);
      undone.pop();
      arm(box);
    } else if ("larger" in button.dataset) {
      const large = marking.classList.toggle("marking-large");
      button.textContent = large ? "Smaller" : "Larger";
    }
  });
  for (const box of places) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "small plain";
    button.textContent = "Mark it";
    button.setAttribute("aria-label", `Mark it on the picture: ${label(box)}`);
    button.addEventListener("click", () => {
      arm(box);
      document.getElementById("picture").scrollIntoView({ block: "start" });
      view.focus({ preventScroll: true });
    });
    box.closest(".entry").append(button);
    box.addEventListener("focus", () => arm(box));
  }
  arm(next());
})();
