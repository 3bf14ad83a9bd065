// A drawing: the value nearest to finger or pointer is shown large above it, and
// the whole can be opened larger.
export class BenchDrawing extends HTMLElement {
  connectedCallback(): void {
    const svg = this.querySelector("svg");
    if (!svg || this.querySelector("button")) return;
    const near = document.createElement("span");
    near.className = "near";
    near.setAttribute("aria-hidden", "true"); // the drawing's own text is read
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Larger";
    button.setAttribute("aria-label", "Larger: " + (svg.querySelector("title")?.textContent ?? "drawing"));
    button.addEventListener("click", () => this.enlarge(svg, button));
    this.prepend(near, button);
    svg.addEventListener("pointermove", (e) => this.point(svg, near, e));
    svg.addEventListener("pointerdown", (e) => this.point(svg, near, e));
    svg.addEventListener("pointerleave", () => this.clear(svg, near));
  }

  private clear(svg: SVGSVGElement, near: HTMLElement): void {
    svg.querySelector(".near-text")?.classList.remove("near-text");
    near.textContent = "";
  }

  private point(svg: SVGSVGElement, near: HTMLElement, e: PointerEvent): void {
    let best: SVGTextElement | undefined;
    let least = 48; // CSS pixels; farther away nothing is meant
    for (const t of svg.querySelectorAll<SVGTextElement>("text")) {
      const b = t.getBoundingClientRect();
      const dx = Math.max(b.left - e.clientX, 0, e.clientX - b.right);
      const dy = Math.max(b.top - e.clientY, 0, e.clientY - b.bottom);
      const d = Math.hypot(dx, dy);
      if (d < least) [least, best] = [d, t];
    }
    this.clear(svg, near);
    if (!best) return;
    best.classList.add("near-text");
    near.textContent = best.textContent;
  }

  private enlarge(svg: SVGSVGElement, from: HTMLElement): void {
    const dialog = document.createElement("dialog");
    dialog.className = "large";
    dialog.setAttribute("aria-label", svg.querySelector("title")?.textContent ?? "drawing");
    const close = document.createElement("button");
    close.type = "button";
    close.textContent = "Close";
    close.addEventListener("click", () => dialog.close());
    const copy = svg.cloneNode(true) as SVGSVGElement;
    for (const el of [copy, ...copy.querySelectorAll<SVGElement>("[id]")]) el.removeAttribute("id");
    copy.removeAttribute("aria-labelledby");
    copy.setAttribute("aria-hidden", "true");
    dialog.append(close, copy);
    document.body.append(dialog);
    dialog.addEventListener("close", () => { dialog.remove(); from.focus(); });
    dialog.showModal();
  }
}
