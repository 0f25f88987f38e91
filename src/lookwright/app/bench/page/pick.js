// A colour picked on the picture: its hue band is found or made, and dragged there. Up and down is light, across turns the
// hue, across with Shift is more or less colour. Arrow keys with the cross in hand do the same behind Enter.

import { post } from "./api.js";
import { bench } from "./core.js";
import { capital, h, shown } from "./dom.js";
import { dragging, number, within } from "./dragging.js";
import { panels } from "./panels.js";
import { spot } from "./spot.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const PIXELS = 220; // of the screen, for the whole usual range of a number
const NAMES = { light: "light", turn: "turn", saturation: "colour" };
let found = null; // what the server said of the picked colour
let from = null; // where a drag began, and the numbers then
let keyed = 0;

const body = h("div", { id: "picked" }, h("p", { class: "hint" }, "Take up the tool \u201cColour\u201d, click a colour, and drag it."));
const words = h("p", { role: "status" });
const figures = h("p", { class: "figures" });
const make = h("button", { type: "button", class: "main", onclick: () => makeBand() }, "Make a band of this hue");
const hint = h("p", { class: "hint" });

panels.add({ id: "picked-panel", tab: "Colour", title: "Picked colour", order: 6, width: 250, grow: 0.8, open: false, fill: (into) => into.append(body) });

const path = (name) => ["band", found.band, name];
const value = (name) => number(found.step, path(name))?.value;

function show() {
  body.replaceChildren(words, figures, make, hint);
  if (!found) return;
  const pale = found.pale ? " It is nearly neutral: a band takes little of it." : "";
  make.hidden = found.step !== null;
  figures.hidden = found.step === null;
  if (found.step === null) {
    words.textContent = `${capital(found.words)}, hue ${shown(found.hue)}\u00b0: no band holds it.${pale}`;
    hint.textContent = "Made, it can be dragged on the picture.";
    return;
  }
  const place = bench.state.steps.findIndex((s) => s.id === found.step);
  words.textContent = `${capital(found.words)}, hue ${shown(found.hue)}\u00b0: band ${found.band + 1} of step ${place + 1} takes ${Math.round(100 * found.share)} % of it.${pale}`;
  hint.textContent = "Drag on the picture: up and down light, across turn, across with Shift colour. With keys: Enter, then arrows.";
  numbers();
}

function numbers(moved = []) {
  if (!found || found.step === null) return;
  const now = (name) => moved.find((c) => c.path[2] === name)?.value ?? value(name);
  const said = Object.keys(NAMES).map((name) => (now(name) === undefined ? "" : `${NAMES[name]} ${shown(now(name))}${{ light: " stops", turn: "\u00b0", saturation: " \u00d7" }[name]}`));
  figures.textContent = said.filter(Boolean).join(", ");
}

async function look(at) {
  const answer = await bench.trying(() => post("band", { still: at.still, x: at.x, y: at.y }));
  if (!answer) return null;
  found = answer;
  show();
  return answer;
}

async function makeBand() {
  if (!found || found.step !== null) return;
  const centre = found.hue;
  if (found.into !== null && found.into !== undefined) await bench.edit("edit", { do: "band", step: found.into, centre });
  else await bench.edit("make", { kind: "hues", values: [], centre });
  await look(spot.at);
}

// The changes of a drag by so many pixels of the screen, from the numbers that it began with.
function changes(dx, dy, colour) {
  const one = (name, by) => {
    const p = number(found.step, path(name));
    const wanted = within(p, from.values[name] + (by / PIXELS) * (p.soft_high - p.soft_low));
    return { step: found.step, path: p.path, value: wanted };
  };
  const list = [];
  if (dy) list.push(one("light", -dy));
  if (dx) list.push(one(colour ? "saturation" : "turn", dx));
  return list;
}

const begin = (x, y) => { from = { x, y, values: Object.fromEntries(Object.keys(NAMES).map((n) => [n, value(n)])) }; };

function move(dx, dy, colour) {
  // A drag goes one way: the other is left alone until it is clearly meant.
  const [ax, ay] = Math.abs(dx) > 2 * Math.abs(dy) ? [dx, 0] : Math.abs(dy) > 2 * Math.abs(dx) ? [0, dy] : [dx, dy];
  const list = changes(ax, ay, colour);
  if (!list.length) return;
  dragging.move(list);
  numbers(list);
}

/** @type {any} */
let down = null;
tools.add({
  id: "pick", label: "Colour", title: "find or make the hue band of a colour, and drag it", key: "c",
  chosen: (on) => {
    panels.along("picked-panel", on);
    if (!on) return;
    spot.begin();
    if (spot.at) look(spot.at);
  },
  down: (at, event) => {
    if (!at.inside || at.pane.still !== stage.still) return false;
    from = null;
    down = { x: event.clientX, y: event.clientY };
    spot.put(at, false);
    down.asked = look(spot.at).then((answer) => { if (answer && answer.step !== null && down) begin(down.x, down.y); });
    return true;
  },
  move: (_, event) => {
    if (!from || !down) return;
    const dx = event.clientX - from.x, dy = event.clientY - from.y;
    if (Math.hypot(dx, dy) > 3) move(dx, dy, event.shiftKey);
  },
  up: async () => {
    down = null;
    from = null;
    if (dragging.held) await dragging.keep();
    show();
  },
});

// With keys: Enter takes the band in hand, arrows move it, Enter or Escape lets go.
spot.use("pick", {
  words: "Picked colour",
  moved: (at) => look(at),
  key: (event) => {
    if (!found) return false;
    if (event.key === "Enter") {
      if (found.step === null) makeBand();
      else if (from) from = null;
      else { begin(0, 0); hint.textContent = "In hand: arrows up and down light, left and right turn, with Shift colour. Enter lets go."; }
      return true;
    }
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!from || !by || found.step === null) return false;
    from.dx = (from.dx ?? 0) + 8 * by[0] * (event.shiftKey ? 0 : 1);
    from.dy = (from.dy ?? 0) + 8 * by[1];
    from.ds = (from.ds ?? 0) + 8 * by[0] * (event.shiftKey ? 1 : 0);
    const list = [...changes(from.dx, from.dy, false), ...changes(from.ds, 0, true)];
    if (list.length) { dragging.move(list); numbers(list); }
    clearTimeout(keyed);
    keyed = setTimeout(async () => { await dragging.keep(); if (from) begin(0, 0); }, 400); // a run of keys is one edit
    return true;
  },
});

bench.on("state", () => { if (found && tools.now?.id === "pick" && !dragging.held) show(); });
