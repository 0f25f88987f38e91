// How the panes of a comparison are laid on the table: one, one cut by a wipe, or two beside each other.

const GAP = 16;

/**
 * @typedef {object} Pane
 * @property {number} x
 * @property {number} y
 * @property {number} w
 * @property {number} h
 * @property {number} still
 * @property {string} show
 * @property {{x: number, y: number, w: number, h: number}} [cut] the part of it that is drawn
 * @property {boolean} [aside] the other of two
 */

/** @returns {Pane[]} */
export function arrange(stage) {
  const { width, height, still, compare } = stage;
  const whole = { x: 0, y: 0, w: width, h: height, still };
  if (compare.way === "wipe") {
    /** @type {Pane[]} */
    const panes = [{ ...whole, show: compare.against, aside: true }, { ...whole, show: compare.show }];
    const frame = stage.frameIn(panes[1]);
    const at = Math.round((frame.x + frame.w * stage.cut) * stage.ratio);
    panes[0].cut = { x: 0, y: 0, w: at, h: height };
    panes[1].cut = { x: at, y: 0, w: width - at, h: height };
    return panes;
  }
  if (compare.way === "beside") return beside(stage, whole);
  const other = compare.way === "other" || (compare.way === "blink" && stage.blinked);
  return [{ ...whole, show: other ? compare.against : compare.show, aside: other }];
}

// Two of them, laid whichever way shows them larger; what is compared with comes first, as it was before.
function beside(stage, whole) {
  const { width, height, compare, ratio } = stage;
  const { w, h } = stage.size;
  const gap = Math.round(GAP * ratio);
  const half = Math.floor((width - gap) / 2), low = Math.floor((height - gap) / 2);
  const across = Math.min(half / w, height / h) >= Math.min(width / w, low / h);
  return across
    ? [{ ...whole, w: half, show: compare.against, aside: true }, { ...whole, x: width - half, w: half, show: compare.show }]
    : [{ ...whole, h: low, show: compare.against, aside: true }, { ...whole, y: height - low, h: low, show: compare.show }];
}
