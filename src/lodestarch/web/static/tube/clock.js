/** The clock of the page: seconds since lowering, at real or quick time, from a start to a stop. */
export class Clock {
  /**
   * @param {(seconds: number) => void} show draws a moment
   * @param {(playing: boolean) => void} told hears when it starts and stops
   */
  constructor(show, told) {
    this.show = show;
    this.told = told;
    this.now = 0;
    this.end = 0;
    this.stop = 0;
    this.speed = 1;
    this.frame = 0;
  }

  get playing() {
    return this.frame !== 0;
  }

  /** Go to a moment and stay there. */
  seek(seconds) {
    this.now = Math.min(Math.max(seconds, 0), this.end);
    this.show(this.now);
  }

  play(stop = this.end) {
    this.pause();
    this.stop = Math.min(stop, this.end);
    if (this.now >= this.stop) return;
    let before = performance.now();
    const tick = (at) => {
      // A page that was hidden goes on where it was.
      const passed = Math.min(Math.max(at - before, 0), 250) / 1000;
      before = at;
      this.now = Math.min(this.now + passed * this.speed, this.stop);
      this.show(this.now);
      if (this.now < this.stop) this.frame = requestAnimationFrame(tick);
      else this.pause();
    };
    this.frame = requestAnimationFrame(tick);
    this.told(true);
  }

  pause() {
    if (!this.playing) return;
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.told(false);
  }
}
