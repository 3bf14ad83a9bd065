// The work at the lathe. The page comes whole from the bench, every step in it; here
// only the face that fits the log is shown. A tap is written into the browser's own
// store first and sent when the bench can be reached, as often as it takes.
import type { RecordPass } from "./record_piece.ts";
import { Drawer, Entry, Kept, Body, Standing, fold, newID, passNumber } from "./piece_log.ts";

type Dial = { slide: string; to: string; kind: string };
type Step = { id: string; kind: string; title: string; then: string; expect?: string; first?: boolean; dials?: Dial[]; sure?: string[] };
type Table = {
  quantity: string; words: string; slide: string; units: string; places: number; least_mm: number; most_mm: number; aim_mm: number;
  internal?: boolean; rows: { reading_mm: number; left: string }[] | null;
};
type Bundle = { piece: string; plan: string; steps: Step[] | null; table: Table; log: Entry[] };

const away = 10 * 60 * 1000, pollMs = 10_000, betweenTaps = 1500, slowAnswer = 2000;

export class BenchPiece extends HTMLElement {
  private bundle!: Bundle;
  private drawer?: Drawer;
  private entries = new Map<string, Kept>();
  private order = 0;
  private sending = false;
  private again = false;
  private retry = 0;
  private wait = 2000;
  private trouble = "";
  private lastTap = 0;
  private awake?: WakeLockSentinel;

  connectedCallback(): void {
    this.read();
    this.addEventListener("submit", (e) => void this.submit(e as SubmitEvent));
    this.addEventListener("click", (e) => this.nudge(e));
    addEventListener("online", () => void this.sync());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) { this.show(); void this.sync(); void this.stayAwake(); } });
    document.addEventListener("keydown", (e) => this.key(e));
    setInterval(() => { if (!document.hidden) void this.sync(); }, pollMs);
    void this.begin();
  }

  private async begin(): Promise<void> {
    try {
      this.drawer = await Drawer.open();
      for (const e of await this.drawer.all(this.bundle.piece)) {
        this.order = Math.max(this.order, e.order);
        const known = this.entries.get(e.id);
        if (!known) this.entries.set(e.id, e);
      }
      await this.drawer.put([...this.entries.values()]);
    } catch {
      this.trouble = "This browser keeps nothing: without the network a tap would be lost when the page closes.";
    }
    this.lacks();
    this.setAttribute("data-ready", "");
    this.show();
    void this.sync();
    void this.stayAwake();
  }

  // read takes the bundle out of the page.
  private read(): void {
    this.bundle = JSON.parse(this.querySelector("[data-bundle]")?.textContent ?? "{}") as Bundle;
    this.learn(this.bundle.log ?? []);
    for (const b of this.querySelectorAll<HTMLElement>("[data-nudge]")) b.hidden = false;
  }

  private learn(log: Entry[]): Kept[] {
    return log.map((e) => {
      const kept: Kept = { ...e, piece: this.bundle.piece, order: this.entries.get(e.id)?.order ?? 0 };
      this.entries.set(e.id, kept);
      return kept;
    });
  }

  private log(): Kept[] {
    return [...this.entries.values()].sort((a, b) => (a.seq || Infinity) - (b.seq || Infinity) || a.order - b.order);
  }

  private pending(): Kept[] { return this.log().filter((e) => !e.seq); }

  private step(s: Standing): Step | undefined { return this.bundle.steps?.find((x) => !s.done.has(x.id)); }

  private view(log: Kept[], s: Standing): string {
    const next = this.step(s);
    if (!this.bundle.steps?.length) return "blocked";
    if (!next) return "done";
    if (s.again) return "again";
    if (s.paused) return "back";
    const last = log[log.length - 1];
    if (next.kind === "pass" && last && Date.now() - Date.parse(last.at) > away) return "back";
    if (s.waiting?.kind === "pick-up") return "waits";
    return "step";
  }

  // show turns the page to the face that fits the log.
  private show(): void {
    const log = this.log(), s = fold(log), next = this.step(s), view = this.view(log, s);
    const changed = this.dataset.step !== (next?.id ?? "") || this.dataset.view !== view;
    this.dataset.view = view;
    this.dataset.step = next?.id ?? "";
    for (const f of this.querySelectorAll<HTMLElement>("[data-face]")) f.hidden = f.dataset.face !== view;
    for (const e of this.querySelectorAll<HTMLElement>("section[data-step], span[data-step]")) e.hidden = e.dataset.step !== next?.id;
    const reading = this.meaning(s);
    this.text("[data-last]", s.last ? this.words(s.last) : "nothing yet: the piece is fresh");
    this.text("[data-last-at]", s.last ? new Date(s.last.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }) : "");
    this.text("[data-undo-words]", s.last ? this.words(s.last) : "");
    this.text("[data-reading]", reading);
    this.text("[data-why]", s.again);
    this.hide("[data-reading]", !reading);
    for (const e of this.querySelectorAll<HTMLElement>("[data-unread]")) e.hidden = !!reading;
    this.hide("[data-waits]", !s.waiting);
    this.hide("[data-crossed]", !s.crossed);
    this.hide("[data-undo]", !s.last);
    this.hide("[data-pause]", view !== "step");
    this.hide("[data-measure]", s.cut === 0);
    const undo = this.querySelector<HTMLInputElement>("[data-undo] [name=undoes]");
    if (undo) undo.value = s.last?.id ?? "";
    const field = this.querySelector<HTMLInputElement>("#f-reading");
    if (field && (changed || !field.value)) field.value = next?.expect ?? "";
    const measure = this.querySelector<HTMLDetailsElement>("[data-measure]");
    if (measure && changed) measure.open = !!next?.first && !reading;
    this.state();
    this.querySelector<RecordPass>("record-pass")?.follow?.();
    if (changed && this.hasAttribute("data-ready")) {
      for (const c of this.querySelectorAll<HTMLInputElement>(".pc-sure input")) c.checked = false;
      scrollTo(0, 0);
    }
  }

  private state(): void {
    const n = this.pending().length;
    let words = this.trouble;
    if (!words && n && Date.now() - Date.parse(this.pending()[0].at) > slowAnswer) words = `${n} ${n === 1 ? "entry waits" : "entries wait"} on this device for the bench`;
    this.text("[data-state]", words);
    this.toggleAttribute("data-offline", !!words);
  }

  private text(selector: string, words: string): void {
    const e = this.querySelector(selector);
    if (e && e.textContent !== words) e.textContent = words;
  }

  private hide(selector: string, hidden: boolean): void {
    const e = this.querySelector<HTMLElement>(selector);
    if (e) e.hidden = hidden;
  }

  private words(e: Entry): string {
    const b = e.body, found = `${b.what} ${b.found}`;
    switch (e.kind) {
      case "step": return this.bundle.steps?.find((s) => s.id === b.step)?.then ?? `${b.step} confirmed`;
      case "measure": return `measured ${this.number(b.reading_mm ?? 0)} ${this.bundle.table.words}`;
      case "pick-up": return "thread picked up, both dials at 0 in the groove";
      case "check": return ({ "tip good": "tip looked at: whole", "tip bad": "tip chipped", "slip good": "witness line looked at: nothing has slipped", "slip bad": "work or tool has slipped", "count bad": "the scratch pass does not count right" } as Record<string, string>)[found] ?? "checked";
      case "record": return `recording: ${b.text ?? ""}`;
      case "resume": return ({ "moved": "taken up again: compound already moved", "not-moved": "taken up again: compound not moved yet", "unsure": "taken up again: not sure where the compound stood" } as Record<string, string>)[b.found ?? ""] ?? "taken up again";
    }
    return e.kind;
  }

  // number writes a reading as the dials and the sheet do: inches without the nought.
  private number(mm: number): string {
    const t = this.bundle.table;
    return (t.units === "in" ? mm / 25.4 : mm).toFixed(t.places);
  }

  // meaning says what the last reading leaves to feed, from the table in the bundle.
  private meaning(s: Standing): string {
    const mm = s.reading?.body.reading_mm, t = this.bundle.table, rows = t.rows ?? [];
    if (!mm) return "";
    const sign = t.internal ? -1 : 1, over = (mm - t.aim_mm) * sign;
    let verdict = "outside the limits", left = "";
    if (mm >= t.least_mm && mm <= t.most_mm) verdict = "inside the limits";
    else verdict = over > 0 ? "not at size yet" : "beyond the limits: too much is cut";
    if (rows.length && over <= 0) left = "nothing";
    else if (rows.length) {
      const last = rows[rows.length - 1].reading_mm;
      if ((mm - last) * sign > Math.abs(rows[0].reading_mm - last) / rows.length) verdict = "before the wires seat: this reading says nothing yet";
      else {
        const best = rows.reduce((a, b) => (Math.abs(b.reading_mm - mm) < Math.abs(a.reading_mm - mm) ? b : a));
        left = best === rows[0] ? "nothing" : best.left;
      }
    }
    let words = `${this.number(mm)} ${t.words}: ${verdict}`;
    if (left) words += `; left on the ${t.slide}: ${left}`;
    if (s.refused) words += `. No new plan: ${s.refused}`;
    return words;
  }

  private async submit(e: SubmitEvent): Promise<void> {
    const form = e.target as HTMLFormElement;
    if (!form.matches("[data-log]") || !this.drawer) return; // files, and browsers that keep nothing, send the form itself
    e.preventDefault();
    const f = new FormData(form, e.submitter), get = (k: string) => String(f.get(k) ?? "");
    const log = this.log(), s = fold(log), kind = get("kind"), body: Body = { after: s.cut };
    let undoes: string | undefined;
    switch (kind) {
      case "step":
        if (get("step") !== this.step(s)?.id || Date.now() - this.lastTap < 300) return;
        body.step = get("step");
        break;
      case "undo":
        if (!s.last) return;
        undoes = s.last.id;
        break;
      case "measure": {
        const mm = millimetres(get("reading"), this.bundle.table.units);
        if (mm === undefined) { this.trouble = `“${get("reading")}” is not a reading: write it like ${this.number(this.bundle.table.aim_mm)}`; this.state(); return; }
        body.reading_mm = mm;
        body.typed = get("reading");
        break;
      }
      case "note": body.text = get("text").trim(); break;
      case "check": case "resume": body.what = get("what"); body.found = get("found"); break;
    }
    this.lastTap = Date.now();
    this.trouble = "";
    await this.add(kind, body, undoes);
    if (kind === "note" || kind === "measure") { form.reset(); form.closest("details")?.removeAttribute("open"); this.show(); }
  }

  // add writes an entry, first into the browser's own store, and sends it.
  async add(kind: string, body: Body, undoes?: string): Promise<Kept> {
    const entry: Kept = { id: newID(), kind, plan: this.bundle.plan, body, at: new Date().toISOString(), seq: 0, piece: this.bundle.piece, order: ++this.order };
    if (undoes) entry.undoes = undoes;
    await this.drawer?.put([entry]);
    this.entries.set(entry.id, entry);
    this.show();
    void this.sync();
    return entry;
  }

  // recorded puts the list of files in place anew when the bench has a recording.
  recorded(): void {
    void fetch(location.pathname).then((r) => r.text()).then((text) => {
      const fresh = new DOMParser().parseFromString(text, "text/html").querySelector("[data-files]"), old = this.querySelector("[data-files]");
      if (fresh && old) old.replaceWith(document.importNode(fresh, true));
    }).catch(() => undefined);
  }

  // sync sends what waits and takes what other devices did. A second call while one
  // is under way is remembered.
  private async sync(): Promise<void> {
    if (this.sending) { this.again = true; return; }
    this.sending = true;
    clearTimeout(this.retry);
    try {
      const after = this.log().reduce((m, e) => Math.max(m, e.seq ?? 0), 0);
      const entries = this.pending().slice(0, 200).map(({ piece: _p, order: _o, seq: _s, ...e }) => e);
      const r = await fetch(`/pieces/${this.bundle.piece}/events`, {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ after, entries }), signal: AbortSignal.timeout(8000),
      });
      if (!r.ok) throw new Refusal(r.status, await r.text());
      const answer = (await r.json()) as { entries: Entry[]; plan: string };
      await this.drawer?.put(this.learn(answer.entries));
      this.trouble = "";
      this.wait = 2000;
      this.show();
      if (answer.plan !== this.bundle.plan) await this.renew();
      if (this.pending().length) this.again = true;
    } catch (e) {
      this.trouble = e instanceof Refusal ? e.words() : this.away();
      this.state();
      this.retry = window.setTimeout(() => void this.sync(), this.wait);
      this.wait = Math.min(this.wait * 1.5, 30_000);
    } finally {
      this.sending = false;
    }
    if (this.again) { this.again = false; void this.sync(); }
  }

  private away(): string {
    const n = this.pending().length;
    return "No network, go on: " + (n ? `${n} ${n === 1 ? "entry waits" : "entries wait"} here` : "all is kept here");
  }

  // renew fetches the page again after the bench has planned anew, and puts its steps in place.
  private async renew(): Promise<void> {
    const page = new DOMParser().parseFromString(await (await fetch(location.pathname)).text(), "text/html");
    const fresh = page.querySelector("bench-piece");
    if (!fresh) return;
    this.replaceChildren(...[...fresh.childNodes].map((n) => document.importNode(n, true)));
    this.read();
    this.lacks();
    this.show();
  }

  private nudge(e: Event): void {
    if (e.target instanceof Element && e.target.closest('a[href="#measure"]')) this.querySelector("[data-measure]")?.setAttribute("open", "");
    const b = e.target instanceof Element ? e.target.closest<HTMLElement>("[data-nudge]") : null;
    const field = this.querySelector<HTMLInputElement>("#f-reading");
    if (!b || !field) return;
    const t = this.bundle.table, mm = millimetres(field.value, t.units) ?? t.aim_mm;
    const step = t.units === "in" ? 0.0005 * 25.4 : 0.01;
    field.value = this.number(mm + Number(b.dataset.nudge) * step);
  }

  // key advances by the space bar, or by the volume key or a remote shutter where the
  // browser hands those on: usable with the phone behind a sheet of film.
  private key(e: KeyboardEvent): void {
    if (e.repeat || e.ctrlKey || e.altKey || e.metaKey) return;
    const volume = /^(Audio)?Volume(Up|Down)$/.test(e.key) || e.key === "MediaTrackNext";
    const on = e.target instanceof Element ? e.target.closest("input, textarea, select, button, a, summary") : null;
    if (!volume && (e.key !== " " || on)) return;
    if (this.dataset.view !== "step" || Date.now() - this.lastTap < betweenTaps) return;
    const go = this.querySelector<HTMLButtonElement>(".pc-step:not([hidden]) [data-go]");
    if (!go || passNumber(this.dataset.step) === 0) return; // gates are read, not skipped through
    e.preventDefault();
    go.form?.requestSubmit(go);
  }

  private async stayAwake(): Promise<void> {
    if (document.hidden || !("wakeLock" in navigator) || (this.awake && !this.awake.released)) return;
    try { this.awake = await navigator.wakeLock.request("screen"); } catch { /* low battery: the browser may refuse */ }
  }

  // lacks says what the browser withholds on this connection.
  private lacks(): void {
    const box = this.querySelector<HTMLElement>("[data-lacks]");
    if (!box || isSecureContext) { if ("serviceWorker" in navigator) void navigator.serviceWorker.register("/offline.js").catch(() => undefined); return; }
    box.hidden = false;
    box.className = "pc-lacks";
    box.innerHTML = "<p>On a plain connection the browser withholds three things: keeping the screen on, opening this page anew without the network, and recording inside the page. Keep the page open and set the screen to stay on; the phone’s own recorder does the rest. <a href=\"/devices\">HTTPS adds them</a>.</p>";
  }
}

class Refusal extends Error {
  constructor(private status: number, private body: string) { super(); }
  words(): string {
    if (this.status === 401 || this.status === 403) return "The bench does not know this device any more: pair it again. Nothing is lost here.";
    try { return `The bench did not take an entry: ${(JSON.parse(this.body) as { title: string }).title}`; } catch { return `The bench answered ${this.status}; what was tapped stays here and is sent again.`; }
  }
}

// millimetres reads what was typed: the sheet's unit unless another stands behind it.
function millimetres(text: string, units: string): number | undefined {
  const m = /^\s*([0-9]*[.,]?[0-9]+)\s*(mm|in|")?\s*$/.exec(text);
  if (!m) return undefined;
  const v = Number(m[1].replace(",", "."));
  const mm = (m[2] ?? units) === "mm" ? v : v * 25.4;
  return mm > 0 && mm <= 1000 ? mm : undefined;
}
