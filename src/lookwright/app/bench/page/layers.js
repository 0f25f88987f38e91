// What lies over the picture, pixel for pixel: warnings, maps. One byte a pixel, and a colour (with alpha) for each value.

/**
 * @typedef {object} Layer
 * @property {string} id
 * @property {string} label
 * @property {boolean} on
 * @property {() => unknown} stamp changes when it must be fetched anew
 * @property {(region: any, still: number) => Promise<?ArrayBuffer>} fetch one byte a pixel of the region, rows from the top
 * @property {number[][]} colours 256 of [red, green, blue, alpha], 0 to 255
 * @property {any} [table] the same as a texture, made when first drawn
 */

class Layers {
  /** @type {Layer[]} */
  list = [];
  changed = () => {};

  /** @param {...Layer} several */
  add(...several) {
    this.list.push(...several);
    this.changed();
  }

  turn(id, on) {
    const layer = this.list.find((one) => one.id === id);
    if (layer) layer.on = on;
    this.changed();
  }

  get shown() { return this.list.filter((one) => one.on); }
}

export const layers = new Layers();
