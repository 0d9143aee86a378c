// Follows long work and goes to its page when it is done.
"use strict";
(() => {
  const place = document.getElementById("job");
  if (!place) return;
  const bar = place.querySelector("progress");
  const words = place.querySelector(".progress-words");
  async function look() {
    try {
      const answer = await fetch(place.dataset.state, { headers: { Accept: "application/json" } });
      const job = await answer.json();
      bar.value = job.fraction;
      if (words.textContent !== job.words) words.textContent = job.words;
      if (job.next) { location.replace(job.next); return; }
    } catch { words.textContent = "No connection just now; the work goes on."; }
    setTimeout(look, 200);
  }
  words.setAttribute("role", "status");
  look();
})();
