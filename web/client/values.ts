// The figures behind the picture of a recording: what lies under finger, pointer or
// the two sliders is told in words, with the pass, the line it lies on, and how many
// waves a turn it makes. The sliders are what keyboard and screen reader use.

type Tone = { hz: number; level: number; name: string };
type Values = {
  end_s: number; low_hz: number; high_hz: number; rpm?: number; rpm_from?: string; start_s: number; time_step_s: number; freq_step_hz: number;
  rows: number; levels: string; passes: { start_s: number; end_s: number; tones: Tone[] }[] | null;
  lines: { hz: number; slip?: number; name: string }[] | null; strong: { hz: number; name: string }[] | null;
};

const steps = 1000, sameTone = 0.015, sameLine = 0.01;

export class SoundValues extends HTMLElement {
  private v!: Values;
  private levels!: Uint8Array;
  private time = slider("Time");
  private freq = slider("Frequency");
  private said = document.createElement("output");
  private across = document.createElement("i");
  private up = document.createElement("i");

  connectedCallback(): void {
    const image = this.querySelector<SVGImageElement>("svg image");
    if (!image || !this.dataset.from || this.said.isConnected) return;
    void this.begin(image, this.dataset.from);
  }

  private async begin(image: SVGImageElement, from: string): Promise<void> {
    try {
      const r = await fetch(from);
      if (!r.ok) return;
      this.v = (await r.json()) as Values;
    } catch { return; } // the table below tells the same, less finely
    this.levels = Uint8Array.from(atob(this.v.levels), (c) => c.charCodeAt(0));
    this.time.input.max = String(steps);
    this.freq.input.max = String(steps);
    this.across.className = "sv-across";
    this.up.className = "sv-up";
    const box = document.createElement("div");
    box.className = "sv";
    this.said.setAttribute("role", "status");
    box.append(this.said, this.time.label, this.freq.label);
    if (this.v.strong?.length) box.append(this.jumps());
    this.append(box, this.across, this.up);
    for (const s of [this.time, this.freq]) s.input.addEventListener("input", () => this.tell(image));
    const svg = image.ownerSVGElement!;
    const at = (e: PointerEvent) => this.point(image, e);
    svg.addEventListener("pointermove", at);
    svg.addEventListener("pointerdown", at);
    addEventListener("resize", () => this.cross(image));
    const first = this.v.strong?.[0];
    this.time.input.value = String(steps * (this.v.passes?.[0] ? (this.v.passes[0].start_s + this.v.passes[0].end_s) / 2 / this.v.end_s : 0.5));
    this.freq.input.value = String(first ? this.place(first.hz) : steps / 2);
    this.tell(image);
    this.dataset.ready = "";
  }

  private jumps(): HTMLLabelElement {
    const label = document.createElement("label"), select = document.createElement("select");
    label.textContent = "Go to a tone";
    for (const s of this.v.strong!) select.add(new Option(s.name, String(s.hz)));
    select.addEventListener("change", () => {
      this.freq.input.value = String(this.place(Number(select.value)));
      this.freq.input.dispatchEvent(new Event("input"));
    });
    label.append(select);
    return label;
  }

  private place(hz: number): number { return (steps * Math.log(hz / this.v.low_hz)) / Math.log(this.v.high_hz / this.v.low_hz); }
  private hz(): number { return this.v.low_hz * (this.v.high_hz / this.v.low_hz) ** (Number(this.freq.input.value) / steps); }
  private seconds(): number { return (this.v.end_s * Number(this.time.input.value)) / steps; }

  private point(image: SVGImageElement, e: PointerEvent): void {
    const b = image.getBoundingClientRect();
    const x = (e.clientX - b.left) / b.width, y = (b.bottom - e.clientY) / b.height;
    if (x < 0 || x > 1 || y < 0 || y > 1) return;
    this.time.input.value = String(steps * x);
    this.freq.input.value = String(steps * y);
    this.tell(image);
  }

  // level is the loudest cell at the place: a step of the slider may span several.
  private level(t: number, f: number): number {
    const v = this.v, columns = this.levels.length / v.rows;
    const col = Math.max(0, Math.min(columns - 1, Math.round((t - v.start_s) / v.time_step_s)));
    const half = (f * Math.log(v.high_hz / v.low_hz)) / steps / 2;
    let least = 255;
    for (let k = Math.round((f - half) / v.freq_step_hz); k <= Math.round((f + half) / v.freq_step_hz); k++) {
      if (k >= 0 && k < v.rows) least = Math.min(least, this.levels[col * v.rows + k]!);
    }
    return -least / 2;
  }

  // lies says on which tone or known line a frequency lies.
  private lies(pass: number, f: number): { words: string; hz: number } {
    const v = this.v, off = (hz: number) => Math.abs(f / hz - 1);
    const near = Math.max(sameTone, v.freq_step_hz / f / 2);
    const tone = (v.passes?.[pass]?.tones ?? []).filter((t) => off(t.hz) <= near).sort((a, b) => off(a.hz) - off(b.hz))[0];
    if (tone) return { words: `on the tone at ${tone.hz.toFixed(1)} Hz: ${tone.name || "free"}`, hz: tone.hz };
    const line = (v.lines ?? []).filter((l) => f <= l.hz * (1 + sameLine) && f >= l.hz * (1 - (l.slip ?? 0) - sameLine)).sort((a, b) => off(a.hz) - off(b.hz))[0];
    return { words: line ? `where ${line.name} would be (${line.hz.toFixed(1)} Hz); nothing stands out there` : "on no known line", hz: f };
  }

  private tell(image: SVGImageElement): void {
    const v = this.v, t = this.seconds(), f = this.hz();
    const pass = (v.passes ?? []).findIndex((p) => t >= p.start_s && t <= p.end_s);
    const when = `${t.toFixed(1)} s, ${pass < 0 ? "between passes" : `pass ${pass + 1}`}`;
    const pitch = `${f < 100 ? f.toFixed(1) : f.toFixed(0)} Hz`;
    const on = this.lies(pass, f);
    let words = on.words;
    if (v.rpm) words += `; ${(on.hz / (v.rpm / 60)).toFixed(1)} waves a turn at ${v.rpm.toFixed(1)} rpm (${v.rpm_from})`;
    this.said.replaceChildren(strong(`${when} · ${pitch} · ${this.level(t, f).toFixed(0).replace("-", "−")} dB`), words);
    this.time.input.setAttribute("aria-valuetext", when);
    this.freq.input.setAttribute("aria-valuetext", pitch);
    this.cross(image);
  }

  private cross(image: SVGImageElement): void {
    const b = image.getBoundingClientRect(), o = this.getBoundingClientRect();
    const x = b.left - o.left + (b.width * Number(this.time.input.value)) / steps;
    const y = b.bottom - o.top - (b.height * Number(this.freq.input.value)) / steps;
    set(this.up, x, b.top - o.top, 1, b.height);
    set(this.across, b.left - o.left, y, b.width, 1);
  }
}

function slider(words: string): { label: HTMLLabelElement; input: HTMLInputElement } {
  const label = document.createElement("label"), input = document.createElement("input");
  input.type = "range";
  input.min = "0";
  input.step = "1";
  label.append(words, input);
  return { label, input };
}

function strong(words: string): HTMLElement {
  const b = document.createElement("b");
  b.textContent = words;
  return b;
}

function set(e: HTMLElement, left: number, top: number, width: number, height: number): void {
  e.style.left = `${left}px`;
  e.style.top = `${top}px`;
  e.style.width = `${width}px`;
  e.style.height = `${height}px`;
}
