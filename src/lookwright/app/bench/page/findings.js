// A finding of "What it does", pointed at: the pixels that it means stay as they are, all others go dark.

import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { layers } from "./layers.js";
import { stage } from "./stage.js";
import { mask } from "./warnings.js";

const VEIL = [18, 18, 18, 205];
const COLOURS = Array.from({ length: 256 }, (_, i) => (i ? [0, 0, 0, 0] : VEIL));
let pointed = null; // {measure, title}

layers.add({
  id: "finding", label: "Finding", on: false, colours: COLOURS,
  stamp: () => `${bench.state.looks} ${pointed?.measure} ${stage.moving}`,
  fetch: async (region, still) => {
    if (!pointed || stage.moving) return null;
    const asked = pointed;
    const found = await mask(region, { of: "finding", what: asked.measure });
    if (!found) return null;
    const out = new Uint8Array(region.width * region.height);
    let count = 0;
    for (let y = 0, i = 0; y < region.height; y += 1) for (let x = 0; x < region.width; x += 1, i += 1) if (found.bytes[found.at(x, y)]) { out[i] = 1; count += 1; }
    if (still === stage.still && asked === pointed) said((100 * count) / out.length);
    return (count ? out : out.fill(1)).buffer; // nothing is meant here: nothing goes dark
  },
});

const line = h("div", { id: "pointed", role: "status", hidden: true });
const words = h("span", {});
line.append(words, h("button", { type: "button", onclick: () => point(null) }, "Done"));
node("stage").append(line);

function said(share) {
  words.textContent = share
    ? `${pointed.title}: ${share < 0.1 ? "less than 0.1" : share.toFixed(1)} % of what is seen has such colours`
    : `${pointed.title}: no colour of this still is meant`;
}

/** Show the pixels of a finding; null shows all again. */
export function point(finding) {
  pointed = finding && pointed?.measure === finding.measure ? null : finding;
  line.hidden = !pointed;
  if (pointed) words.textContent = `${pointed.title}: looking for its pixels`;
  layers.turn("finding", Boolean(pointed));
  for (const button of document.querySelectorAll("#findings button")) {
    const item = /** @type {HTMLElement} */ (button.closest("li"));
    button.setAttribute("aria-pressed", String(item.dataset.title === pointed?.title));
  }
}

// Each finding that has a place in the picture gets a button.
bench.on("restraint", (report) => {
  for (const item of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("#findings li[data-title]"))) {
    const finding = (report.findings || []).find((f) => f.title === item.dataset.title);
    if (!finding?.placed || finding.state === "ok") continue;
    const button = h("button", { type: "button", class: "point", "aria-pressed": String(pointed?.measure === finding.measure), title: "The pixels that it means", onclick: () => point({ measure: finding.measure, title: finding.title }) }, "Where?");
    item.lastElementChild.append(" ", button);
  }
  const still = pointed && (report.findings || []).some((f) => f.measure === pointed.measure && f.placed);
  if (pointed && !still) point(null);
  else if (pointed) stage.again();
});
bench.on("escape", () => { if (pointed) point(null); });
keys.add({ keys: ["shift+f"], words: "the pixels of the worst finding, the next one, none", group: "Looking", act: () => {
  const buttons = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("#findings button.point")]);
  const at = buttons.findIndex((b) => b.getAttribute("aria-pressed") === "true");
  if (buttons[at + 1]) buttons[at + 1].click();
  else point(null);
} });
