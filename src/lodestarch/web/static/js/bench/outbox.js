/**
 * Entries that wait to be sent. Each has an id made here; the workbench takes an id once, so an entry whose
 * answer was lost is simply sent again. They lie in the browser's own database, written through to the disk
 * before a field is emptied, and outlive a reload, a restart of the workbench and a closed browser.
 *
 * Sent one after the other, in the order in which they were made, by one page at a time.
 */
const NAME = "lodestarch outbox";
const STORE = "entries";
const LOCK = "lodestarch outbox";
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 8000;
const ANSWER_MS = 10_000;

function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function opened() {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
  return asked(request);
}

function finished(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

export class Outbox extends EventTarget {
  constructor() {
    super();
    this.database = opened();
    this.wait = FIRST_WAIT_MS;
    this.timer = 0;
    this.last = 0;
    this.why = "";
    addEventListener("online", () => this.soon(0));
    document.addEventListener("visibilitychange", () => document.hidden || this.soon(0));
  }

  /** Every entry that is not taken yet, the oldest first. */
  async list() {
    const store = (await this.database).transaction(STORE).objectStore(STORE);
    return (await asked(store.getAll())).sort((a, b) => a.order - b.order);
  }

  async change(act) {
    const transaction = (await this.database).transaction(STORE, "readwrite", { durability: "strict" });
    act(transaction.objectStore(STORE));
    await finished(transaction);
    this.dispatchEvent(new Event("change"));
  }

  /** Keep an entry, then send it. Resolves when it is kept. */
  async add(path, body) {
    this.last = Math.max(Date.now(), this.last + 1);
    const made = { ...body, made_at: new Date().toISOString() };
    const entry = { id: crypto.randomUUID(), order: this.last, path, body: made, state: "waiting" };
    await this.change((store) => store.add(entry));
    this.soon(0);
    return entry;
  }

  /** Forget an entry that was not taken. */
  drop(id) {
    return this.change((store) => store.delete(id));
  }

  soon(after) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => navigator.locks.request(LOCK, () => this.send()), after);
  }

  async send() {
    for (const entry of await this.list()) {
      if (entry.state !== "waiting") continue;
      const answer = await this.post(entry);
      if (answer.again) {
        this.told(answer.why);
        this.soon(this.wait);
        this.wait = Math.min(this.wait * 2, LONGEST_WAIT_MS);
        return;
      }
      this.wait = FIRST_WAIT_MS;
      this.why = "";
      if (answer.taken) await this.change((store) => store.delete(entry.id));
      else await this.change((store) => store.put({ ...entry, state: "refused", findings: answer.findings }));
      this.dispatchEvent(new CustomEvent(answer.taken ? "taken" : "refused", { detail: { entry, answer } }));
    }
  }

  told(why) {
    this.why = why;
    this.dispatchEvent(new Event("change"));
  }

  async post(entry) {
    try {
      const response = await fetch(entry.path, {
        method: "POST",
        headers: { "Content-Type": "application/json", "Idempotency-Key": entry.id },
        body: JSON.stringify(entry.body),
        signal: AbortSignal.timeout(ANSWER_MS),
      });
      const said = await response.json();
      if (response.ok && said.taken) return { taken: true, findings: said.findings };
      if (response.status === 401) return { again: true, why: "nobody" };
      // A refusal of the guard's does not say "taken": the workbench was started anew, or is not ours.
      if (response.status >= 500 || !("taken" in said)) return { again: true, why: "offline" };
      const findings = said.findings.length ? said.findings : [{ wrong: said.detail.replace(/\.$/, ""), do: "" }];
      return { taken: false, findings };
    } catch {
      return { again: true, why: "offline" };
    }
  }
}
