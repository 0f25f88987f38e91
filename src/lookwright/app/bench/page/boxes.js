// Boxes as fractions of the still: [left, top, width, height].

/** @typedef {[number, number, number, number]} Box */

/** An element laid over a box of a still whose frame lies so on the table. */
export function lay(element, [x, y, w, h], frame) {
  const put = { left: frame.x + x * frame.w, top: frame.y + y * frame.h, width: w * frame.w, height: h * frame.h };
  for (const [key, value] of Object.entries(put)) element.style.setProperty(key, `${value}px`);
}

export const LEAST = 0.004;

/** @returns {Box} */
export const moved = ([x, y, w, h], dx, dy) => [Math.min(1 - w, Math.max(0, x + dx)), Math.min(1 - h, Math.max(0, y + dy)), w, h];

/** @returns {Box} */
export const sized = ([x, y, w, h], dx, dy) => [x, y, Math.min(1 - x, Math.max(LEAST, w + dx)), Math.min(1 - y, Math.max(LEAST, h + dy))];

/** @returns {Box} */
export const between = (a, b) => {
  const clip = (v) => Math.min(1, Math.max(0, v));
  const [x0, x1] = [clip(Math.min(a.x, b.x)), clip(Math.max(a.x, b.x))];
  const [y0, y1] = [clip(Math.min(a.y, b.y)), clip(Math.max(a.y, b.y))];
  const w = Math.max(LEAST, x1 - x0), h = Math.max(LEAST, y1 - y0);
  return [Math.min(x0, 1 - w), Math.min(y0, 1 - h), w, h];
};
