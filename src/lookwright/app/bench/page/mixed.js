// A lattice mixed into a picture, by plain arithmetic.

/** The steps in which a result is turned to 8 bits. */
export const LEVELS = 4096;

/**
 * 8-bit codes for the screen, for results in steps of 1 / LEVELS.
 * @param {number} decoded 0, or the gamma of code values that go to an sRGB screen as the light they mean (SCREEN in gl.js)
 */
export function screenTable(decoded) {
  const table = new Uint8Array(LEVELS);
  for (let i = 0; i < LEVELS; i += 1) {
    let code = (i + 0.5) / LEVELS;
    if (decoded) {
      const light = code ** decoded;
      code = light < 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
    }
    table[i] = Math.round(255 * code);
  }
  return table;
}

/**
 * Every `stride`-th pixel of a view, each way, through a lattice; where it is drawn by each second pixel already, of those.
 * @param {{width: number, height: number, at: Uint16Array, by: Uint16Array}} cells of the view, as cells.js gives them
 * @param {Uint16Array} lattice 16-bit RGB, blue fastest
 * @param {Uint8Array} screen of screenTable()
 * @param {Uint32Array} out RGBA, ceil(width / stride) x ceil(height / stride) pixels
 * @param {number} stride
 */
export function mix({ width, height, at, by }, lattice, screen, out, stride) {
  let i = 0;
  for (let y = 0; y < height; y += stride) {
    for (let o = 4 * y * width, end = o + 4 * width; o < end; o += 4 * stride, i += 1) {
      const a = 3 * at[o], b = 3 * at[o + 1], c = 3 * at[o + 2], d = 3 * at[o + 3];
      const p = by[o], q = by[o + 1], s = by[o + 2], t = by[o + 3];
      // 14 bits of weights and 16 of codes: 30, of which 12 stay.
      const red = (Math.imul(p, lattice[a]) + Math.imul(q, lattice[b]) + Math.imul(s, lattice[c]) + Math.imul(t, lattice[d])) >> 18;
      const green = (Math.imul(p, lattice[a + 1]) + Math.imul(q, lattice[b + 1]) + Math.imul(s, lattice[c + 1]) + Math.imul(t, lattice[d + 1])) >> 18;
      const blue = (Math.imul(p, lattice[a + 2]) + Math.imul(q, lattice[b + 2]) + Math.imul(s, lattice[c + 2]) + Math.imul(t, lattice[d + 2])) >> 18;
      out[i] = screen[red] | (screen[green] << 8) | (screen[blue] << 16) | 0xff000000;
    }
  }
}
