// Hues of a ruler as colours. A recipe tells hues as Oklab angles, which is what CSS Color 4 means by the hue of oklch().

import { bench } from "./core.js";

/** A gradient over the hues from one angle to another. */
export function hues(low, high) {
  const steps = 24;
  const stops = Array.from({ length: steps + 1 }, (_, i) => `oklch(0.7 0.115 ${low + ((high - low) * i) / steps})`);
  return `linear-gradient(90deg, ${stops.join(", ")})`;
}

/** What people call a hue, by the server's own list: sentences then say the same. */
export const hueName = (deg) => {
  const turned = ((deg % 360) + 360) % 360;
  return bench.state.hue_words.reduce((best, one) => (Math.abs(one[0] - turned) < Math.abs(best[0] - turned) ? one : best))[1];
};
