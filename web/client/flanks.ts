// The outline over a photograph of a thread, put right by finger: six rings that
// write into the fields of the form. The fields do the same from the keyboard, and
// alone where this script does not run.

const svgName = "http://www.w3.org/2000/svg";
const reach = 22; // CSS pixels from the middle of a ring to its rim

export class FlankOutline extends HTMLElement {
  private svg!: SVGSVGElement;

  connectedCallback(): void {
    const svg = this.querySelector("svg"), form = this.querySelector("form"), details = this.querySelector("details");
    if (!svg || !form || !details) return;
    this.svg = svg;
    this.dataset.script = "";
    details.addEventListener("toggle", () => this.toggleAttribute("data-open", details.open));
    this.toggleAttribute("data-open", details.open);
    for (const grip of this.grips()) this.movable(grip);
    form.addEventListener("input", () => { this.dataset.moved = ""; this.draw(); });
    new ResizeObserver(() => this.size()).observe(svg);
    this.draw();
  }

  private grips(): SVGGElement[] { return [...this.svg.querySelectorAll<SVGGElement>(".grip")]; }
  private field(name: string): HTMLInputElement | null { return this.querySelector<HTMLInputElement>(`input[name="${name}"]`); }
  private value(name: string): number { return Number(this.field(name)?.value ?? NaN); }

  // size keeps the rings as large as a finger, however large the picture is shown.
  private size(): void {
    const scale = this.svg.viewBox.baseVal.width / Math.max(1, this.svg.clientWidth);
    for (const grip of this.grips()) {
      grip.querySelector("circle")?.setAttribute("r", String(reach * scale));
      const arm = String(9 * scale);
      grip.querySelector("path")?.setAttribute("d", `M-${arm} 0H${arm}M0-${arm}V${arm}`);
    }
  }

  // movable lets a ring be dragged from wherever it is touched, so that the finger
  // need not cover its middle.
  private movable(grip: SVGGElement): void {
    let from: { x: number; y: number; px: number; py: number } | null = null;
    const x = grip.dataset.x ?? "", y = grip.dataset.y ?? "";
    grip.addEventListener("pointerdown", (e) => {
      grip.setPointerCapture(e.pointerId);
      from = { x: this.value(x), y: this.value(y), px: e.clientX, py: e.clientY };
      e.preventDefault();
    });
    // Inside a drawing, touch-action alone does not keep the browser from scrolling the
    // page, and then it takes the finger away.
    grip.addEventListener("touchstart", (e) => e.preventDefault(), { passive: false });
    const move = (e: PointerEvent) => {
      if (!from) return;
      const box = this.svg.viewBox.baseVal, scale = box.width / this.svg.getBoundingClientRect().width;
      const set = (name: string, v: number, most: number) => {
        const f = this.field(name);
        if (f) f.value = Math.min(most, Math.max(0, v)).toFixed(1);
      };
      set(x, from.x + (e.clientX - from.px) * scale, box.width);
      set(y, from.y + (e.clientY - from.py) * scale, box.height);
      this.dataset.moved = "";
      this.draw();
    };
    grip.addEventListener("pointermove", move);
    grip.addEventListener("pointerup", (e) => { // the last move may not have been told of
      move(e);
      from = null;
    });
    grip.addEventListener("pointercancel", () => { from = null; });
  }

  // draw puts rings and edges where the fields say.
  private draw(): void {
    for (const g of this.grips()) {
      const x = this.value(g.dataset.x ?? ""), y = this.value(g.dataset.y ?? "");
      if (Number.isFinite(x) && Number.isFinite(y)) g.setAttribute("transform", `translate(${x} ${y})`);
    }
    const edges = this.svg.querySelector(".edges");
    if (!edges) return;
    edges.replaceChildren();
    for (const side of ["u", "l"]) {
      if (this.field(side === "u" ? "no-upper" : "no-lower")?.checked) continue;
      this.line(edges, side);
    }
  }

  // line draws an edge through its two places, across the whole picture.
  private line(into: Element, side: string): void {
    const [x1, y1, x2, y2] = ["x1", "y1", "x2", "y2"].map((n) => this.value(side + n)) as [number, number, number, number];
    const long = Math.hypot(x2 - x1, y2 - y1);
    if (!(long > 1)) return;
    const far = (this.svg.viewBox.baseVal.width + this.svg.viewBox.baseVal.height) / long;
    for (const kind of ["under", "edge"]) {
      const l = document.createElementNS(svgName, "line");
      l.setAttribute("class", kind);
      l.setAttribute("x1", String(x1 - far * (x2 - x1)));
      l.setAttribute("y1", String(y1 - far * (y2 - y1)));
      l.setAttribute("x2", String(x1 + far * (x2 - x1)));
      l.setAttribute("y2", String(y1 + far * (y2 - y1)));
      into.append(l);
    }
  }
}
