// Loads the page again once the kind of a measurement was chosen and everything typed is kept: other boxes belong to it.
"use strict";
(() => {
  const words = document.getElementById("keeping");
  const kept = () => Boolean(words) && words.textContent.startsWith("Saved");
  document.addEventListener("calmday:saved", (event) => {
    if (event.detail.key !== "kind") return;
    const again = setInterval(() => {
      if (!kept()) return;
      clearInterval(again);
      location.reload();
    }, 50);
  });
})();
