/**
 * Fast keys inside a field. A scanner and a balance are keyboards that never tire: their keys follow each
 * other closer than PACE_MS, and Enter ends them.
 *
 * - A code that the page knows is a scan wherever it lands: the field gets back what it held, the ticket opens.
 * - In a mass field other fast keys are the balance, and stay.
 * - In any other number field fast keys are taken back, and the page says so; a person is never that fast.
 */
import { PACE_MS } from "../scan.js";

const SHORTEST = 3;
const GUARDED = ["number", "seconds"];

export class Pace {
  /**
   * @param {(code: string) => boolean} onScan true where the code is a ticket's
   * @param {(text: string) => void} onUnknown
   */
  constructor(onScan, onUnknown) {
    this.onScan = onScan;
    this.onUnknown = onUnknown;
    this.forget();
    document.addEventListener("keydown", (event) => this.key(event), { capture: true });
  }

  forget() {
    this.field = null;
    this.text = "";
    this.last = 0;
    this.before = "";
  }

  key(event) {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || event.ctrlKey || event.altKey || event.metaKey) return;
    const fast = field === this.field && event.timeStamp - this.last <= PACE_MS;
    this.last = event.timeStamp;
    if (event.key === "Enter") {
      if (fast && this.text.length >= SHORTEST) this.burst(event, field);
      this.forget();
    } else if (event.key.length === 1) {
      if (!fast) {
        this.field = field;
        this.text = "";
        this.before = field.value;
      }
      this.text += event.key;
    }
  }

  burst(event, field) {
    const text = this.text.trim();
    const kind = field.dataset.kind ?? "";
    if (kind !== "code" && this.onScan(text)) {
      this.takeBack(event, field, this.before);
    } else if (GUARDED.includes(kind)) {
      this.takeBack(event, field, this.before);
      this.onUnknown(text);
    } else if (kind === "mass") {
      // The balance speaks for the whole field; what stood there was an earlier weighing.
      field.value = text.replace(/[^\d.,]/g, "");
      field.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }

  takeBack(event, field, before) {
    event.preventDefault();
    event.stopImmediatePropagation();
    field.value = before;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}
