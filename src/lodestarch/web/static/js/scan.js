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
    this.timer = 0;
  }

  /** Take one key; true where it ended a scan and means nothing else. */
  take(key) {
    clearTimeout(this.timer);
    if (key === "Enter") {
      const code = this.keys.join("");
      this.keys = [];
      const scanned = code.length >= SHORTEST_CODE;
      if (scanned) this.onScan(code);
      return scanned;
    }
    this.keys.push(key);
    this.timer = setTimeout(() => {
      const keys = this.keys;
      this.keys = [];
      this.onKeys(keys);
    }, PACE_MS);
    return false;
  }
}
