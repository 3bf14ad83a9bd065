// Sending forms with files. A form that holds a recording made in the page is sent by
// the page itself: when the bench cannot be reached the recording stays here and is
// sent again by itself, as long as the page is open.
import { TakeSound } from "./take.ts";

const againAfter = 8000; // ms

export function sends(): void {
  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (!(form instanceof HTMLFormElement) || !form.dataset.busy || e.defaultPrevented) return;
    const made = [...form.querySelectorAll<TakeSound>("take-sound")].filter((t) => t.using);
    if (made.length) {
      e.preventDefault();
      void send(form, made);
      return;
    }
    busy(form, form.dataset.busy + "…");
  });
}

function busy(form: HTMLFormElement, words: string): void {
  form.setAttribute("aria-busy", "true");
  const button = form.querySelector<HTMLButtonElement>("button.main");
  if (button) button.textContent = words;
}

// send posts a form until it arrives.
async function send(form: HTMLFormElement, made: TakeSound[]): Promise<void> {
  if (form.hasAttribute("aria-busy")) return; // pressed twice
  busy(form, form.dataset.busy + "…");
  const body = new FormData(form);
  for (;;) {
    try {
      await arrived(form, made, await fetch(form.action, { method: "POST", body }));
      return;
    } catch {
      busy(form, "Waiting for the bench: the recording is kept here");
      await new Promise<void>((ok) => {
        addEventListener("online", () => ok(), { once: true });
        window.setTimeout(ok, againAfter);
      });
    }
  }
}

// arrived goes where the bench points, or puts its answer in place.
async function arrived(form: HTMLFormElement, made: TakeSound[], r: Response): Promise<void> {
  const page = r.redirected ? "" : await r.text(); // broken off on the way it throws, and is asked again
  if (r.ok) for (const t of made) await t.sent();
  if (r.redirected) {
    location.assign(r.url);
    return;
  }
  const fresh = new DOMParser().parseFromString(page, "text/html");
  const now = fresh.querySelector("main"), old = form.closest("main");
  if (!now || !old) { form.submit(); return; }
  document.title = fresh.title;
  old.replaceChildren(...[...now.childNodes].map((n) => document.importNode(n, true)));
  scrollTo(0, 0);
  (old.querySelector<HTMLElement>("#faults") ?? old).focus();
}
