// A grey picked on the picture: the balance that makes it neutral, as one edit.

import { post } from "./api.js";
import { between, lay } from "./boxes.js";
import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { spot } from "./spot.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const HALF = 6; // pixels of the still to each side of a click
const box = h("div", { id: "grey-box", hidden: true });
node("stage").append(box);
let from = null;

function place(drawn) {
  lay(box, drawn, stage.frame);
  box.hidden = false;
}

const around = (at) => {
  const { w, h: tall } = stage.size;
  return between({ x: at.x - HALF / w, y: at.y - HALF / tall }, { x: at.x + HALF / w, y: at.y + HALF / tall });
};

async function balance(where) {
  const found = await bench.trying(() => post("toward", { still: stage.still, box: where, do: "grey" }));
  if (!found) return;
  const values = found.make && Object.entries(found.make).map(([name, value]) => ({ step: null, path: [name], value }));
  if (found.make) await bench.edit("make", { kind: "balance", values });
  else await bench.edit("edit", { do: "set", changes: found.changes });
  const rest = found.bounded ? " That is as far as a balance goes; what is left of the cast stays." : "";
  bench.say(`Balanced: ${found.words}.${rest} Undo takes it back.`);
}

spot.use("grey", { words: "Grey to balance", moved: () => {}, key: (event) => {
  if (event.key !== "Enter" && event.key !== " ") return false;
  balance(around(spot.at));
  return true;
} });

tools.add({
  id: "grey", label: "Grey", title: "click or frame what should be grey; with keys, arrows and Enter", key: "g",
  chosen: (on) => { box.hidden = true; if (on) spot.begin(); },
  down: (at) => {
    if (!at.inside || at.pane.still !== stage.still) return false;
    from = at;
    spot.put(at, false);
    return true;
  },
  move: (at) => place(between(from, at)),
  up: (at) => {
    const drawn = between(from, at);
    box.hidden = true;
    balance(drawn[2] * stage.size.w < 4 || drawn[3] * stage.size.h < 4 ? around(from) : drawn);
  },
});
