// Taking sound: a button that records where the browser lets it, with a level meter
// and a warning when it is too loud, and the turning into WAV of what the program
// does not read by itself. Without this script the file picker alone does the work.

const low = -60; // dB, the foot of the meter
const clipped = 0.98; // of full scale

export class TakeSound extends HTMLElement {
  private input!: HTMLInputElement;
  private said!: HTMLParagraphElement;
  private meter?: HTMLMeterElement;
  private button?: HTMLButtonElement;
  private recorder?: MediaRecorder;

  connectedCallback(): void {
    const input = this.querySelector<HTMLInputElement>('input[type="file"]');
    if (!input) return;
    this.input = input;
    this.said = document.createElement("p");
    this.said.className = "hint";
    this.said.setAttribute("role", "status");
    input.addEventListener("change", () => void this.chosen());
    if (navigator.mediaDevices && "MediaRecorder" in window) this.offer();
    else this.say(window.isSecureContext ? "" : "Recording in the page needs a secure connection; the telephone’s own recorder does as well.");
    this.append(this.said);
  }

  private say(words: string): void { this.said.textContent = words; }

  private offer(): void {
    this.button = document.createElement("button");
    this.button.type = "button";
    this.button.textContent = "Record here";
    const label = this.querySelector("label")?.textContent ?? "";
    this.button.setAttribute("aria-label", "Record here: " + label);
    this.button.addEventListener("click", () => void (this.recorder ? this.recorder.stop() : this.record()));
    this.meter = document.createElement("meter");
    Object.assign(this.meter, { min: low, max: 0, low: -40, high: -6, optimum: -20, value: low, hidden: true });
    this.meter.setAttribute("aria-label", "Level: " + label);
    this.append(this.button, this.meter);
  }

  private async record(): Promise<void> {
    let stream: MediaStream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    } catch {
      this.say("The browser does not let this page use the microphone. Choose a recording instead.");
      return;
    }
    const parts: Blob[] = [];
    const recorder = (this.recorder = new MediaRecorder(stream, { audioBitsPerSecond: 256_000 }));
    const watch = this.watch(stream);
    const end = window.setTimeout(() => recorder.stop(), Number(this.dataset.most ?? "60") * 1000);
    recorder.addEventListener("dataavailable", (e) => parts.push(e.data));
    recorder.addEventListener("stop", () => {
      clearTimeout(end);
      for (const t of stream.getTracks()) t.stop();
      this.recorder = undefined;
      this.button!.textContent = "Record again";
      this.meter!.hidden = true;
      const tooLoud = watch();
      void this.keep(new Blob(parts, { type: recorder.mimeType }), "recorded.wav", tooLoud ? "It was too loud at times: hold the microphone further away and record again. " : "");
    });
    recorder.start();
    this.button!.textContent = "Stop recording";
    this.meter!.hidden = false;
    this.say("Recording…");
  }

  // watch moves the meter and remembers whether the sound was ever clipped.
  private watch(stream: MediaStream): () => boolean {
    const context = new AudioContext();
    const analyser = context.createAnalyser();
    analyser.fftSize = 2048;
    context.createMediaStreamSource(stream).connect(analyser);
    const block = new Float32Array(analyser.fftSize);
    let loud = false, on = true;
    const step = () => {
      if (!on) return;
      analyser.getFloatTimeDomainData(block);
      let most = 0;
      for (const v of block) most = Math.max(most, Math.abs(v));
      if (most >= clipped && !loud) { loud = true; this.say("Too loud: the recording is clipped."); }
      this.meter!.value = Math.max(low, 20 * Math.log10(most + 1e-9));
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
    return () => { on = false; void context.close(); return loud; };
  }

  // chosen turns a chosen file into WAV when the program does not read it by itself.
  private async chosen(): Promise<void> {
    const file = this.input.files?.[0];
    this.say("");
    if (!file || await readable(file)) return;
    await this.keep(file, file.name.replace(/\.[^.]*$/, "") + ".wav", "");
  }

  private async keep(blob: Blob, name: string, warning: string): Promise<void> {
    this.say("Reading the sound…");
    try {
      const context = new AudioContext();
      const sound = await context.decodeAudioData(await blob.arrayBuffer());
      void context.close();
      const files = new DataTransfer();
      files.items.add(new File([wav(sound)], name, { type: "audio/wav" }));
      this.input.files = files.files;
      this.say(`${warning}${sound.duration.toFixed(1)} s of sound, ready to be sent.`);
      this.dispatchEvent(new CustomEvent("taken", { bubbles: true }));
    } catch {
      this.say("This browser cannot read that sound. It is sent as it is.");
    }
  }
}

// readable tells whether the program reads a file by itself.
async function readable(file: File): Promise<boolean> {
  const head = new Uint8Array(await file.slice(0, 64).arrayBuffer());
  const text = String.fromCharCode(...head);
  if (/^(RIFF|RF64|fLaC|ID3)/.test(text) || head[0] === 0xff && (head[1]! & 0xe0) === 0xe0 && (head[1]! & 0x06) !== 0) return true;
  if (text.startsWith("OggS")) return text.includes("OpusHead");
  return /\.(csv|txt|tsv)$/i.test(file.name);
}

// wav writes sound as 16-bit WAV.
export function wav(sound: AudioBuffer): ArrayBuffer {
  const channels = Math.min(sound.numberOfChannels, 2), frames = sound.length;
  const out = new DataView(new ArrayBuffer(44 + 2 * channels * frames));
  const word = (at: number, s: string) => { for (let i = 0; i < 4; i++) out.setUint8(at + i, s.charCodeAt(i)); };
  word(0, "RIFF"); out.setUint32(4, out.byteLength - 8, true); word(8, "WAVE");
  word(12, "fmt "); out.setUint32(16, 16, true); out.setUint16(20, 1, true); out.setUint16(22, channels, true);
  out.setUint32(24, sound.sampleRate, true); out.setUint32(28, sound.sampleRate * 2 * channels, true);
  out.setUint16(32, 2 * channels, true); out.setUint16(34, 16, true);
  word(36, "data"); out.setUint32(40, out.byteLength - 44, true);
  for (let c = 0; c < channels; c++) {
    const data = sound.getChannelData(c);
    for (let i = 0; i < frames; i++) out.setInt16(44 + 2 * (i * channels + c), Math.round(32767 * Math.max(-1, Math.min(1, data[i]!))), true);
  }
  return out.buffer as ArrayBuffer;
}

// busy tells that a form with files is on its way.
export function busy(): void {
  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (!(form instanceof HTMLFormElement) || !form.dataset.busy || e.defaultPrevented) return;
    form.setAttribute("aria-busy", "true");
    const button = form.querySelector<HTMLButtonElement>("button.main");
    if (button) button.textContent = form.dataset.busy + "…";
  });
}
