// Counting a picture for its plots: RGBA rows of 8-bit code values in, numbers out. Nothing is drawn here.
//
// Levels are shares of the full range: code 0 is 0 %, code 255 is 100 %. A value on a border belongs to the bin above it,
// the last bin takes its upper end too.

/** Rows of a waveform, and bins each way of a vectorscope: fine enough that two codes are two bins. */
export const BINS = 256;

const bin = (value, bins) => Math.min(bins - 1, Math.max(0, Math.floor(value * bins)));

/** Luma' of a pixel, 0 to 1. */
export const luma = (data, i, [r, g, b]) => (r * data[i] + g * data[i + 1] + b * data[i + 2]) / 255;

/** Cb and Cr, each -0.5 to 0.5, of R'G'B' 0 to 1, by the weights of red and blue in luma. */
export function differences(r, g, b, kr, kb) {
  const y = kr * r + (1 - kr - kb) * g + kb * b;
  return [(b - y) / (2 * (1 - kb)), (r - y) / (2 * (1 - kr))];
}

/** columns x BINS counts of luma, column by column of the picture; row 0 is black. */
export function waveform({ data, width, height }, weights, columns) {
  const counts = new Uint32Array(columns * BINS);
  for (let y = 0, i = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1, i += 4) {
      counts[Math.floor((x * columns) / width) * BINS + bin(luma(data, i, weights), BINS)] += 1;
    }
  }
  return counts;
}

/** Three of them, of red, green and blue. */
export function parade({ data, width, height }, columns) {
  const counts = [0, 1, 2].map(() => new Uint32Array(columns * BINS));
  for (let y = 0, i = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1, i += 4) {
      const at = Math.floor((x * columns) / width) * BINS;
      for (let c = 0; c < 3; c += 1) counts[c][at + bin(data[i + c] / 255, BINS)] += 1;
    }
  }
  return counts;
}

/** Share of all pixels in each of 256 codes: red, green, blue, luma. */
export function histogram({ data, width, height }, weights) {
  const shares = [0, 1, 2, 3].map(() => new Float64Array(BINS));
  const one = 1 / (width * height);
  for (let i = 0; i < data.length; i += 4) {
    for (let c = 0; c < 3; c += 1) shares[c][data[i + c]] += one;
    shares[3][bin(luma(data, i, weights), BINS)] += one;
  }
  return shares;
}

/** BINS x BINS counts of Cb (across) and Cr (up, so row 0 is the lowest). */
export function vectors({ data }, kr, kb) {
  const counts = new Uint32Array(BINS * BINS);
  for (let i = 0; i < data.length; i += 4) {
    const [cb, cr] = differences(data[i] / 255, data[i + 1] / 255, data[i + 2] / 255, kr, kb);
    counts[bin(cr + 0.5, BINS) * BINS + bin(cb + 0.5, BINS)] += 1;
  }
  return counts;
}

/** The count under which all but half a percent of the bins that hold something lie: white of a trace. */
export function brightest(counts) {
  let most = 0;
  for (const c of counts) if (c > most) most = c;
  if (!most) return 1;
  const tally = new Uint32Array(Math.min(most, 4095) + 1);
  let held = 0;
  for (const c of counts) if (c) { tally[Math.min(c, 4095)] += 1; held += 1; }
  let seen = 0;
  for (let c = 1; c < tally.length; c += 1) {
    seen += tally[c];
    if (seen >= 0.995 * held) return c;
  }
  return most;
}
