// Recording at the lathe: from the step that is shown on, through as many passes as
// one likes, so that nothing has to be touched between closing the half nuts and
// opening them. What was recorded becomes an entry of the log at once; the sound
// itself follows when the bench can be reached, and stays on this device until then.
import type { Body, Kept } from "./piece_log.ts";
import { RecordView, adopted, clock } from "./record_view.ts";
import { Recording, verdict } from "./record.ts";
import { Take, TakeBox, seconds } from "./record_box.ts";

// PieceBench is what the recorder asks of the page that it stands on.
type PieceBench = HTMLElement & {
  add(kind: string, body: Body): Promise<Kept>;
  recorded(): void;
};

const tryEvery = 15_000, soon = 700;

export class RecordPass extends HTMLElement {
  private view!: RecordView;
  private waits = document.createElement("p");
  private timer = 0;
  private sending = false;
  private again = (): void => void this.send();

  private get bench(): PieceBench | null { return this.closest<PieceBench>("bench-piece"); }
  private get key(): string { return "piece " + this.dataset.piece; }

  connectedCallback(): void {
    const piece = this.dataset.piece ?? "";
    if (!piece) return;
    this.replaceChildren();
    const most = Number(this.dataset.most ?? "600");
    this.view = new RecordView({ key: this.key, name: "recorded.wav", most, label: this.label(), passes: () => ({ piece, step: this.bench?.dataset.step ?? "", event: "" }) },
      (t, words) => void this.taken(t, words));
    this.waits.className = "hint";
    this.waits.setAttribute("role", "status");
    if (!Recording.hindrance()) this.append(this.caution(), this.view.button, this.view.live, this.view.said);
    this.append(this.waits);
    addEventListener("online", this.again);
    this.timer = window.setInterval(this.again, tryEvery);
    void this.begin();
  }

  disconnectedCallback(): void {
    removeEventListener("online", this.again);
    clearInterval(this.timer);
  }

  // follow names the step that is shown.
  follow(): void { if (this.view && !Recording.now) this.view.label(this.label()); }

  private label(): string {
    const n = /^pass-(\d+)$/.exec(this.bench?.dataset.step ?? "")?.[1];
    return n ? `Record from pass ${n} on` : "Record from here on";
  }

  private caution(): HTMLElement {
    const p = document.createElement("p");
    p.className = "hint rec-safe";
    p.textContent = "Before the spindle starts: clamp the phone or set it down, out of the line of chips. Then leave it alone until the spindle stands.";
    return p;
  }

  // begin takes up what an earlier page left behind.
  private async begin(): Promise<void> {
    for (const t of await adopted(this.key)) if (t.passes && !t.passes.event) await this.enter(t);
    // The audio thread's script is asked for once, so that it is there without the network.
    const script = document.querySelector<HTMLMetaElement>('meta[name="recorder"]')?.content;
    if (script && !Recording.hindrance()) void fetch(script).catch(() => undefined);
    void this.send();
  }

  private async taken(t: Take, words: string): Promise<void> {
    this.view.say(words);
    await this.enter(t);
    void this.send();
  }

  // enter writes the recording into the log of the piece.
  private async enter(t: Take): Promise<void> {
    if (!t.passes) return;
    const text = [clock(seconds(t)), verdict(t, t.levelled)].filter(Boolean).join(". ");
    const entry = await this.bench?.add("record", { step: t.passes.step, text });
    if (!entry) return;
    t.passes.event = entry.id;
    await (await TakeBox.open()).put(t).catch(() => undefined);
  }

  // send sends what waits, one after the other, and says how much still does.
  private async send(): Promise<void> {
    if (this.sending || document.hidden) return;
    this.sending = true;
    let words = "";
    try {
      const box = await TakeBox.open();
      for (const t of await adopted(this.key)) if (t.passes?.event) words = await this.one(box, t) || words;
      const left = (await adopted(this.key)).length;
      if (left) words = `${left} ${left === 1 ? "recording waits" : "recordings wait"} on this device for the bench. ${words}`;
    } finally {
      this.sending = false;
    }
    if (this.waits.textContent !== words) this.waits.textContent = words;
  }

  private async one(box: TakeBox, t: Take): Promise<string> {
    const body = new FormData();
    body.append("id", t.id);
    body.append("event", t.passes!.event);
    body.append("file", await box.file(t));
    let r: Response;
    try {
      r = await fetch(`/pieces/${t.passes!.piece}/files`, { method: "POST", headers: { Accept: "application/json" }, body });
    } catch {
      return ""; // no network
    }
    if (r.ok) { await box.remove(t.id); this.bench?.recorded(); return "The bench has the recording."; }
    if (r.status === 409) { // the log's entry is still on its way
      window.setTimeout(this.again, soon);
      return "";
    }
    return `The bench did not take it (${r.status}); it stays here and is sent again.`;
  }
}
