// Playing what was heard, pass by pass, or one tone of a pass alone. The stretches are
// made by the bench; without this script the same links open or save them.
export class PassPlayer extends HTMLElement {
  connectedCallback(): void {
    const audio = this.querySelector("audio");
    if (!audio) return;
    this.addEventListener("click", (e) => {
      const link = e.target instanceof Element ? e.target.closest<HTMLAnchorElement>("a[data-play]") : null;
      if (!link || e.ctrlKey || e.metaKey || e.shiftKey) return;
      e.preventDefault();
      const same = audio.getAttribute("src") === link.getAttribute("href");
      if (same && !audio.paused) { audio.pause(); return; }
      if (!same) audio.src = link.getAttribute("href")!;
      for (const other of this.querySelectorAll("a[data-play]")) other.removeAttribute("aria-current");
      link.setAttribute("aria-current", "true");
      void audio.play().catch(() => undefined);
    });
  }
}
