// Keeps every field as it is typed. What cannot be sent waits on this device, in order, and goes out by itself when
// the connection is back; nothing is dropped unless the logbook has said that it has it.
"use strict";
(() => {
  const QUEUE = "calmday.waiting";
  const PAUSE_MS = 400;
  const RETRY_MS = 4000;
  const words = document.getElementById("keeping");
  const timers = new Map();
  let sending = false;

  const load = () => { try { return JSON.parse(localStorage.getItem(QUEUE)) || []; } catch { return []; } };
  const store = (queue) => { try { localStorage.setItem(QUEUE, JSON.stringify(queue)); return true; } catch { return false; } };
  const clock = () => new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

  function tell(text, waiting) {
    if (!words || words.textContent === text) return;
    words.textContent = text;
    words.classList.toggle("waiting", Boolean(waiting));
  }

  function tellWaiting(queue) {
    const n = queue.length;
    if (n) tell(`Waiting: no connection. ${n} ${n === 1 ? "entry is" : "entries are"} kept on this device.`, true);
  }

  // The boxes of one field: the value and, where there is one, its unit.
  function boxesOf(field) { return [...field.querySelectorAll("input[name], select[name], textarea[name]")]; }

  function enqueue(form, field) {
    const values = Object.fromEntries(boxesOf(field).map((box) => [box.name, box.value]));
    const key = field.dataset.key;
    const queue = load().filter((item) => !(item.where === form.dataset.save && item.key === key && !item.sent));
    queue.push({ where: form.dataset.save, key, values, at: new Date().toISOString(), id: `${Date.now()}-${Math.random()}` });
    if (!store(queue)) { tell("This browser keeps nothing. Use the button below to save.", true); return; }
    tell("Saving …", true);
    send();
  }

  async function send() {
    if (sending) return;
    sending = true;
    try {
      for (let queue = load(); queue.length; queue = load()) {
        const item = queue[0];
        let answer;
        try {
          answer = await fetch(item.where, {
            method: "POST",
            headers: { Accept: "application/json", "Content-Type": "application/x-www-form-urlencoded" },
            body: new URLSearchParams({ ...item.values, "~typed": item.at }),
            redirect: "error",
          });
        } catch { tellWaiting(queue); return; }
        if (answer.status >= 500 || answer.status === 429) { tellWaiting(queue); return; }
        store(load().filter((other) => other.id !== item.id));
        if (!answer.ok) { tell("That was not taken. Load the page again and look at the field.", true); continue; }
        const said = await answer.json();
        show(item, said);
        if (!load().length && !timers.size) tell(`Saved at ${clock()}.`);
      }
    } finally { sending = false; }
  }

  // What the logbook says about a field, beside that field if it is on this page.
  function show(item, said) {
    const field = document.querySelector(`[data-key="${CSS.escape(item.key)}"]`);
    if (!field || field.closest("form")?.dataset.save !== item.where) return;
    const fault = said.faults?.[item.key] || "";
    const line = field.querySelector(".fault");
    if (line) {
      line.hidden = !fault;
      line.querySelector(".fault-text").textContent = fault;
      field.classList.toggle("field-faulty", Boolean(fault));
      for (const box of boxesOf(field)) {
        if (fault) { box.setAttribute("aria-invalid", "true"); } else { box.removeAttribute("aria-invalid"); }
      }
    }
    document.dispatchEvent(new CustomEvent("calmday:saved", { detail: { key: item.key } }));
  }

  // After a lost connection and a closed browser: put what was typed back into its boxes.
  function restore() {
    for (const item of load()) {
      const field = document.querySelector(`[data-key="${CSS.escape(item.key)}"]`);
      if (!field || field.closest("form")?.dataset.save !== item.where) continue;
      for (const box of boxesOf(field)) if (box.name in item.values) box.value = item.values[box.name];
    }
  }

  document.addEventListener("input", (event) => {
    const field = event.target.closest?.("[data-key]");
    const form = field?.closest("form[data-save]");
    if (!form) return;
    clearTimeout(timers.get(field));
    if (!load().length) tell("Saving …", true); // also while the hand is still on the key: nothing unsent is called saved
    timers.set(field, setTimeout(() => { timers.delete(field); enqueue(form, field); }, PAUSE_MS));
  });
  const flush = () => {
    for (const [field, timer] of timers) { clearTimeout(timer); enqueue(field.closest("form"), field); }
    timers.clear();
  };
  document.addEventListener("change", flush);
  addEventListener("pagehide", flush);
  addEventListener("online", send);
  setInterval(() => { if (load().length) send(); }, RETRY_MS);
  restore();
  if (load().length) { tellWaiting(load()); send(); }
})();
