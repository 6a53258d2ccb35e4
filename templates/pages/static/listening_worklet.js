// Gathers what a microphone gives into blocks of half a second, as samples of 16 bits, one of each channel in turn, and
// with the time by the clock: a laptop that slept leaves no other trace.

class Blocks extends AudioWorkletProcessor {
  constructor({ channelCount }) {
    super();
    this.block = new Int16Array(channelCount * Math.round(sampleRate / 2));
    this.filled = 0;
  }

  process([channels]) {
    if (!channels[0]) return true; // the microphone is not there yet, or was taken away
    for (let at = 0; at < channels[0].length; at += 1) {
      for (const sound of channels) {
        this.block[this.filled] = Math.round(Math.max(-1, Math.min(1, sound[at])) * 32767);
        this.filled += 1;
      }
      if (this.filled === this.block.length) {
        this.port.postMessage({ buffer: this.block.slice().buffer, at: Date.now() });
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("blocks", Blocks);
