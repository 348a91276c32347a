/** In the thread of the sound: every block of samples as it comes, a few at a time. */

const BLOCKS = 16;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.waiting = [];
    this.from = 0;
  }

  process(inputs) {
    const channels = inputs[0];
    if (channels.length === 0) return true;
    if (this.waiting.length === 0) this.from = currentFrame;
    this.waiting.push(channels.map((one) => one.slice()));
    if (this.waiting.length === BLOCKS) this.send();
    return true;
  }

  send() {
    const joined = this.waiting[0].map((first, channel) => {
      const samples = new Float32Array(first.length * this.waiting.length);
      this.waiting.forEach((block, i) => samples.set(block[channel], i * first.length));
      return samples;
    });
    this.waiting = [];
    this.port.postMessage(
      { from: this.from, channels: joined },
      joined.map((samples) => samples.buffer),
    );
  }
}

registerProcessor('wellheard-capture', Capture);
