// A finding of "What it does", pointed at: the pixels that it means stay as they are, all others go dark.

import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { layers } from "./layers.js";
import { share, whole } from "./masks.js";
import { stage } from "./stage.js";

const VEIL = [18, 18, 18, 205];
const COLOURS = Array.from({ length: 256 }, (_, i) => (i ? [0, 0, 0, 0] : VEIL));
let pointed = null; // {measure, title}
let measured = 0; // counts verdicts: each says anew which pixels its findings mean

layers.add({
  id: "finding", label: "Finding", on: false, colours: COLOURS,
  stamp: () => `${bench.state.looks} ${pointed?.measure} ${stage.moving} ${measured}`,
  fetch: async (region, still) => {
    if (!pointed || stage.moving) return null;
    const asked = pointed;
    const out = await whole(region, { of: "finding", what: asked.measure });
    if (!out) return null;
    const meant = share(out, 1);
    if (still === stage.still && asked === pointed) said(meant);
    return (meant ? out : out.fill(1)).buffer; // nothing is meant here: nothing goes dark
  },
});

const line = h("div", { id: "pointed", role: "status", hidden: true });
const words = h("span", {});
line.append(words, h("button", { type: "button", onclick: () => point(null) }, "Done"));
node("over").append(line);

function said(percent) {
  words.textContent = percent
    ? `${pointed.title}: ${percent < 0.1 ? "less than 0.1" : percent.toFixed(1)} % of what is seen has such colours`
    : `${pointed.title}: no colour of this still is meant`;
}

/** Show the pixels of a finding; null shows all again. */
function point(finding) {
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
  if (report.revision !== "moving") measured += 1;
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
