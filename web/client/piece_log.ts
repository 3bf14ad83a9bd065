// The log of a piece as the bench reads it: the same log gives the same standing
// here and there (package piece; both are held to the same cases).

export type Body = {
  step?: string; reading_mm?: number; typed?: string; after?: number; what?: string; found?: string;
  text?: string; cause?: string; fresh?: boolean; refused?: string;
};
export type Entry = { id: string; kind: string; undoes?: string; plan: string; body: Body; at: string; seq?: number; device?: string };
export type Standing = {
  done: Set<string>; cut: number; last?: Entry; lastStep: string; paused: boolean; crossed: boolean; again: string;
  waiting?: Entry; reading?: Entry; fresh: boolean; refused: string; plans: Entry[];
};

const undoable = new Set(["step", "measure", "check", "pick-up", "resume"]);

export function passNumber(step: string | undefined): number {
  const m = /^pass-(\d{1,4})$/.exec(step ?? "");
  return m ? Number(m[1]) : 0;
}

// effective leaves away what was taken back, and the undos themselves.
function effective(log: Entry[]): Entry[] {
  const gone = new Set<number>(), at = new Map<string, number>();
  log.forEach((e, i) => {
    at.set(e.id, i);
    if (e.kind !== "undo") return;
    gone.add(i);
    const j = at.get(e.undoes ?? "");
    if (j === undefined || j === i) return;
    gone.add(j);
    if (log[j].kind !== "step") return;
    for (let k = 0; k < i; k++) if (log[k].kind === "step" && log[k].body.step === log[j].body.step) gone.add(k);
  });
  return log.filter((_, i) => !gone.has(i));
}

export function fold(log: Entry[]): Standing {
  const s: Standing = { done: new Set(), cut: 0, lastStep: "", paused: false, crossed: false, again: "", fresh: false, refused: "", plans: [] };
  const all = effective(log), present = new Set(all.map((e) => e.id)), answered = new Map<string, Entry>();
  for (const e of all) {
    const b = e.body;
    switch (e.kind) {
      case "step":
        s.done.add(b.step ?? "");
        s.lastStep = b.step ?? "";
        s.paused = false;
        if (passNumber(b.step)) { s.reading = undefined; s.fresh = false; }
        break;
      case "pause": s.paused = true; break;
      case "resume":
        s.paused = false;
        if (b.found === "unsure") s.again = "it is not sure where the compound stood";
        break;
      case "measure": s.reading = e; break;
      case "pick-up": s.fresh = true; s.again = ""; break;
      case "check":
        if (b.what === "tip" && b.found === "bad") s.again = "the tip is chipped: regrind or turn the insert";
        if (b.what === "slip" && b.found === "bad") s.again = "work or tool has slipped";
        break;
      case "new-plan":
        if (!present.has(b.cause ?? "")) continue;
        answered.set(b.cause!, e);
        if (!b.refused) s.plans.push(e);
    }
    if (undoable.has(e.kind)) s.last = e;
  }
  while (s.done.has(`pass-${s.cut + 1}`)) s.cut++;
  for (const step of s.done) if (passNumber(step) > s.cut) s.crossed = true;
  for (const e of all.reverse()) {
    if (e.kind === "step" && passNumber(e.body.step)) break;
    if (e.kind !== "measure" && e.kind !== "pick-up") continue;
    const a = answered.get(e.id);
    if (a) s.refused = a.body.refused ?? ""; else s.waiting = e;
    break;
  }
  return s;
}

// newID makes a UUID of version 7, later ones sorting later. It needs no secure
// connection, unlike the browser's own.
let lastMs = 0, count = 0;
export function newID(): string {
  const b = crypto.getRandomValues(new Uint8Array(16));
  const now = Date.now();
  if (now > lastMs) { lastMs = now; count = 0; } else if (++count > 0xfff) { lastMs++; count = 0; }
  for (let i = 0, t = lastMs; i < 6; i++, t = Math.floor(t / 256)) b[5 - i] = t % 256;
  b[6] = 0x70 | (count >> 8);
  b[7] = count & 0xff;
  b[8] = 0x80 | (b[8] & 0x3f);
  const h = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}

// Kept is an entry in the browser's own store; order is that of the taps.
export type Kept = Entry & { piece: string; order: number };

// Drawer is the browser's own store of entries. What is put in is on the disk
// before put ends, so that a flat battery loses nothing that was shown as done.
export class Drawer {
  private constructor(private db: IDBDatabase) {}

  static open(): Promise<Drawer> {
    return new Promise((ok, no) => {
      const r = indexedDB.open("thrum", 1);
      r.onupgradeneeded = () => r.result.createObjectStore("entries", { keyPath: "id" }).createIndex("piece", "piece");
      r.onsuccess = () => ok(new Drawer(r.result));
      r.onerror = () => no(r.error);
    });
  }

  put(entries: Kept[]): Promise<void> {
    return new Promise((ok, no) => {
      const t = this.db.transaction("entries", "readwrite", { durability: "strict" });
      for (const e of entries) t.objectStore("entries").put(e);
      t.oncomplete = () => ok();
      t.onerror = t.onabort = () => no(t.error);
    });
  }

  all(piece: string): Promise<Kept[]> {
    return new Promise((ok, no) => {
      const r = this.db.transaction("entries").objectStore("entries").index("piece").getAll(piece);
      r.onsuccess = () => ok(r.result as Kept[]);
      r.onerror = () => no(r.error);
    });
  }
}
