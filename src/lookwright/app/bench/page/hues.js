// Hues of a ruler as colours. A recipe tells hues as Oklab angles, which is what CSS Color 4 means by the hue of oklch().

// Words that people have for them: primaries and secondaries of sRGB at their Oklab hues, what lies between by common use.
const NAMES = [[0, "rose"], [29, "red"], [55, "orange"], [80, "amber"], [110, "yellow"], [125, "lime"], [142, "green"], [170, "sea green"], [195, "cyan"], [235, "sky blue"], [264, "blue"], [297, "violet"], [328, "magenta"], [360, "rose"]];

/** A gradient over the hues from one angle to another. */
export function hues(low, high) {
  const steps = 24;
  const stops = Array.from({ length: steps + 1 }, (_, i) => `oklch(0.7 0.115 ${low + ((high - low) * i) / steps})`);
  return `linear-gradient(90deg, ${stops.join(", ")})`;
}

/** What people call a hue. */
export const hueName = (deg) => {
  const turned = ((deg % 360) + 360) % 360;
  return String(NAMES.reduce((best, one) => (Math.abs(Number(one[0]) - turned) < Math.abs(Number(best[0]) - turned) ? one : best))[1]);
};
