// What the reader sees of a recording: one big button that starts and stops, the
// time, the level, and words when it is too loud or too quiet.
import { Recording, Trouble, verdict } from "./record.ts";
import { Passes, Take, TakeBox, seconds } from "./record_box.ts";

const foot = -60; // dB, the foot of the meter

type Wants = { key: string; name: string; most: number; label: string; passes?: () => Passes };

export class RecordView {
  readonly button = document.createElement("button");
  readonly said = document.createElement("p");
  readonly live = document.createElement("div");
  private time = document.createElement("span");
  private meter = document.createElement("meter");
  private recording?: Recording;

  constructor(private wants: Wants, private taken: (t: Take, words: string) => void) {
    this.said.className = "hint";
    this.said.setAttribute("role", "status");
    this.button.type = "button";
    this.button.className = "rec-go";
    this.button.addEventListener("click", () => void this.press());
    this.live.className = "rec-live";
    this.time.className = "rec-time";
    this.time.setAttribute("role", "timer");
    Object.assign(this.meter, { min: foot, max: 0, low: -40, high: -3, optimum: -20, value: foot });
    this.meter.setAttribute("aria-label", "Level: " + wants.label);
    this.live.append(this.time, this.meter);
    if (Recording.now?.take.key === wants.key) this.follow(Recording.now); // the page was put in place anew meanwhile
    this.show();
  }

  say(words: string): void { if (this.said.textContent !== words) this.said.textContent = words; }

  // label names the button while nothing is recorded.
  label(words: string): void { this.wants.label = words; this.show(); }

  private show(): void {
    const on = !!this.recording;
    const words = on ? "Stop recording" : this.wants.label;
    if (this.button.textContent !== words) this.button.textContent = words;
    this.button.classList.toggle("on", on);
    this.live.hidden = !on;
  }

  private async press(): Promise<void> {
    if (this.recording) { void this.recording.stop(); return; }
    this.button.disabled = true;
    this.say("");
    try {
      this.follow(await Recording.begin(this.wants.key, this.wants.name, this.wants.most, this.wants.passes?.()));
    } catch (e) {
      this.say(e instanceof Trouble ? e.message : "The recording could not be begun. Choose a recording instead.");
    }
    this.button.disabled = false;
    this.show();
    this.button.focus();
  }

  private follow(r: Recording): void {
    this.recording = r;
    this.time.textContent = clock(0) + " of " + clock(r.most);
    r.addEventListener("level", () => this.level(r));
    void r.ended.then((t) => this.finished(r, t));
    this.say("Recording: leave the phone alone.");
  }

  private level(r: Recording): void {
    this.meter.value = Math.max(foot, 20 * Math.log10(r.peak + 1e-9));
    this.time.textContent = clock(seconds(r.take)) + " of " + clock(r.most);
    if (r.words) this.say(r.words);
  }

  private finished(r: Recording, t: Take): void {
    this.recording = undefined;
    this.show();
    const end = seconds(t) >= r.most ? ` It ended by itself after ${clock(r.most)}.` : "";
    if (!t.frames) { this.say("Nothing came from the microphone."); void TakeBox.open().then((b) => b.remove(t.id)); return; }
    this.taken(t, `${seconds(t).toFixed(1)} s of sound.${end} ${r.words || verdict(t, t.levelled)}`.trim());
  }
}

export function clock(s: number): string {
  return `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
}

// adopted lists the recordings under a key; one that a closed page left open is ended,
// one that another window is still making is left alone.
export async function adopted(key: string): Promise<Take[]> {
  const box = await TakeBox.open();
  const held = await navigator.locks?.query().catch(() => undefined);
  const elsewhere = new Set(held?.held?.map((l) => l.name));
  const all = (await box.all(key).catch(() => [])).filter((t) => Recording.now?.take.id === t.id || !elsewhere.has(t.id));
  for (const t of all) {
    if (t.done || Recording.now?.take.id === t.id) continue;
    t.done = true;
    await box.put(t).catch(() => undefined);
  }
  for (const t of all) if (!t.blocks && t.done) await box.remove(t.id).catch(() => undefined);
  return all.filter((t) => t.done && t.blocks);
}
