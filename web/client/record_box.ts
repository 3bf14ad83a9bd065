// The recordings that this device holds and the bench does not have yet. They lie in
// the browser's own store, a few seconds at a time while they are made: a page that is
// closed, a flat battery or a lost network lose no more than the last seconds.

// Passes says to which step of which piece a recording belongs.
export type Passes = { piece: string; step: string; event: string };

// Take is one recording. It is done when the microphone was let go.
export type Take = {
  id: string; key: string; name: string; at: string; rate: number; frames: number; blocks: number; done: boolean;
  peak: number; clipped: boolean; levelled: boolean; passes?: Passes; sent?: number;
};

export const seconds = (t: Take): number => t.frames / t.rate;

export class TakeBox {
  private held = new Map<string, Blob[]>(); // of a browser that keeps nothing
  private takes = new Map<string, Take>();
  private constructor(private db?: IDBDatabase) {}

  private static opened?: Promise<TakeBox>;

  static open(): Promise<TakeBox> {
    return (TakeBox.opened ??= new Promise((ok) => {
      try {
        const r = indexedDB.open("thrum-sound", 1);
        r.onupgradeneeded = () => { r.result.createObjectStore("takes", { keyPath: "id" }); r.result.createObjectStore("blocks"); };
        r.onsuccess = () => ok(new TakeBox(r.result));
        r.onerror = () => ok(new TakeBox());
      } catch { ok(new TakeBox()); }
    }));
  }

  // keeps tells whether recordings outlive the page.
  get keeps(): boolean { return !!this.db; }

  // put writes what is known of a recording, and its next stretch of sound.
  put(t: Take, pcm?: Blob): Promise<void> {
    const db = this.db;
    if (!db) {
      this.takes.set(t.id, { ...t });
      if (pcm) this.held.set(t.id, [...(this.held.get(t.id) ?? []), pcm]);
      return Promise.resolve();
    }
    return done(db.transaction(["takes", "blocks"], "readwrite", { durability: "strict" }), (tx) => {
      if (pcm) tx.objectStore("blocks").put(pcm, [t.id, t.blocks - 1]);
      tx.objectStore("takes").put({ ...t });
    });
  }

  // all lists the recordings under a key, the oldest first.
  async all(key: string): Promise<Take[]> {
    const list = this.db ? await got<Take[]>(this.db.transaction("takes").objectStore("takes").getAll()) : [...this.takes.values()];
    return list.filter((t) => t.key === key).sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  // file makes a WAV of a recording: 16 bits, one channel, at the microphone's rate.
  async file(t: Take): Promise<File> {
    const blocks = this.db ? await got<Blob[]>(this.db.transaction("blocks").objectStore("blocks").getAll(within(t.id))) : this.held.get(t.id) ?? [];
    const bytes = blocks.reduce((n, b) => n + b.size, 0);
    return new File([wavHead(bytes, 1, t.rate), ...blocks], t.name, { type: "audio/wav" });
  }

  remove(id: string): Promise<void> {
    this.takes.delete(id);
    this.held.delete(id);
    const db = this.db;
    if (!db) return Promise.resolve();
    return done(db.transaction(["takes", "blocks"], "readwrite"), (tx) => {
      tx.objectStore("takes").delete(id);
      tx.objectStore("blocks").delete(within(id));
    });
  }
}

const within = (id: string): IDBKeyRange => IDBKeyRange.bound([id, 0], [id, Infinity]);

function done(tx: IDBTransaction, act: (tx: IDBTransaction) => void): Promise<void> {
  return new Promise((ok, no) => {
    tx.oncomplete = () => ok();
    tx.onerror = tx.onabort = () => no(tx.error);
    act(tx);
  });
}

function got<T>(r: IDBRequest): Promise<T> {
  return new Promise((ok, no) => { r.onsuccess = () => ok(r.result as T); r.onerror = () => no(r.error); });
}

// wavHead is the head of a WAV file with so many bytes of 16-bit samples.
export function wavHead(bytes: number, channels: number, rate: number): ArrayBuffer {
  const out = new DataView(new ArrayBuffer(44));
  const word = (at: number, s: string) => { for (let i = 0; i < 4; i++) out.setUint8(at + i, s.charCodeAt(i)); };
  word(0, "RIFF"); out.setUint32(4, 36 + bytes, true); word(8, "WAVE");
  word(12, "fmt "); out.setUint32(16, 16, true); out.setUint16(20, 1, true); out.setUint16(22, channels, true);
  out.setUint32(24, rate, true); out.setUint32(28, rate * 2 * channels, true);
  out.setUint16(32, 2 * channels, true); out.setUint16(34, 16, true);
  word(36, "data"); out.setUint32(40, bytes, true);
  return out.buffer as ArrayBuffer;
}
