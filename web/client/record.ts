// One recording through the microphone, with everything off that browsers do to
// speech: echo and noise would be taken away, and the loudness levelled, and with it
// what is to be heard. The samples come raw from the audio thread (recorder.ts).
import { Passes, Take, TakeBox, seconds } from "./record_box.ts";
import { newID } from "./piece_log.ts";

const clipped = 0.985; // of full scale
const quiet = 0.006; // -44 dB: below this the room is louder than the cut in most phones
const listenFor = 3; // seconds before a sound is called too quiet
const keepEvery = 4; // seconds of sound that are written down at once

// Trouble is a reason in words for the reader.
export class Trouble extends Error {}

export class Recording extends EventTarget {
  // now is the recording under way: there is one microphone.
  static now?: Recording;
  private static asked = false; // for the microphone, and not answered yet

  peak = 0; // of the last moment
  words = "";
  private kept: ArrayBuffer[] = [];
  private keptFrames = 0;
  private wrote: Promise<void> = Promise.resolve();
  private loudest = 0;
  private end!: (t: Take) => void;
  private awake?: WakeLockSentinel;
  readonly ended = new Promise<Take>((ok) => { this.end = ok; });

  private constructor(readonly take: Take, readonly most: number, private box: TakeBox, private stream: MediaStream, private context: AudioContext, private node: AudioWorkletNode) {
    super();
  }

  // hindrance tells why recording in the page cannot be offered; empty when it can.
  static hindrance(): string {
    if (!isSecureContext) return "insecure";
    return navigator.mediaDevices && "AudioWorkletNode" in window ? "" : "missing";
  }

  // begin asks for the microphone and starts.
  static async begin(key: string, name: string, most: number, passes?: Passes): Promise<Recording> {
    if (Recording.now || Recording.asked) throw new Trouble("Another recording is under way on this page: stop that one first.");
    Recording.asked = true;
    try {
      return await Recording.made(key, name, most, passes);
    } finally {
      Recording.asked = false;
    }
  }

  private static async made(key: string, name: string, most: number, passes?: Passes): Promise<Recording> {
    const stream = await microphone();
    const context = new AudioContext({ latencyHint: "playback" });
    try {
      await context.audioWorklet.addModule(workletAddress());
      await context.resume();
    } catch {
      release(stream, context);
      throw new Trouble("The page could not be made ready to record. Load it anew while the bench can be reached, and press again.");
    }
    const node = new AudioWorkletNode(context, "samples", { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" });
    context.createMediaStreamSource(stream).connect(node).connect(context.destination); // silent: it puts nothing out
    const set = stream.getAudioTracks()[0]?.getSettings();
    const take: Take = {
      id: newID(), key, name, at: new Date().toISOString(), rate: context.sampleRate, frames: 0, blocks: 0, done: false,
      peak: 0, clipped: false, levelled: !!(set?.autoGainControl || set?.noiseSuppression), passes,
    };
    const box = await TakeBox.open();
    try {
      await box.put(take);
    } catch {
      release(stream, context); // or the microphone would stay on, with nothing to stop it
      throw new Trouble("This device has no room left to keep a recording. Make room, then press again.");
    }
    const r = (Recording.now = new Recording(take, most, box, stream, context, node));
    holds(take.id, r.ended);
    node.port.onmessage = (e) => r.block(e.data as { pcm: ArrayBuffer; peak: number; last: boolean });
    stream.getAudioTracks()[0]?.addEventListener("ended", () => r.stop()); // unplugged, or taken back
    void r.stayAwake();
    return r;
  }

  stop(): Promise<Take> {
    this.node.port.postMessage("end");
    window.setTimeout(() => this.finish(), 1000); // a context that was put to sleep answers no more
    return this.ended;
  }

  private block(b: { pcm: ArrayBuffer; peak: number; last: boolean }): void {
    const t = this.take;
    if (t.done) return;
    t.frames += b.pcm.byteLength / 2;
    this.peak = b.peak;
    this.loudest = Math.max(this.loudest, b.peak);
    t.peak = this.loudest;
    t.clipped ||= b.peak >= clipped;
    this.kept.push(b.pcm);
    this.keptFrames += b.pcm.byteLength / 2;
    this.words = verdict(t, t.levelled);
    if (this.keptFrames >= keepEvery * t.rate) this.write();
    this.dispatchEvent(new Event("level"));
    if (b.last || seconds(t) >= this.most) this.finish();
  }

  private write(): void {
    if (!this.kept.length) return;
    const pcm = new Blob(this.kept);
    this.kept = [];
    this.keptFrames = 0;
    this.take.blocks++;
    const known = { ...this.take };
    this.wrote = this.wrote.then(() => this.box.put(known, pcm)).catch(() => { this.words = "This device has no room left: the recording ends here."; this.finish(); });
  }

  private finish(): void {
    if (this.take.done) return;
    this.take.done = true;
    this.write();
    release(this.stream, this.context);
    void this.awake?.release().catch(() => undefined);
    Recording.now = undefined;
    void this.wrote.then(() => this.box.put(this.take)).catch(() => undefined).then(() => this.end(this.take));
  }

  private async stayAwake(): Promise<void> {
    if (!("wakeLock" in navigator)) return;
    try { this.awake = await navigator.wakeLock.request("screen"); } catch { /* low battery: the browser may refuse */ }
  }
}

// holds tells other windows of this device that a recording is being made.
function holds(id: string, ended: Promise<unknown>): void {
  void navigator.locks?.request(id, () => ended).catch(() => undefined);
}

// verdict says what a recording's loudness is worth.
export function verdict(t: Take, levelled: boolean): string {
  if (t.clipped) return "Too loud: it is clipped, and clipping makes tones of its own. Move the phone away and record again.";
  if (seconds(t) >= listenFor && t.peak < quiet) return "Too quiet: move the phone nearer, or look whether a case covers the microphone.";
  return levelled ? "This browser levels the sound: tones are right, their growth is not." : "";
}

function workletAddress(): string {
  return document.querySelector<HTMLMetaElement>('meta[name="recorder"]')?.content ?? "";
}

function release(stream: MediaStream, context: AudioContext): void {
  for (const t of stream.getTracks()) t.stop();
  void context.close().catch(() => undefined);
}

async function microphone(): Promise<MediaStream> {
  try {
    return await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } });
  } catch (e) {
    switch (e instanceof DOMException ? e.name : "") {
      case "NotAllowedError": case "SecurityError":
        throw new Trouble("The microphone was refused to this page. Allow it in the browser’s settings for this address (the sign left of the address), then press again. Or choose a recording made by the phone’s own recorder.");
      case "NotFoundError": case "OverconstrainedError":
        throw new Trouble("No microphone was found on this device. Plug one in and press again, or choose a recording.");
      case "NotReadableError": case "AbortError":
        throw new Trouble("Another program holds the microphone. Close it (a call, a voice recorder), then press again.");
    }
    throw new Trouble("The browser gives no sound to this page. Choose a recording instead.");
  }
}
