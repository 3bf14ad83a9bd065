// Runs on the browser's audio thread: takes the samples as the microphone gives them,
// before any codec, and hands them on as 16-bit numbers. A codec would thin out weak
// tones and level the sound, which hides how they grow.
declare class AudioWorkletProcessor { readonly port: MessagePort; }
declare function registerProcessor(name: string, made: new () => AudioWorkletProcessor): void;

const blockFrames = 4096; // about a twelfth of a second
const fullScale = 32767;

class Samples extends AudioWorkletProcessor {
  private block = new Int16Array(blockFrames);
  private n = 0;
  private peak = 0;
  private ended = false;

  constructor() {
    super();
    this.port.onmessage = () => { this.ended = true; };
  }

  process(inputs: Float32Array[][]): boolean {
    const x = inputs[0]?.[0];
    for (let i = 0; x && i < x.length; i++) {
      const v = x[i]!, size = Math.abs(v);
      if (size > this.peak) this.peak = size;
      this.block[this.n++] = v >= 1 ? fullScale : v <= -1 ? -fullScale : Math.round(v * fullScale);
      if (this.n === blockFrames) this.send(false);
    }
    if (this.ended) this.send(true);
    return !this.ended;
  }

  private send(last: boolean): void {
    const pcm = this.block.slice(0, this.n).buffer;
    this.port.postMessage({ pcm, peak: this.peak, last }, [pcm]);
    this.n = 0;
    this.peak = 0;
  }
}

registerProcessor("samples", Samples);
