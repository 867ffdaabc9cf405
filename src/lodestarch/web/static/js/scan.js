/**
 * Tells what fast fingers mean. Keys that follow each other closer than PACE_MS are one burst.
 * A scanner sends a whole code in one burst and ends it with Enter; a person presses one key, or two for a
 * place. So a burst waits until it is over, and is then either a scan or a few keys.
 */
export const PACE_MS = 50;
const SHORTEST_CODE = 3;

export class Burst {
  /** @param {(code: string) => void} onScan @param {(keys: string[]) => void} onKeys */
  constructor(onScan, onKeys) {
    this.onScan = onScan;
    this.onKeys = onKeys;
    this.keys = [];
    this.last = 0;
    this.timer = 0;
  }

  /**
   * Take one key; true where it ended a scan and means nothing else.
   * @param {string} key @param {number} at when it was pressed, so that a busy page does not slow a scan
   */
  take(key, at) {
    if (at - this.last > PACE_MS) this.end();
    this.last = at;
    clearTimeout(this.timer);
    if (key === "Enter") {
      const code = this.keys.join("");
      const scanned = code.length >= SHORTEST_CODE;
      if (scanned) {
        this.keys = [];
        this.onScan(code);
      } else {
        this.end();
      }
      return scanned;
    }
    this.keys.push(key);
    this.timer = setTimeout(() => this.end(), PACE_MS);
    return false;
  }

  /** The burst is over: what it holds are keys. */
  end() {
    clearTimeout(this.timer);
    const keys = this.keys;
    this.keys = [];
    if (keys.length > 0) this.onKeys(keys);
  }
}
