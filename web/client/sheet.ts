// The sheet: when a choice changes, the same address is asked for again with the new
// choice in it; figures are put in place, what changed is marked with what it was,
// listed, and said aloud. The address in the bar is always that of what is shown.

type Figure = { label: string; text: string };
type Change = { key: string; label: string; was: string; now: string };

export class BenchSheet extends HTMLElement {
  private waiting?: AbortController;
  private timer = 0;

  connectedCallback(): void {
    const form = this.form();
    if (!form) return;
    form.addEventListener("submit", (e) => { e.preventDefault(); void this.ask(); });
    form.addEventListener("change", () => this.soon(0));
    form.addEventListener("input", (e) => { if (e.target instanceof HTMLInputElement && e.target.type === "text") this.soon(450); });
    this.addEventListener("click", (e) => {
      if (e.target instanceof Element && e.target.closest("[data-hide]")) this.list([]);
    });
  }

  private form(): HTMLFormElement | null { return this.querySelector<HTMLFormElement>("#setup"); }

  private soon(ms: number): void {
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.ask(), ms);
  }

  // address is that of the sheet as the choices now stand; what is empty is left out.
  private address(form: HTMLFormElement): string {
    const q = new URLSearchParams();
    for (const [k, v] of new FormData(form)) if (typeof v === "string" && v.trim() !== "") q.append(k, v);
    return form.getAttribute("action") + "?" + q.toString();
  }

  private async ask(): Promise<void> {
    const form = this.form();
    if (!form) return;
    clearTimeout(this.timer);
    const address = this.address(form);
    if (address === location.pathname + location.search) return;
    this.waiting?.abort();
    const mine = (this.waiting = new AbortController());
    const slow = window.setTimeout(() => this.setAttribute("aria-busy", "true"), 300);
    try {
      const answer = await fetch(address, { signal: mine.signal });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!page.querySelector("bench-sheet")) throw new Error("no sheet in the answer");
      const before = figures(this);
      this.swap(page);
      history.replaceState(null, "", address);
      document.title = page.title;
      this.tell(before, figures(this));
    } catch (e) {
      if (!mine.signal.aborted) this.say("No answer from the bench: the figures shown are the last ones. Is it still running?");
    } finally {
      clearTimeout(slow);
      if (this.waiting === mine) this.removeAttribute("aria-busy");
    }
  }

  // swap puts the new page's parts in place. The field that is being written in
  // stays as it is; only what is said about it changes.
  private swap(page: Document): void {
    const here = document.activeElement;
    const stale = !!this.querySelector("[data-v]") && !page.querySelector("[data-v]");
    this.toggleAttribute("data-stale", stale); // the figures shown belong to the last complete choices
    const ids = (root: ParentNode) => [...root.querySelectorAll("[data-sections] > section")].map((s) => s.id).join();
    const other = page.querySelector("bench-sheet")!;
    if (!stale && (ids(this) !== ids(other) || !!this.querySelector(".keep") !== !!other.querySelector(".keep"))) {
      const work = this.querySelector(".work"), fresh = other.querySelector(".work");
      if (work && fresh) work.replaceWith(document.importNode(fresh, true));
      this.querySelector(".teach")?.remove();
      this.querySelector(".keep")?.remove();
      const keep = other.querySelector(".keep");
      if (keep) this.querySelector("form#setup")?.after(document.importNode(keep, true));
      if (here?.id && here !== document.activeElement) document.getElementById(here.id)?.focus();
    }
    for (const fresh of other.querySelectorAll<HTMLElement>("[data-live]")) {
      const old = this.querySelector<HTMLElement>(`[data-live="${CSS.escape(fresh.dataset.live!)}"]`);
      if (!old || /^(sections-|nav$)/.test(fresh.dataset.live!)) continue;
      if (stale && !/^(faults|blocked|field-|fault-)/.test(fresh.dataset.live!)) continue;
      if (old.innerHTML === fresh.innerHTML && old.className === fresh.className) continue;
      old.className = fresh.className;
      if (old.contains(document.activeElement) && old.querySelector("input,select")) continue; // its fault is live by itself
      old.innerHTML = fresh.innerHTML;
    }
    for (const q of this.querySelectorAll<HTMLInputElement>("[data-query]")) {
      q.value = other.querySelector<HTMLInputElement>("[data-query]")?.value ?? q.value;
    }
  }

  private tell(before: Map<string, Figure>, after: Map<string, Figure>): void {
    const changes: Change[] = [];
    for (const [key, now] of after) {
      const was = before.get(key);
      if (was && was.text !== now.text) changes.push({ key, label: now.label, was: was.text, now: now.text });
    }
    for (const c of changes) {
      const el = this.querySelector<HTMLElement>(`[data-v="${CSS.escape(c.key)}"]`);
      if (!el) continue;
      el.classList.add("new");
      if (el.closest(".figures")) {
        const was = document.createElement("span");
        was.className = "was";
        was.innerHTML = "was <s></s>";
        was.querySelector("s")!.textContent = c.was;
        el.after(was);
      }
    }
    this.list(changes.filter((c) => c.label));
    const wrong = this.querySelectorAll(".faults li").length;
    if (wrong) { this.say(`${wrong} ${wrong === 1 ? "thing needs" : "things need"} another look.`); return; }
    const main = changes.filter((c) => c.label && !c.key.startsWith("pass."));
    const governed = after.get("speed.governed");
    let words = main.slice(0, 4).map((c) => `${c.label} ${c.now}, was ${c.was}`).join("; ") || "No main figure changed";
    if (changes.length > main.slice(0, 4).length && main.length) words += `; ${changes.length - Math.min(4, main.length)} more changed`;
    if (governed && changes.some((c) => c.key.startsWith("speed."))) words += `; speed governed by: ${governed.text}`;
    this.say(words + ".");
  }

  // list shows the main changes at the foot of the screen.
  private list(changes: Change[]): void {
    const box = this.querySelector<HTMLElement>("[data-changes]");
    const ul = box?.querySelector("ul");
    if (!box || !ul) return;
    ul.replaceChildren();
    const main = changes.filter((c) => !c.key.startsWith("pass.") && !c.key.endsWith(".note"));
    for (const c of main.slice(0, 6)) {
      const li = document.createElement("li");
      const b = document.createElement("b"), s = document.createElement("s");
      b.textContent = short(c.now);
      s.textContent = short(c.was);
      li.append(c.label + " ", b, " was ", s);
      ul.append(li);
    }
    const rest = changes.length - Math.min(main.length, 6);
    if (rest > 0) {
      const li = document.createElement("li");
      li.textContent = `and ${rest} more, marked on the sheet`;
      ul.append(li);
    }
    box.hidden = changes.length === 0;
  }

  private say(words: string): void {
    const p = this.querySelector("[data-said]");
    if (p) p.textContent = words;
  }
}

function short(s: string): string { return s.length > 60 ? s.slice(0, 58) + "…" : s; }

// figures reads every figure of the sheet by its key.
function figures(root: ParentNode): Map<string, Figure> {
  const all = new Map<string, Figure>();
  for (const el of root.querySelectorAll<HTMLElement>("[data-v]")) {
    all.set(el.dataset.v!, { label: el.dataset.label ?? "", text: el.textContent ?? "" });
  }
  return all;
}
