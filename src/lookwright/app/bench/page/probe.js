// The level under the pointer, and the light behind it; and the picture without its marks.

import { Newest, post } from "./api.js";
import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const probe = new Newest(async (x, y) => {
  const half = 2;
  const { w, h: tall } = stage.size;
  const box = [Math.max(0, x - half / w), Math.max(0, y - half / tall), (2 * half + 1) / w, (2 * half + 1) / tall];
  box[2] = Math.min(box[2], 1 - box[0]);
  box[3] = Math.min(box[3], 1 - box[1]);
  if (!(box[2] > 0 && box[3] > 0)) return;
  try {
    const { measured: [m] } = await post("marks", { still: stage.still, marks: [{ name: "pointer", box }], keep: false });
    const sign = m.stops >= 0 ? "+" : "\u2212";
    node("readout").textContent = `${m.level.toFixed(1)} %  \u00b7  ${sign}${Math.abs(m.stops).toFixed(1)} stops`;
  } catch { node("readout").textContent = ""; }
  await new Promise((done) => setTimeout(done, 60));
});
bench.on("pointer", (at) => {
  if (at && at.pane.still === stage.still) probe.ask(at.x, at.y);
  else { probe.drop(); node("readout").textContent = ""; }
});

const button = h("button", { type: "button", id: "bare", "aria-pressed": "false", title: "The picture without its marks (H)", onclick: () => bare() }, "Hide marks");
node("lookings").append(button);
function bare() {
  const on = node("stage").classList.toggle("bare");
  button.setAttribute("aria-pressed", String(on));
}
keys.add({ keys: ["h"], words: "the picture without its marks", group: "Looking", act: bare });
bench.on("tool", () => { if (tools.now?.id === "draw" && button.getAttribute("aria-pressed") === "true") button.setAttribute("aria-pressed", "false"); });
