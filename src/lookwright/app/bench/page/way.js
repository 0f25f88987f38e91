// The way of one pixel through the steps: what each does to it, in words and numbers.

import { Newest, post } from "./api.js";
import { bench } from "./core.js";
import { capital, h } from "./dom.js";
import { panels } from "./panels.js";
import { spot } from "./spot.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const body = h("div", { id: "way", tabIndex: 0, "aria-label": "The way of a pixel", role: "group" }, h("p", { class: "hint" }, "Take up the tool \u201cPixel\u201d and click the picture."));

const one = (v, digits = 1) => v.toFixed(digits).replace("-", "\u2212");

function swatch(shown) {
  const mark = h("i", { class: "swatch" });
  mark.style.setProperty("background", `rgb(${shown.map((v) => Math.round(2.55 * Math.min(100, Math.max(0, v)))).join(",")})`);
  return mark;
}

function show(found) {
  const head = ["", "step", "what it did here", "light, from grey", "level %", "R\u2032 G\u2032 B\u2032 %", "hue", "saturation"];
  const rows = found.stations.map((s) => h("tr", {},
    h("td", {}, swatch(s.shown)),
    h("th", { scope: "row", title: capital(s.does) }, s.step === null ? "the source" : `${s.step + 1}. ${s.kind}`),
    h("td", { class: "words" }, s.step === null ? "as recorded, plainly rendered" : s.words),
    h("td", { class: "n" }, s.said),
    h("td", { class: "n" }, one(s.level)),
    h("td", { class: "n" }, s.shown.map((v) => one(v)).join("  ")),
    h("td", { class: "n" }, s.hue === null ? "neutral" : `${one(s.hue, 0)}\u00b0 ${s.hue_word}`),
    h("td", { class: "n" }, one(s.saturation, 3)),
  ));
  const place = h("p", { class: "where" }, `Pixel ${found.x}, ${found.y} from the top left, recorded as ${found.code.map((v) => v.toFixed(4)).join(" ")}. Each row is the look up to that step; hues are Oklab's.`);
  body.replaceChildren(h("table", {}, h("thead", {}, h("tr", {}, ...head.map((t) => (t ? h("th", { scope: "col" }, t) : h("td", {}))))), h("tbody", {}, ...rows)), place);
}

const ask = new Newest(async () => {
  const { at } = spot;
  if (!at || at.still !== stage.still) return;
  try { show(await post("way", { still: at.still, x: at.x, y: at.y })); } catch (fault) { bench.say(fault.message); }
});

panels.add({ id: "way-panel", tab: "Pixel", title: "Way of a pixel", order: 5, width: 640, grow: 1.6, open: false, large: true, fill: (into) => into.append(body) });
spot.use("way", { words: "Way of this pixel", moved: () => ask.ask() });

tools.add({
  id: "way", label: "Pixel", title: "what each step does to one pixel", key: "y",
  chosen: (on) => {
    panels.along("way-panel", on);
    if (!on) return;
    spot.begin();
    ask.ask();
  },
  down: (at) => {
    if (!at.inside || at.pane.still !== stage.still) return false;
    spot.put(at);
    return true;
  },
  move: (at) => { if (at.inside) spot.put(at); },
});
bench.on("looks", () => { if (tools.now?.id === "way") ask.ask(); });
