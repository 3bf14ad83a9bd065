// Playing a recording pass by pass, and one tone of it alone: a narrow filter lets
// only that tone through, so that the ear can follow it from pass to pass.

type Pass = { Start: number; End: number };

const narrow = 40; // quality of the filter: a fortieth of the frequency is let through

export class PassPlayer extends HTMLElement {
  private audio!: HTMLAudioElement;
  private filter?: BiquadFilterNode;
  private end = Infinity;

  connectedCallback(): void {
    const audio = this.querySelector("audio");
    if (!audio || this.querySelector("button")) return;
    this.audio = audio;
    audio.addEventListener("timeupdate", () => { if (audio.currentTime >= this.end) { audio.pause(); this.end = Infinity; } });
    const passes = JSON.parse(this.dataset.passes || "[]") as Pass[] | null;
    const tones = JSON.parse(this.dataset.tones || "[]") as number[] | null;
    this.row("Play", (passes ?? []).map((p, i) => ({ words: `pass ${i + 1}`, act: () => this.play(p) })));
    const choices = (tones ?? []).map((f) => ({ words: `${f} Hz alone`, act: () => this.only(f) }));
    if (choices.length) this.row("Hear", [{ words: "everything", act: () => this.only(0) }, ...choices], true);
  }

  private row(label: string, items: { words: string; act: () => void }[], pressed = false): void {
    if (!items.length) return;
    const group = document.createElement("div");
    group.className = "row";
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", label);
    items.forEach((item, i) => {
      const b = document.createElement("button");
      b.type = "button";
      b.textContent = item.words;
      if (pressed) b.setAttribute("aria-pressed", String(i === 0));
      b.addEventListener("click", () => {
        if (pressed) for (const other of group.children) other.setAttribute("aria-pressed", String(other === b));
        item.act();
      });
      group.append(b);
    });
    this.append(group);
  }

  private play(p: Pass): void {
    this.end = p.End;
    this.audio.currentTime = p.Start;
    void this.audio.play();
  }

  // only lets one frequency through, or with 0 everything.
  private only(f: number): void {
    if (!this.filter) {
      const context = new AudioContext();
      this.filter = context.createBiquadFilter();
      context.createMediaElementSource(this.audio).connect(this.filter).connect(context.destination);
    }
    this.filter.type = f ? "bandpass" : "allpass";
    this.filter.frequency.value = f || 1000;
    this.filter.Q.value = f ? narrow : 0.0001;
    void (this.filter.context as AudioContext).resume();
  }
}
