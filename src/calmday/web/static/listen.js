// The tachometer: listens to the microphone, shows engine speed as a number, a shape and a place, keeps a recording.
"use strict";
(() => {
  const dial = document.getElementById("tachometer");
  if (!dial) return;
  const part = (name) => document.getElementById(`tacho-${name}`);
  const say = { rpm: part("rpm"), shape: part("shape"), word: part("word"), sure: part("sure"), trouble: part("trouble"), recording: part("recording") };
  const bar = part("bar"), needle = part("needle"), listenButton = part("listen"), recordButton = part("record");
  const given = Object.fromEntries(["cylinders", "strokes", "lowest", "highest", "down", "up", "governed"].map((key) => [key, Number(dial.dataset[key])]));
  const LOOK_MS = 200, LONGEST_S = 300;
  let context = null, stream = null, comb = null, thinner = null, newest = null, timer = 0, last = 0;
  let kept = null, keptSamples = 0;

  const STATES = {
    off: ["○", "Not listening"],
    unknown: ["?", "Does not know"],
    down: ["▼", "Change down"],
    good: ["●", "In the band"],
    up: ["▲", "Change up"],
    over: ["■", "Over governed speed"],
  };

  function trouble(words) {
    say.trouble.textContent = words;
    say.trouble.hidden = !words;
  }

  function stateOf(rpm) {
    if (rpm > 1.01 * given.governed) return "over";
    if (given.up && rpm > given.up) return "up";
    return given.down && rpm < given.down ? "down" : "good";
  }

  function show(state, rpm, sure) {
    const [shape, word] = STATES[state];
    if (dial.dataset.state !== state) {
      dial.dataset.state = state;
      say.shape.textContent = shape;
      say.word.textContent = word;
    }
    const known = rpm !== null;
    say.rpm.textContent = known ? String(Math.round(rpm / 10) * 10) : state === "off" ? "–" : "?";
    const place = known ? Math.min(Math.max(1000 * rpm / given.highest, 0), 1000) : 0;
    bar.setAttribute("width", String(place));
    needle.setAttribute("visibility", known ? "visible" : "hidden");
    needle.setAttribute("transform", `translate(${place} 0)`);
    const hundred = Math.round(100 * sure);
    say.sure.textContent = state === "off" ? "\u00a0" : `Confidence ${hundred} %${known ? "" : ": no engine speed stands out"}`;
  }

  function take(block) {
    if (kept) {
      kept.push(block);
      keptSamples += block.length;
      const seconds = Math.floor(keptSamples / context.sampleRate);
      say.recording.textContent = `● Recording, ${seconds} s`;
      if (seconds >= LONGEST_S) stopRecording();
    }
    const thin = thinner.take(block);
    newest.copyWithin(0, thin.length);
    newest.set(thin, newest.length - thin.length);
    last += thin.length;
  }

  function look() {
    if (last < comb.samples) return;
    const answer = comb.hear(newest, LOOK_MS / 1000);
    show(answer.rpm === null ? "unknown" : stateOf(answer.rpm), answer.rpm, answer.sure);
  }

  async function start() {
    trouble("");
    if (!window.isSecureContext || !navigator.mediaDevices || !window.AudioWorkletNode) {
      trouble("The browser lends its microphone only to this computer's own address: open the page as localhost on the laptop itself.");
      return;
    }
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    } catch (error) {
      trouble(error.name === "NotFoundError" ? "There is no microphone." : "The microphone was not allowed. Allow it for this page in the browser, then listen again.");
      return;
    }
    context = new AudioContext();
    await context.audioWorklet.addModule(dial.dataset.worklet);
    thinner = new calmdayComb.Thinner(context.sampleRate);
    comb = new calmdayComb.Comb({ ...given, rate: thinner.rate });
    newest = new Float32Array(comb.samples);
    last = 0;
    const blocks = new AudioWorkletNode(context, "calmday-blocks", { numberOfOutputs: 0 });
    blocks.port.onmessage = (message) => take(message.data);
    context.createMediaStreamSource(stream).connect(blocks);
    timer = setInterval(look, LOOK_MS);
    listenButton.textContent = "Stop listening";
    recordButton.disabled = false;
    show("unknown", null, 0);
  }

  async function stop() {
    if (kept) await stopRecording();
    clearInterval(timer);
    stream.getTracks().forEach((track) => track.stop());
    await context.close();
    context = stream = null;
    listenButton.textContent = "Listen";
    recordButton.disabled = true;
    show("off", null, 0);
  }

  // A plain 16-bit WAV in one channel: every program reads it, ours without anything installed.
  function wav(blocks, samples, rate) {
    const view = new DataView(new ArrayBuffer(44 + 2 * samples));
    const text = (at, words) => [...words].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
    text(0, "RIFF"); view.setUint32(4, 36 + 2 * samples, true); text(8, "WAVEfmt ");
    view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, 1, true);
    view.setUint32(24, rate, true); view.setUint32(28, 2 * rate, true); view.setUint16(32, 2, true); view.setUint16(34, 16, true);
    text(36, "data"); view.setUint32(40, 2 * samples, true);
    let at = 44;
    for (const block of blocks) for (const value of block) {
      view.setInt16(at, Math.round(32767 * Math.min(Math.max(value, -1), 1)), true);
      at += 2;
    }
    return new Blob([view.buffer], { type: "audio/wav" });
  }

  async function stopRecording() {
    const blocks = kept, samples = keptSamples, rate = Math.round(context.sampleRate);
    kept = null;
    recordButton.textContent = "Record";
    if (samples < 2 * rate) { say.recording.textContent = "Too short to keep: two seconds or more."; return; }
    say.recording.textContent = "Keeping …";
    const form = new FormData();
    form.append("file", wav(blocks, samples, rate), "cab.wav");
    form.append("seconds", String(samples / rate));
    form.append("listened_by", part("by").value);
    try {
      const answer = await fetch(dial.dataset.keep, { method: "POST", headers: { Accept: "application/json" }, body: form, redirect: "error" });
      if (!answer.ok) throw new Error(String(answer.status));
      const link = document.createElement("a");
      link.href = (await answer.json()).where;
      link.textContent = "Kept: open the recording";
      link.className = "tap";
      say.recording.replaceChildren(link);
    } catch {
      say.recording.textContent = "It could not be kept: the logbook did not answer. Record again.";
    }
  }

  listenButton.addEventListener("click", () => { if (context) stop(); else start(); });
  recordButton.addEventListener("click", () => {
    if (kept) { stopRecording(); return; }
    kept = [];
    keptSamples = 0;
    recordButton.textContent = "Stop and keep";
  });
})();
