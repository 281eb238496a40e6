// What is entered at a visit, kept on this device until the farm has it: entries in order, photos beside them.

const AGAIN_MS = 4000;

// Photos are too large for the place where entries are kept; where a browser has none for them, the page holds them.
const held = new Map();
const opened = new Promise((done) => {
  try {
    const asked = indexedDB.open("feedwright photos", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("photos");
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => done(null);
  } catch {
    done(null);
  }
});

async function inStore(mode, what) {
  const base = await opened;
  if (!base) return undefined;
  return new Promise((done, fail) => {
    const act = base.transaction("photos", mode);
    const asked = what(act.objectStore("photos"));
    act.oncomplete = () => done(asked.result);
    act.onerror = () => fail(act.error);
    act.onabort = () => fail(act.error);
  });
}

async function keepPhoto(key, blob) {
  held.set(key, blob);
  await inStore("readwrite", (store) => store.put(blob, key)).catch(() => undefined);
}

async function photoOf(key) {
  return held.get(key) || (await inStore("readonly", (store) => store.get(key)).catch(() => undefined));
}

async function dropPhoto(key) {
  held.delete(key);
  await inStore("readwrite", (store) => store.delete(key)).catch(() => undefined);
}

/**
 * The entries of one visit. `told` hears after every change how it stands: "kept", "offline" or "signed out";
 * `refused` hears of an entry that the farm does not take, and why; `taken` of one that it has.
 */
export class Entries {
  constructor(visit, base, { told, refused, taken }) {
    this.place = `feedwright visit ${visit}`;
    Object.assign(this, { base, told, refused, taken, sending: false, again: 0, last: 0, sent: 0 });
  }

  get waiting() {
    return JSON.parse(localStorage.getItem(this.place) || "[]");
  }

  put(entries) {
    localStorage.setItem(this.place, JSON.stringify(entries));
  }

  /** Keep an entry, and its photo first, so that neither is ever without the other. */
  async add(entry, photo) {
    this.last = Math.max(Date.now(), this.last + 1); // two in one moment stay in order
    const key = `${this.last.toString(36)}-${Math.random().toString(36).slice(2, 12)}`;
    if (photo) await keepPhoto(key, photo);
    const whole = { ...entry, entry_key: key, at: new Date(this.last).toISOString(), photographed: photo ? "yes" : "" };
    this.put([...this.waiting, whole]);
  }

  /** Forget what waits for a step, before the farm has it; true where something did. */
  async forget(step) {
    const gone = this.sending ? [] : this.waiting.filter((entry) => entry.step === step);
    this.put(this.waiting.filter((entry) => !gone.some((one) => one.entry_key === entry.entry_key)));
    await Promise.all(gone.map((entry) => dropPhoto(entry.entry_key)));
    return gone.length > 0;
  }

  async send() {
    if (this.sending) return;
    this.sending = true;
    clearTimeout(this.again);
    try {
      for (let entry = this.waiting[0]; entry; entry = this.waiting[0]) {
        if (!(await this.sendOne(entry))) return;
      }
      this.told("kept");
    } catch {
      this.later("offline");
    } finally {
      this.sending = false;
    }
  }

  /** True where the farm has answered for good; an answer of anybody else leaves the entry where it is. */
  async sendOne(entry) {
    const { photographed, ...fields } = entry;
    const body = new FormData();
    for (const [name, value] of Object.entries(fields)) body.append(name, value);
    const photo = photographed ? await photoOf(entry.entry_key) : null;
    if (photo) body.append("photo", photo, "photo.jpg");
    const answer = await fetch(`${this.base}/entries`, { method: "POST", body, headers: { Accept: "application/json" } });
    const spoke = (answer.headers.get("Content-Type") || "").includes("application/json") && !answer.redirected;
    if ([401, 403].includes(answer.status) || (answer.ok && !spoke)) {
      this.later("signed out");
      return false;
    }
    if (!answer.ok && !(spoke && [404, 409, 422].includes(answer.status))) throw new Error("the farm does not answer");
    const said = await answer.json();
    this.put(this.waiting.filter((one) => one.entry_key !== entry.entry_key));
    this.sent += 1;
    await dropPhoto(entry.entry_key);
    if (answer.ok) this.taken(entry, answer.headers.get("As-Of"));
    else this.refused(entry, said);
    return true;
  }

  later(how) {
    this.told(how);
    this.again = setTimeout(() => this.send(), AGAIN_MS);
  }
}

/** What the farm last said of a visit, and when: it stands beside a page that was kept from earlier. */
export class LastSaid {
  constructor(visit, pageAt) {
    this.place = `feedwright visit ${visit} said`;
    const before = JSON.parse(localStorage.getItem(this.place) || "null");
    this.later = before && Date.parse(before.at) >= Date.parse(pageAt) ? before : null;
    this.at = this.later?.at || pageAt;
  }

  keep(at, closed) {
    this.at = at;
    localStorage.setItem(this.place, JSON.stringify({ at, closed }));
  }
}
