// Today's run: files dropped on the page, and taps of the passenger that must not wait for a connection.
"use strict";
(() => {
  for (const form of document.querySelectorAll("form[data-drop]")) {
    const input = form.querySelector("input[type=file]");
    const words = form.querySelector(".drop-words");
    const tell = (files) => { words.textContent = files.length ? `Sending ${[...files].map((f) => f.name).join(", ")} …` : ""; };
    form.addEventListener("dragover", (event) => { event.preventDefault(); form.classList.add("over"); });
    form.addEventListener("dragleave", () => form.classList.remove("over"));
    form.addEventListener("drop", (event) => {
      event.preventDefault();
      form.classList.remove("over");
      if (!event.dataTransfer.files.length) return;
      input.files = event.dataTransfer.files;
      tell(input.files);
      form.requestSubmit();
    });
    form.addEventListener("submit", () => tell(input.files));
  }

  const presses = document.querySelector("form.presses[data-into]");
  if (presses) {
    const note = document.getElementById(presses.dataset.into);
    const laps = document.getElementById(presses.dataset.laps);
    const said = document.getElementById("pressed");
    const changed = (box) => box.dispatchEvent(new Event("input", { bubbles: true }));
    presses.addEventListener("submit", (event) => {
      const press = event.submitter;
      if (!press || !note) return;
      event.preventDefault();
      const time = new Date().toLocaleTimeString("en-GB");
      note.value = `${note.value.trimEnd()}\n${time} ${press.value}`.trimStart();
      changed(note);
      if (press.dataset.lap && laps) { laps.value = String((Number.parseInt(laps.value, 10) || 0) + 1); changed(laps); }
      if (said) said.textContent = press.dataset.lap ? `Lap ${laps.value} at ${time}` : `${press.value} at ${time}`;
    });
  }
})();
