// What was touched, kept on this device before anything else happens with it.
//
// Two shelves. localStorage is written before the call returns, so that a tab closed or reloaded at once finds every
// touch again, on plain http too. IndexedDB, asked to be strict, is on the disk itself a moment later, which
// localStorage need not be for seconds: it stands for a battery that dies. What is found on either is there; an event
// found on both is one event, by its identifier.

const SHELF = "evenblow-pads";

function made(length) {
  const letters = "abcdefghijklmnopqrstuvwxyz0123456789";
  return [...crypto.getRandomValues(new Uint8Array(length))].map((byte) => letters[byte % 36]).join("");
}

function database() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(SHELF, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("events", { keyPath: "key" });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

export class Log {
  // key: contest, entry and judge; anyKept: called when another tab of this device has added something.
  constructor(key, changed) {
    this.prefix = `evenblow:${key}:`;
    this.events = new Map();
    this.isKept = true;
    this.device = this.#deviceName();
    this.#read();
    this.database = database().catch(() => null);
    window.addEventListener("storage", (event) => {
      if (!event.key?.startsWith(this.prefix)) return;
      this.#read();
      changed();
    });
  }

  // Events that only the second shelf has, such as after the browser was cleared or the battery died.
  async recover() {
    const shelf = await this.database;
    if (!shelf) return;
    const range = IDBKeyRange.bound(this.prefix, `${this.prefix}\uffff`);
    const found = await new Promise((resolve) => {
      const asked = shelf.transaction("events").objectStore("events").getAll(range);
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve([]);
    });
    found.filter(({ event }) => !this.events.has(event.id)).forEach(({ event }) => {
      this.events.set(event.id, event);
      this.#write(event);
    });
  }

  add(event) {
    const seq = Math.max(0, ...this.own.map((one) => one.seq)) + 1;
    const whole = { id: made(16), device: this.device, seq, ...event };
    this.events.set(whole.id, whole);
    this.#write(whole);
    this.database.then((shelf) => {
      if (!shelf) return;
      const writing = shelf.transaction("events", "readwrite", { durability: "strict" });
      writing.objectStore("events").put({ key: this.prefix + whole.id, event: whole });
    }).catch(() => {}); // the first shelf has it
    return whole;
  }

  get own() {
    return [...this.events.values()];
  }

  get unsent() {
    return this.own.filter((event) => !event.is_sent && !event.refused).sort((a, b) => a.seq - b.seq);
  }

  note(id, what) {
    const event = this.events.get(id);
    if (!event) return;
    Object.assign(event, what);
    this.#write(event);
  }

  #read() {
    try {
      for (let i = 0; i < localStorage.length; i += 1) {
        const key = localStorage.key(i);
        if (!key.startsWith(this.prefix)) continue;
        const event = JSON.parse(localStorage.getItem(key));
        this.events.set(event.id, { ...event, ...(this.events.get(event.id)?.is_sent && { is_sent: true }) });
      }
    } catch {
      this.isKept = false;
    }
  }

  #write(event) {
    try {
      localStorage.setItem(this.prefix + event.id, JSON.stringify(event));
    } catch {
      this.isKept = false; // a private window, or a full disk: the page says so, and goes on in memory
    }
  }

  #deviceName() {
    try {
      const known = localStorage.getItem("evenblow:device");
      if (known) return known;
      const name = made(8);
      localStorage.setItem("evenblow:device", name);
      return name;
    } catch {
      this.isKept = false;
      return made(8);
    }
  }
}
