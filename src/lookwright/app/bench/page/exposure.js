// The exposure map: light in the still, in stops from middle grey.

import { binary, get } from "./api.js";
import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { look } from "./compare.js";
import { shows } from "./shows.js";
import { stage } from "./stage.js";

let colours = null;

async function palette() {
  if (colours) return colours;
  const found = await get("legend");
  colours = stage.painter.picture(new Uint8Array(found.colours.flatMap((c) => [...c, 255])), 256, 1, 4);
  legend(found);
  return colours;
}

shows.add({
  id: "map", label: "light in the still, stops from middle grey", group: "Measuring", stamp: () => 0,
  fetch: async (region, painter, old) => {
    const table = await palette();
    const found = await binary("exposure", region);
    return found && { kind: "map", picture: painter.picture(found.bytes, region.width, region.height, 1, old?.picture), colours: table };
  },
});

function legend({ colours: table, stops }) {
  const canvas = node("legend");
  const ticks = [-stops, -stops / 2, 0, stops / 2, stops];
  canvas.width = 260;
  canvas.height = 26;
  const pen = canvas.getContext("2d");
  table.forEach((c, i) => {
    pen.fillStyle = `rgb(${c.join(",")})`;
    pen.fillRect(20 + (i * 220) / 256, 0, 1.5, 10);
  });
  pen.fillStyle = "#f0f0f0";
  pen.font = "12px system-ui, sans-serif";
  pen.textAlign = "center";
  ticks.forEach((t) => pen.fillText(`${t > 0 ? "+" : t < 0 ? "\u2212" : ""}${Math.abs(t)}`, 20 + ((t + stops) / (2 * stops)) * 220, 24));
}

const toggle = () => look({ show: stage.compare.show === "map" ? "now" : "map" });
const button = h("button", { type: "button", id: "map", "aria-pressed": "false", title: "Light in the still, in stops (E)", onclick: toggle }, "Exposure map");
node("lookings").append(button);
keys.add({ keys: ["e"], words: "light in the still, in stops", group: "Looking", act: toggle });
bench.on("placed", () => {
  const on = stage.panes.some((p) => p.show === "map");
  node("legend").hidden = !on;
  button.setAttribute("aria-pressed", String(stage.compare.show === "map"));
});
