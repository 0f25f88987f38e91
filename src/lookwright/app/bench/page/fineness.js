// How fine a moving picture is: every pixel, unless it would then come too late and with every second one would not.

/** ms from the page's handler to the canvas: 50 from the hand, less what an event waits for the browser's next frame. */
export const IN_TIME = 40;
/** ms of these that working out the picture may take at all. */
const ROOM = 16;
const STRIDES = [1, 2, 3];
const [MANY, FEW] = [0.1, 0.02]; // of the pictures of late: above the one they get coarser, below the other finer again
const MEMORY = 20; // pictures

export class Fineness {
  #least = 1;
  #late = 0;

  /** Which pixels to take, each way, of a picture that takes so many ms with every one. */
  stride(full) { return Math.max(this.#least, STRIDES.find((n) => full / n ** 2 <= ROOM) ?? 3); }

  /** A picture took so many ms, of them for its pixels so many, by every `stride`-th of them. */
  took(ms, pixels, stride) {
    const every = pixels * stride ** 2;
    const full = ms - pixels + every; // had it been fine
    const missed = full > IN_TIME && full - 0.75 * every <= IN_TIME;
    this.#late = Math.min(2 * MANY, this.#late + (Number(missed) - this.#late) / MEMORY);
    if (this.#late > MANY) this.#least = 2;
    else if (this.#late < FEW) this.#least = 1;
  }
}
