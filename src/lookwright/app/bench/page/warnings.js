// Warnings on the picture: pixels newly clipped, newly black, outside the output, and skin beyond its window. Each has a
// pattern of its own, black and white, that is told apart without colour; nothing moves or blinks.

import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { layers } from "./layers.js";
import { mask } from "./masks.js";
import { stage } from "./stage.js";

// Patterns by place, in pixels of the screen: 1 white, 2 black, 0 the picture. Squares, so that they hold at any size.
const KINDS = [
  { bit: 1, id: "clipped", name: "newly clipped", words: "a channel at the end of the output's range that is not there plainly rendered", at: (x, y) => [1, 1, 2, 2, 0, 0, 0, 0][(x + y) & 7] },
  { bit: 2, id: "black", name: "newly black", words: "under 0.5 % of signal, with 2.5 % or more plainly rendered", at: (x, y) => (x & 1 ? 0 : [1, 1, 2, 0, 0, 0][y % 6]) },
  { bit: 4, id: "outside", name: "outside the output", words: "light that the output cannot hold and cuts", at: (x, y) => (x % 8 < 3 && y % 8 < 3 ? ((x % 8 === 1 && y % 8 === 1) ? 2 : 1) : 0) },
  { bit: 8, id: "skin", name: "skin beyond its window", words: "colours of skin turned or coloured past the limit at which check fails it", at: (x, y) => [1, 2, 0, 0, 0, 0, 0][(x + [0, 1, 2, 3, 2, 1][y % 6]) % 7] },
];
const COLOURS = Array.from({ length: 256 }, (_, i) => [[0, 0, 0, 0], [255, 255, 255, 235], [0, 0, 0, 235]][i] ?? [0, 0, 0, 0]);

const on = new Set(KINDS.map((k) => k.id));
let shown = false;

/** The patterns of what is on, for bits by place. */
function patterned(bits, at, width, height, kinds) {
  const out = new Uint8Array(width * height);
  for (let y = 0, i = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1, i += 1) {
      const found = bits[at(x, y)];
      if (!found) continue;
      for (const kind of kinds) if (found & kind.bit) { const ink = kind.at(x, y); if (ink) out[i] = ink; }
    }
  }
  return out;
}

layers.add({
  id: "warnings", label: "Warnings", on: false, colours: COLOURS,
  stamp: () => `${bench.state.looks} ${[...on].join()} ${stage.moving}`,
  fetch: async (region, still) => {
    if (stage.moving) return null; // what lies over a moving picture would be of the one before
    const found = await mask(region, { of: "warnings" });
    if (!found) return null;
    if (still === stage.still) tell(found.bytes);
    return patterned(found.bytes, found.at, region.width, region.height, KINDS.filter((k) => on.has(k.id))).buffer;
  },
});

// -- the key to the patterns, with how much of what is seen each takes ----------------------------------------------------

const list = h("div", { id: "warning-key", role: "group", "aria-label": "Warnings on the picture", hidden: true });
node("over").append(list);
const figures = {};

for (const kind of KINDS) {
  const swatch = h("canvas", { width: 40, height: 16, "aria-hidden": "true" });
  paint(swatch, kind);
  const input = h("input", { type: "checkbox", checked: true, onchange: () => {
    if (input.checked) on.add(kind.id);
    else on.delete(kind.id);
    stage.again();
  } });
  figures[kind.id] = h("span", { class: "share" });
  list.append(h("label", { title: kind.words }, input, swatch, h("span", {}, kind.name), figures[kind.id]));
}

function paint(canvas, kind) {
  const pen = canvas.getContext("2d");
  const image = pen.createImageData(40, 16);
  for (let y = 0, i = 0; y < 16; y += 1) {
    for (let x = 0; x < 40; x += 1, i += 4) {
      const ink = kind.at(x, y);
      const grey = [110, 255, 0][ink];
      image.data.set([grey, grey, grey, 255], i);
    }
  }
  pen.putImageData(image, 0, 0);
}

function tell(bits) {
  const counts = KINDS.map(() => 0);
  for (const value of bits) if (value) KINDS.forEach((kind, i) => { if (value & kind.bit) counts[i] += 1; });
  KINDS.forEach((kind, i) => {
    const share = (100 * counts[i]) / bits.length;
    figures[kind.id].textContent = share === 0 ? "none" : share < 0.1 ? "< 0.1 %" : `${share.toFixed(1)} %`;
  });
}

function warn(turned = !shown) {
  shown = turned;
  list.hidden = !shown;
  button.setAttribute("aria-pressed", String(shown));
  layers.turn("warnings", shown);
}

const button = h("button", { type: "button", id: "warnings", "aria-pressed": "false", title: "Newly clipped, newly black, outside the output, skin beyond its window (N)", onclick: () => warn() }, "Warnings");
node("lookings").append(button);
keys.add({ keys: ["n"], words: "warnings on the picture", group: "Looking", act: () => warn() });
