// A worker of the page: where each pixel of a view lies in a lattice. It does not move while a slider does, so it is worked
// out once, and a moving picture is then four multiplications a channel (see mixed.js).

/** Pixels of a view beyond which only every second one, each way, is taken: what is kept takes 16 bytes a pixel. */
const MOST = 2_200_000;
const CALM = 120; // ms: a view that is passed on the way to another is forgotten by then
const ONE = 16384; // the four weights of a pixel add up to it: with 16-bit codes the sum stays within 31 bits

/** @type {Map<string, {codes: Uint16Array, width: number, height: number}>} */
const views = new Map();

/**
 * The four points of a lattice (blue fastest) round each pixel, and their weights: tetrahedral, as gl.js does it.
 * @param {{codes: Uint16Array, width: number, height: number}} view 16-bit RGB code values
 * @param {number} size points of the lattice along each axis, 40 at most: a place is a 16-bit number
 */
function cells({ codes, width, height }, size) {
  const step = width * height > MOST ? 2 : 1;
  const across = Math.ceil(width / step), down = Math.ceil(height / step);
  const at = new Uint16Array(4 * across * down), by = new Uint16Array(4 * across * down);
  const k = (size - 1) / 65535, R = size * size, G = size, most = size - 2;
  for (let y = 0, o = 0; y < down; y += 1) {
    for (let x = 0, i = 3 * y * step * width; x < across; x += 1, i += 3 * step, o += 4) {
      const r = codes[i] * k, g = codes[i + 1] * k, b = codes[i + 2] * k;
      const ri = Math.min(Math.floor(r), most), gi = Math.min(Math.floor(g), most), bi = Math.min(Math.floor(b), most);
      const fr = r - ri, fg = g - gi, fb = b - bi, base = ri * R + gi * G + bi;
      let first = 1, second = 0; // along the axis of the largest part, then not along that of the smallest
      if (fr >= fg && fr >= fb) first = R; else if (fg >= fb) first = G;
      if (fb <= fg && fb <= fr) second = R + G; else if (fg <= fr) second = R + 1; else second = G + 1;
      const high = Math.max(fr, fg, fb), low = Math.min(fr, fg, fb);
      const a = Math.round(high * ONE), m = Math.round((fr + fg + fb - high - low) * ONE), l = Math.round(low * ONE);
      at[o] = base;
      at[o + 1] = base + first;
      at[o + 2] = base + second;
      at[o + 3] = base + R + G + 1;
      by[o] = ONE - a;
      by[o + 1] = a - m;
      by[o + 2] = m - l;
      by[o + 3] = l;
    }
  }
  return { size, step, width: across, height: down, at, by };
}

function tell(key, size) {
  const view = views.get(key);
  if (!view) return;
  const made = cells(view, size);
  postMessage({ key, made }, { transfer: [made.at.buffer, made.by.buffer] });
}

addEventListener("message", ({ data: { key, codes, width, height, size, forget } }) => {
  if (forget) { views.delete(key); return; }
  if (!codes) { tell(key, size); return; }
  views.set(key, { codes: new Uint16Array(codes), width, height });
  setTimeout(() => tell(key, size), CALM);
});
