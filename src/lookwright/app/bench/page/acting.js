// Where a step acts: the picture up to it, the step alone, what it changed, and which colours its bands and holds take.

import { look } from "./compare.js";
import { bench } from "./core.js";
import { capital, h, node } from "./dom.js";
import { layers } from "./layers.js";
import { share, whole } from "./masks.js";
import { panels } from "./panels.js";
import { ofServer, shows } from "./shows.js";
import { stage } from "./stage.js";

const RANGES = ["skin", "sky", "leaves"];
// CIEDE2000 of what a step moves, in five steps from nothing to another colour: greys, so that no hue is painted over one,
// and lines where two steps meet.
/** @type {[string, string, number][]} name, range, grey */
const CHANGES = [["not seen", "under 1", 16], ["just seen", "1 to 3", 86], ["seen at once", "3 to 6", 140], ["strong", "6 to 12", 196], ["another colour", "over 12", 255]];
const MAP = Array.from({ length: 256 }, (_, i) => { const grey = CHANGES[Math.min(i, 4)][2]; return [grey, grey, grey, 255]; });
const VEIL = Array.from({ length: 256 }, (_, i) => [18, 18, 18, Math.round(215 * (1 - i / 255))]);

let now = null; // {kind: "change" | "held", step, what, words}
const stepOf = (id) => bench.state?.steps.find((s) => s.id === id);

// -- pictures of their own ------------------------------------------------------------------------------------------------

function listed(state) {
  const on = state.steps.filter((s) => s.on);
  const named = (s) => `${state.steps.indexOf(s) + 1}. ${s.kind}`;
  const one = (id, label, group) => ({ id, label, group, stamp: () => bench.state.looks, fetch: ofServer(id) });
  shows.replace("Up to a step", on.map((s) => one(`upto:${s.id}`, `up to ${named(s)}`, "Up to a step")));
  shows.replace("One step alone", on.map((s) => one(`alone:${s.id}`, `${named(s)} alone`, "One step alone")));
  bench.tell("shows");
}

// -- layers ---------------------------------------------------------------------------------------------------------------

const stamp = () => `${bench.state.looks} ${now?.kind} ${now?.step} ${now?.what} ${now?.kind === "change" && stage.moving}`;
const said = (words) => { line.hidden = !words; line.firstChild.textContent = words; };

// A layer of the step that is asked about; `words` says the share, in percent, that has at least `least`.
const layer = (id, label, colours, least, words) => ({ id, label, on: false, colours, stamp, fetch: async (region, still) => {
  if (now?.kind !== id || stage.moving) return null;
  const asked = now;
  const out = await whole(region, { of: id, step: asked.step, what: asked.what });
  if (out && still === stage.still && asked === now) said(`${asked.words}: ${words(share(out, least).toFixed(0))}`);
  return out?.buffer ?? null;
} });
layers.add(
  layer("change", "What a step changed", MAP, 1, (percent) => `seen on ${percent} % of what is shown, CIEDE2000`),
  layer("held", "What a band or hold takes", VEIL, 128, (percent) => `half or more on ${percent} % of what is shown; the rest is dark`),
);

const line = h("div", { id: "acting-said", role: "status", hidden: true }, h("span", {}), h("canvas", { id: "change-key", width: 1, height: 1, hidden: true, role: "img", "aria-label": `Steps of the map, CIEDE2000: ${CHANGES.map(([name, range]) => `${name} ${range}`).join(", ")}` }), h("button", { type: "button", onclick: () => act(null) }, "Done"));
node("over").append(line);

function key(canvas) {
  const ratio = window.devicePixelRatio || 1, w = 520, hh = 34;
  canvas.width = w * ratio;
  canvas.height = hh * ratio;
  canvas.style.setProperty("width", `${w}px`);
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.font = "12px system-ui, sans-serif";
  pen.textAlign = "center";
  CHANGES.forEach(([name, range, grey], i) => {
    pen.fillStyle = `rgb(${grey},${grey},${grey})`;
    pen.fillRect(i * 104, 0, 104, 34);
    pen.fillStyle = grey > 128 ? "#000" : "#fff";
    pen.fillText(name, i * 104 + 52, 13);
    pen.fillText(range, i * 104 + 52, 28);
  });
}

/** Show what a step changed, or what a band or hold of it takes; null shows the picture alone again. */
function act(wish) {
  now = wish && now && wish.kind === now.kind && wish.step === now.step && wish.what === now.what ? null : wish;
  layers.list.forEach((layer) => { if (layer.id === "change" || layer.id === "held") layer.on = layer.id === now?.kind; });
  layers.changed();
  const canvas = /** @type {HTMLCanvasElement} */ (line.children[1]);
  canvas.hidden = now?.kind !== "change";
  if (now?.kind === "change") key(canvas);
  said(now ? now.words : "");
  pressed();
}

// -- the panel ------------------------------------------------------------------------------------------------------------

const body = h("div", { id: "acting" });

function rows(state) {
  const at = /** @type {HTMLElement} */ (document.activeElement);
  const focused = body.contains(at) ? at.dataset.does : "";
  body.replaceChildren(...state.steps.map((step, i) => row(step, i)));
  pressed();
  if (focused) /** @type {HTMLElement} */ (body.querySelector(`[data-does="${focused}"]`))?.focus();
}

function row(step, i) {
  const named = `${i + 1}. ${step.kind}`;
  const make = (does, label, title, go) => {
    const made = h("button", { type: "button", disabled: !step.on, title, onclick: go }, label);
    made.dataset.does = `${does}:${step.id}`;
    return made;
  };
  const show = (id) => () => look({ show: stage.compare.show === id ? "now" : id });
  const buttons = [
    make("upto", "Up to here", "The look up to this step, plainly rendered behind it", show(`upto:${step.id}`)),
    make("alone", "Alone", "This step by itself over the plain rendering", show(`alone:${step.id}`)),
    make("change", "What it changed", "How far it moves each pixel where it stands", () => act({ kind: "change", step: step.id, what: "", words: `What ${named} changed` })),
  ];
  for (let band = 1; band <= (step.bands ?? 0); band += 1) {
    buttons.push(make(`band.${band}`, `Band ${band}`, "The colours that this band takes", () => act({ kind: "held", step: step.id, what: `band.${band}`, words: `What band ${band} of ${named} takes` })));
  }
  for (const range of RANGES) {
    if (!step.parameters.some((p) => p.path[0] === `hold_${range}`) || step.takes !== "opponent scene light") continue;
    buttons.push(make(range, `Hold on ${range}`, `The colours that the hold on ${range} takes`, () => act({ kind: "held", step: step.id, what: range, words: `What the hold on ${range} of ${named} takes` })));
  }
  return h("div", { class: "acting-row", role: "group", "aria-label": capital(named) }, h("span", { class: step.on ? "" : "off" }, named), ...buttons);
}

function pressed() {
  for (const button of /** @type {NodeListOf<HTMLElement>} */ (body.querySelectorAll("button"))) {
    const [does, id] = button.dataset.does.split(":");
    const layer = now && String(now.step) === id && (now.kind === "change" ? does === "change" : does === now.what);
    button.setAttribute("aria-pressed", String(Boolean(layer) || stage.compare.show === `${does}:${id}`));
  }
}

panels.add({ id: "acting-panel", title: "Where it acts", order: 40, width: 340, grow: 1.2, open: false, large: true, fill: (into) => into.append(body) });

bench.on("state", (state) => {
  listed(state);
  if (now && !stepOf(now.step)?.on) act(null);
  rows(state);
});
bench.on("placed", pressed);
bench.on("escape", () => { if (now) act(null); });
