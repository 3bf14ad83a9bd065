// What takes a second to work out comes when the reader gets there: the link inside
// leads to a page of its own, whose middle part is put in the link's place. Without
// this script the link alone does the work.

let height = 0; // of the last answer, so that the page does not jump while the next one comes

export class BenchLater extends HTMLElement {
  private asked?: AbortController;
  private watch?: IntersectionObserver;

  connectedCallback(): void {
    const link = this.querySelector("a");
    if (!link) return;
    if (height) this.style.minHeight = `${height}px`;
    this.watch = new IntersectionObserver((seen) => {
      if (!seen.some((s) => s.isIntersecting)) return;
      this.watch?.disconnect();
      void this.ask(link);
    }, { rootMargin: "300px" });
    this.watch.observe(this);
  }

  disconnectedCallback(): void {
    this.watch?.disconnect();
    this.asked?.abort();
  }

  private async ask(link: HTMLAnchorElement): Promise<void> {
    const mine = (this.asked = new AbortController());
    this.setAttribute("aria-busy", "true");
    const was = link.textContent;
    link.textContent = this.dataset.wait ?? was;
    try {
      const answer = await fetch(link.href, { signal: mine.signal });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const part = page.querySelector("[data-finish]");
      if (!part) throw new Error("nothing to show in the answer");
      this.replaceChildren(document.importNode(part, true));
      this.style.minHeight = "";
      height = this.offsetHeight;
    } catch {
      if (!mine.signal.aborted) link.textContent = was;
    } finally {
      this.removeAttribute("aria-busy");
    }
  }
}
