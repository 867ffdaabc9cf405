/**
 * Sets one tube's picture to a moment of its history: the attributes that the server's own picture has, and no
 * others. What has not changed is left alone, so that a frame costs little.
 */
import { warmth } from "./history.js";

function byShell(svg, selector) {
  const found = [];
  for (const element of svg.querySelectorAll(selector)) {
    const shell = Number(element.dataset.s);
    (found[shell] ??= []).push(element);
  }
  return found;
}

export class Picture {
  /** @param {SVGElement} svg */
  constructor(svg) {
    this.heat = byShell(svg, ".heat[data-s]");
    this.glass = svg.querySelector(".heat[data-glass]");
    this.granules = byShell(svg, ".granule");
    this.chains = byShell(svg, ".chain");
    this.enzymes = byShell(svg, ".enzyme");
    this.stirrer = svg.querySelector(".stirrer");
    this.granule = Number(svg.dataset.granule);
    this.gap = svg.dataset.gap;
    this.last = new Map();
  }

  /** Set an attribute of some elements, unless it is so already. */
  set(key, elements, name, value) {
    if (!elements || this.last.get(key) === value) return;
    this.last.set(key, value);
    for (const element of elements) element.setAttribute(name, value);
  }

  draw(now) {
    this.set("glass", [this.glass], "fill-opacity", warmth(now.glass).toFixed(3));
    now.temp.forEach((celsius, s) => {
      this.set(`t${s}`, this.heat[s], "fill-opacity", warmth(celsius).toFixed(3));
      this.set(`g${s}`, this.granules[s], "r", (this.granule * (1 + now.swollen[s])).toFixed(3));
      this.set(`o${s}`, this.chains[s], "stroke-opacity", now.swollen[s].toFixed(3));
      const piece = (100 * Math.exp(-now.cuts[s])).toFixed(3);
      this.set(`c${s}`, this.chains[s], "stroke-dasharray", `${piece} ${this.gap}`);
      for (const mark of this.enzymes[s] ?? []) {
        const gone = now.left[s] < Number(mark.dataset.u) ? "hidden" : "visible";
        this.set(mark, [mark], "visibility", gone);
      }
    });
    const { top, bottom } = this.stirrer.dataset;
    const y = Number(top) + now.down * (Number(bottom) - Number(top));
    this.set("stirrer", [this.stirrer], "transform", `translate(0 ${y.toFixed(2)})`);
  }
}
