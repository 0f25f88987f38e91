// Masks of what is seen, from the server: one byte a pixel.

import { binary } from "./api.js";

const MOST = 700_000; // pixels that are asked of the server; a larger view is looked at in every second

const half = (n) => Math.max(1, Math.ceil(n / 2));

/** One byte a pixel of a region, from the server; at half the size where it is large, each then standing for four. */
export async function mask(region, what) {
  const large = region.width * region.height > MOST;
  const view = large ? { ...region, width: half(region.width), height: half(region.height) } : region;
  const found = await binary("mask", { view, step: -1, what: "", ...what });
  if (!found) return null;
  return { bytes: new Uint8Array(found.bytes), width: view.width, at: large ? (x, y) => Math.min(half(region.height) - 1, y >> 1) * view.width + (x >> 1) : (x, y) => y * region.width + x };
}

/** The same, one byte for each pixel of the region. */
export async function whole(region, what) {
  const found = await mask(region, what);
  if (!found) return null;
  const out = new Uint8Array(region.width * region.height);
  for (let y = 0, i = 0; y < region.height; y += 1) for (let x = 0; x < region.width; x += 1, i += 1) out[i] = found.bytes[found.at(x, y)];
  return out;
}

/** How much of a mask, in percent, is at least so much. */
export const share = (bytes, least) => (100 * bytes.reduce((sum, v) => sum + (v >= least ? 1 : 0), 0)) / bytes.length;
