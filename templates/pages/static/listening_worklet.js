// Gathers what a microphone gives into blocks of half a second, as samples of 16 bits, each with the time by the clock:
// a laptop that slept leaves no other trace.

class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Int16Array(Math.round(sampleRate / 2));
    this.filled = 0;
  }

  process([inputs]) {
    const sound = inputs[0];
    if (!sound) return true; // the microphone is not there yet, or was taken away
    for (const sample of sound) {
      this.block[this.filled] = Math.round(Math.max(-1, Math.min(1, sample)) * 32767);
      this.filled += 1;
      if (this.filled === this.block.length) {
        this.port.postMessage({ buffer: this.block.slice().buffer, at: Date.now() });
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("blocks", Blocks);
