// In the audio thread: hands on what the microphone hears, some ten times a second.

const SIZE = 4096;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.kept = new Float32Array(SIZE);
    this.count = 0;
  }

  process([[samples]]) {
    if (!samples) return true;
    for (const sample of samples) {
      this.kept[this.count++] = sample;
      if (this.count === SIZE) {
        this.port.postMessage(this.kept.slice());
        this.count = 0;
      }
    }
    return true;
  }
}

registerProcessor("capture", Capture);
