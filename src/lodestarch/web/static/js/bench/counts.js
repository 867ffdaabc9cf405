/**
 * Counts that run. An element with data-since and data-floor has a .clock inside; until the floor it counts
 * down to the first second at which a number can stand, afterwards it counts up. A reminder, never a reading.
 */
function clockText(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export class Counts {
  /** @param {() => void} onFloor called when a count reaches the floor */
  constructor(onFloor) {
    this.ahead = 0;
    this.onFloor = onFloor;
    setInterval(() => this.tick(), 250);
  }

  /** Learn how far this computer's clock is from the workbench's. @param {string} at */
  learn(at) {
    this.ahead = Date.now() - Date.parse(at);
  }

  tick() {
    let reached = false;
    for (const element of document.querySelectorAll("[data-since]")) {
      const since = (Date.now() - this.ahead - Date.parse(element.dataset.since)) / 1000;
      const floor = Number(element.dataset.floor);
      const running = since >= floor;
      const clock = element.querySelector(".clock");
      const said = clockText(running ? since : Math.ceil(floor - since));
      if (clock.textContent !== said) clock.textContent = said;
      const words = element.querySelector("[data-running]");
      const text = running ? words.dataset.running : words.dataset.stirring;
      if (words.textContent !== text) {
        words.textContent = text;
        reached ||= running;
      }
    }
    if (reached) this.onFloor();
  }
}
