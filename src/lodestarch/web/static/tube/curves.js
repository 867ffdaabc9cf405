/** The four curves: one line through all of them at the moment shown, what each is there, and a way to point. */
import { FALLING } from "./history.js";

const WIDTH = 1000; // the curves' own units from end to end

/** Write a number as the server does: a true minus, and none before a zero. */
export function plain(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `\u2212${text}` : text;
}

export function values(history, now) {
  return {
    temperature: plain(history.mean(now.temp), 0),
    enzyme: plain(history.activity * history.mean(now.left), 1),
    strength: plain(now.strength, 2),
    fall: plain(100 * now.fallen, 0),
  };
}

/** What the stirrer does and how warm it is, by the words that the page brought along. */
export function state(history, now, words) {
  let phase = now.phase === 0 ? words.waiting : words.stirring;
  if (now.phase >= FALLING) phase = words.falling.replace("{share}", plain(100 * now.fallen, 0));
  if (now.over) phase = words.read.replace("{seconds}", plain(history.seconds, 0));
  return words.state
    .replace("{phase}", phase)
    .replace("{core}", plain(now.temp[0], 0))
    .replace("{wall}", plain(now.temp.at(-1), 0));
}

export class Curves {
  /**
   * @param {HTMLElement} section
   * @param {(seconds: number) => void} pointed hears of a moment that somebody points at
   */
  constructor(section, pointed) {
    this.section = section;
    this.axis = Number(section.dataset.axis);
    this.cursors = section.querySelectorAll(".cursor");
    this.figures = [...section.querySelectorAll("[data-kind]")];
    section.classList.add("timed");
    for (const figure of this.figures) {
      const field = figure.querySelector("svg svg");
      const point = (event) => {
        const box = field.getBoundingClientRect();
        pointed(((event.clientX - box.left) / box.width) * this.axis);
      };
      const svg = figure.querySelector("svg");
      svg.addEventListener("pointerdown", (event) => {
        svg.setPointerCapture(event.pointerId);
        point(event);
      });
      svg.addEventListener("pointermove", (event) => {
        if (event.buttons & 1) point(event);
      });
    }
  }

  draw(seconds, tubes, words) {
    const x = (WIDTH * seconds) / this.axis;
    for (const cursor of this.cursors) cursor.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    for (const [key, said] of Object.entries(tubes)) {
      for (const figure of this.figures) {
        const place = figure.querySelector(`[data-value="${key}"]`);
        const { kind } = figure.dataset;
        const text = words[kind].replace("{value}", said[kind]);
        if (place && place.textContent !== text) place.textContent = text;
      }
    }
  }
}
