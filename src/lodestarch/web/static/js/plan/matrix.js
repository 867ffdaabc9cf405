/**
 * Cells of the allocation. Tonnes typed into one settle that draw, an emptied one lets it go; the rest is
 * planned anew once the hand has rested. Until then the plan before stays, greyed. Enter and the arrows move.
 */
import { keep, restore } from "../bench/drafts.js";
import { cursor, putBack } from "../bench/parts.js";
import { putPieces } from "./pieces.js";

const REST_MS = 600;
const AGAIN_MS = 500;
const CELL = "input[data-bin]";

export class Matrix {
  /** @param {HTMLElement} box @param {import("../bench/outbox.js").Outbox} outbox */
  constructor(box, outbox) {
    this.box = box;
    this.outbox = outbox;
    this.fault = document.getElementById("draw-fault");
    this.progress = document.getElementById("progress");
    this.timers = new Map();
    this.asked = 0;
    box.addEventListener("input", (event) => this.typed(event.target));
    box.addEventListener("keydown", (event) => this.key(event));
    box.addEventListener("click", (event) => this.clicked(event));
    restore(box);
    if (box.querySelector(".looking, [data-whole=no]")) this.look(AGAIN_MS);
  }

  grey(on) {
    this.box.classList.toggle("old", on);
    this.box.setAttribute("aria-busy", String(on));
  }

  typed(field) {
    if (!field.matches(CELL)) return;
    keep(field);
    this.asked += 1; // an answer to what stood before is no longer wanted
    this.grey(true);
    clearTimeout(this.timers.get(field));
    this.timers.set(field, setTimeout(() => this.send(field), REST_MS));
  }

  key(event) {
    const field = event.target;
    if (!field.matches(CELL)) return;
    const step = { ArrowDown: [1, 0], ArrowUp: [-1, 0], Enter: [event.shiftKey ? -1 : 1, 0] }[event.key];
    if (!step) return;
    event.preventDefault();
    if (event.key === "Enter" && (field.value !== field.defaultValue || this.timers.has(field))) this.send(field);
    let row = Number(field.dataset.row);
    for (;;) {
      row += step[0];
      if (!this.box.querySelector(`input[data-row="${row}"]`) && (row < 0 || row > 2000)) return;
      const next = this.box.querySelector(`input[data-row="${row}"][data-column="${field.dataset.column}"]`);
      if (next) {
        next.focus();
        next.select();
        return;
      }
    }
  }

  clicked(event) {
    const button = event.target.closest("[data-let-go]");
    if (!button) return;
    this.grey(true);
    this.outbox.add(this.box.dataset.draws, { bin: button.dataset.letGo, to: button.dataset.to, tonnes: "" });
  }

  async send(field) {
    clearTimeout(this.timers.get(field));
    this.timers.delete(field);
    const { bin, to } = field.dataset;
    await this.outbox.add(this.box.dataset.draws, { bin, to, tonnes: field.value });
    field.defaultValue = field.value;
    keep(field); // it is in the outbox now
  }

  /** True where the entry was one of this page's. */
  taken(entry) {
    const steps = /\/plan\/allocate\/(draws|back|forth)$/;
    if (!steps.test(entry.path)) return false;
    if (this.timers.size === 0) this.look(0);
    return true;
  }

  async refused(entry, said) {
    if (entry.path !== this.box.dataset.draws) return false;
    const at = `input[data-bin="${CSS.escape(entry.body.bin)}"][data-to="${CSS.escape(entry.body.to)}"]`;
    const field = this.box.querySelector(at);
    this.fault.textContent = said.findings.map((f) => `${f.wrong}. ${f.do}`.trim()).join(" ");
    this.fault.hidden = false;
    if (field) {
      field.value = entry.body.tonnes;
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", this.fault.id);
      field.focus();
    }
    this.grey(false);
    await this.outbox.drop(entry.id);
    return true;
  }

  async look(after) {
    const mine = ++this.asked;
    if (after) await new Promise((done) => setTimeout(done, after));
    if (mine !== this.asked) return;
    try {
      const response = await fetch(this.box.dataset.answer, { headers: { Accept: "text/html" } });
      const html = await response.text();
      if (mine !== this.asked) return;
      if (response.status === 202) {
        this.waiting(html);
        this.look(AGAIN_MS);
      } else if (response.ok) this.put(html);
    } catch {
      this.look(4 * AGAIN_MS);
    }
  }

  /** Say how long it has been looked for; the plan before stays where it is. */
  waiting(html) {
    const said = document.createElement("template");
    said.innerHTML = html;
    const line = said.content.querySelector(".progress-said")?.textContent ?? "";
    this.grey(true);
    this.progress.textContent = line;
  }

  put(html) {
    this.progress.textContent = "";
    const kept = cursor(this.box);
    // A cell that holds the cursor and is not being typed into takes the number of the new plan.
    const idle = document.activeElement?.value === document.activeElement?.defaultValue;
    const scrolled = this.box.querySelector(".matrix-scroll")?.scrollLeft ?? 0;
    putPieces(this.box, html);
    this.grey(false);
    this.fault.hidden = true;
    const scroll = this.box.querySelector(".matrix-scroll");
    if (scroll) scroll.scrollLeft = scrolled;
    if (kept && idle) kept.value = null;
    putBack(this.box, kept);
    if (this.box.querySelector("[data-whole=no]")) this.look(AGAIN_MS);
  }
}
