/**
 * One tube's history as the model gave it, read at a time. Between two rows it goes straight from one to the
 * other, before the first and after the last it stays: nothing is eased, nothing is added.
 */
const COLD_C = 20;
const HOT_C = 100;
const HAIR_S = 0.002;
export const STIRRING = 1;
export const FALLING = 2;

/** How warm a temperature is drawn, 0 to 1; the same rule as in the pictures that the server draws. */
export function warmth(celsius) {
  const part = Math.min(Math.max((celsius - COLD_C) / (HOT_C - COLD_C), 0), 1);
  return part * part;
}

/** Where the stirrer is while it stirs: straight down and up again, 0 on top, 1 at the bottom. */
export function stroke(seconds, schedule) {
  if (seconds < schedule.from_s || seconds >= schedule.until_s) return 0;
  const part = ((seconds - schedule.from_s) * schedule.strokes_per_s) % 1;
  return 1 - Math.abs(2 * part - 1);
}

function mix(first, second, part) {
  return part === 0 ? first : first + part * (second - first);
}

export class History {
  /** @param tube one of the tubes of /api/v1/tube, with a history */
  constructor(tube) {
    this.seconds = tube.seconds;
    this.activity = tube.activity;
    this.rows = tube.history;
    this.end = this.rows.time_s.at(-1);
    this.complete = this.end >= this.seconds - HAIR_S;
  }

  /** The row that holds at a time, and how far it is to the next one. */
  place(seconds) {
    const times = this.rows.time_s;
    // Times come rounded: the last row holds from a hair before its own.
    if (seconds >= this.end - HAIR_S) return [times.length - 1, 0];
    let low = 0;
    let high = times.length - 1;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (times[middle] <= seconds) low = middle;
      else high = middle - 1;
    }
    if (seconds <= times[low]) return [low, 0];
    return [low, (seconds - times[low]) / (times[low + 1] - times[low])];
  }

  /** Everything that is drawn or said of this tube at a time. */
  at(seconds) {
    const [row, part] = this.place(seconds);
    const next = Math.min(row + 1, this.rows.time_s.length - 1);
    const one = (name) => mix(this.rows[name][row], this.rows[name][next], part);
    const shells = (name) => this.rows[name][row].map((x, s) => mix(x, this.rows[name][next][s], part));
    const fallen = one("share_fallen");
    return {
      over: this.complete && row === this.rows.time_s.length - 1,
      phase: this.rows.phase[row],
      temp: shells("temp_c"),
      glass: one("glass_c"),
      swollen: shells("swollen"),
      left: shells("enzyme_left"),
      cuts: shells("cuts"),
      strength: one("strength"),
      fallen,
      down: Math.max(fallen, stroke(seconds, this.rows.schedule)),
    };
  }

  /** Mean over the volume of the slurry. */
  mean(shells) {
    return shells.reduce((sum, x, s) => sum + x * this.rows.weights[s], 0);
  }
}
