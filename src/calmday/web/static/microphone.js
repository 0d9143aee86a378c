// Hands the sound of the microphone to the page, in blocks, and to nobody else.
"use strict";
class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(2048);
    this.filled = 0;
  }

  process([input]) {
    const sound = input[0];
    if (!sound) return true;
    for (const value of sound) {
      this.block[this.filled] = value;
      this.filled += 1;
      if (this.filled === this.block.length) {
        this.port.postMessage(this.block.slice());
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("calmday-blocks", Blocks);
