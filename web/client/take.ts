// Taking sound for a form: a button that records in the page where the browser lets
// it, and the turning into WAV of what the program does not read by itself. A
// recording made here stays on this device until the bench has it, and a day longer.
// Without this script the file picker alone does the work.
import { RecordView, adopted, clock } from "./record_view.ts";
import { Recording } from "./record.ts";
import { Take, TakeBox, seconds, wavHead } from "./record_box.ts";

const keptAfter = 24 * 3600 * 1000; // ms that a recording stays after it was sent

export class TakeSound extends HTMLElement {
  using?: Take; // the recording that stands in the field, when it was made here
  private input!: HTMLInputElement;
  private view!: RecordView;
  private kept = document.createElement("ul");
  private static used = new Map<string, string>(); // what stood in a field before the form came back

  private get key(): string { return `${this.closest("form")?.getAttribute("action") ?? ""} ${this.input.name}`; }

  connectedCallback(): void {
    const input = this.querySelector<HTMLInputElement>('input[type="file"]');
    if (!input || this.view) return;
    this.input = input;
    const label = this.querySelector("label")?.textContent ?? "";
    this.view = new RecordView({ key: this.key, name: "recorded.wav", most: Number(this.dataset.most ?? "60"), label: "Record here" }, (t, words) => void this.use(t, words));
    this.view.button.setAttribute("aria-description", label);
    this.kept.className = "rec-kept";
    input.addEventListener("change", () => void this.chosen());
    const why = Recording.hindrance();
    if (!why) this.append(this.view.button, this.view.live);
    else this.own(why);
    this.append(this.view.said, this.kept);
    void this.list().then((all) => {
      const again = all.find((t) => t.id === TakeSound.used.get(this.key));
      if (again) void this.use(again, `${seconds(again).toFixed(1)} s of sound, still here.`);
    });
  }

  // own offers the phone's own recorder where the page may not hear.
  private own(why: string): void {
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = "Use the phone’s own recorder";
    b.addEventListener("click", () => {
      this.input.setAttribute("capture", "");
      this.input.click();
      this.input.removeAttribute("capture");
    });
    this.append(b);
    const words = why === "insecure" ? "Browsers give the microphone to pages over HTTPS only. " : "This browser gives pages no raw sound. ";
    this.view.said.textContent = words + "The phone’s own recorder does as well: best set to WAV or “lossless”.";
    if (why !== "insecure" || !document.querySelector('a[href="/devices"]')) return;
    const a = document.createElement("a");
    a.href = "/devices";
    a.textContent = "How to open the bench over HTTPS";
    this.view.said.append(" ", a, ".");
  }

  // list shows the recordings that this device holds for the field.
  private async list(): Promise<Take[]> {
    const box = await TakeBox.open(), all: Take[] = [];
    for (const t of await adopted(this.key)) {
      if (t.sent && Date.now() - t.sent > keptAfter) await box.remove(t.id).catch(() => undefined);
      else all.push(t);
    }
    this.kept.replaceChildren(...all.filter((t) => t.id !== this.using?.id).map((t) => this.line(t, box)));
    return all;
  }

  private line(t: Take, box: TakeBox): HTMLLIElement {
    const li = document.createElement("li"), words = document.createElement("span");
    const when = new Date(t.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    words.textContent = `Recorded ${when}, ${clock(seconds(t))}${t.sent ? ", sent" : ", not sent yet"}`;
    const button = (text: string, act: () => void) => {
      const b = document.createElement("button");
      b.type = "button";
      b.textContent = text;
      b.setAttribute("aria-description", words.textContent ?? "");
      b.addEventListener("click", act);
      return b;
    };
    li.append(words, button("Use", () => void this.use(t, `${seconds(t).toFixed(1)} s of sound.`)), button("Delete", () => void box.remove(t.id).then(() => this.list())));
    return li;
  }

  // use puts a recording that was made here into the field.
  private async use(t: Take, words: string): Promise<void> {
    const box = await TakeBox.open();
    try {
      this.fill(await box.file(t));
    } catch {
      this.view.say("The recording could not be read from this device.");
      return;
    }
    this.using = t;
    TakeSound.used.set(this.key, t.id);
    this.view.label("Record again");
    const keeps = box.keeps ? "Kept on this device until it is sent." : "This browser keeps nothing: send it before you leave the page.";
    this.view.say(`${words} ${keeps}`);
    await this.list();
    this.dispatchEvent(new CustomEvent("taken", { bubbles: true }));
  }

  private fill(file: File): void {
    const files = new DataTransfer();
    files.items.add(file);
    this.input.files = files.files;
  }

  // sent notes that the bench has the recording.
  async sent(): Promise<void> {
    const t = this.using;
    if (!t) return;
    t.sent = Date.now();
    TakeSound.used.delete(this.key);
    await (await TakeBox.open()).put(t).catch(() => undefined);
  }

  // chosen turns a chosen file into WAV when the program does not read it by itself.
  private async chosen(): Promise<void> {
    const file = this.input.files?.[0];
    this.using = undefined;
    TakeSound.used.delete(this.key);
    this.view.say("");
    void this.list();
    if (!file || await readable(file)) return;
    this.view.say("Reading the sound…");
    try {
      const context = new AudioContext();
      const sound = await context.decodeAudioData(await file.arrayBuffer());
      void context.close();
      this.fill(new File([wav(sound)], file.name.replace(/\.[^.]*$/, "") + ".wav", { type: "audio/wav" }));
      this.view.say(`${sound.duration.toFixed(1)} s of sound, ready to be sent.`);
    } catch {
      this.view.say("This browser cannot read that sound. It is sent as it is.");
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
function wav(sound: AudioBuffer): Blob {
  const channels = Math.min(sound.numberOfChannels, 2), frames = sound.length;
  const pcm = new Int16Array(channels * frames);
  for (let c = 0; c < channels; c++) {
    const data = sound.getChannelData(c);
    for (let i = 0; i < frames; i++) pcm[i * channels + c] = Math.round(32767 * Math.max(-1, Math.min(1, data[i]!)));
  }
  return new Blob([wavHead(pcm.byteLength, channels, sound.sampleRate), pcm]);
}
