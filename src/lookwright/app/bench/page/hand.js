// Moving and sizing the picture: wheel, two fingers, double click and keys.

import { clamp, node } from "./dom.js";
import { keys } from "./keys.js";
import { stage } from "./stage.js";

const canvas = node("picture");
const table = node("stage");

/** @returns {[number, number]} */
const spot = (event) => {
  const box = table.getBoundingClientRect();
  return [event.clientX - box.left, event.clientY - box.top];
};

// A turn of the wheel is a tenth or so; two fingers on a track pad come as a wheel with Control.
table.addEventListener("wheel", (event) => {
  if (!stage.size) return;
  event.preventDefault();
  const lines = event.deltaMode === 1 ? 16 : 1;
  const by = clamp(event.deltaY * lines, -120, 120);
  const [x, y] = spot(event);
  if (event.shiftKey) stage.pan(-by, 0);
  else stage.zoomAt(x, y, Math.exp(-by * (event.ctrlKey ? 0.01 : 0.0016)));
}, { passive: false });

// Two fingers on a screen: they keep hold of what is under them.
const fingers = new Map();
table.addEventListener("pointerdown", (event) => {
  if (event.pointerType !== "touch") return;
  fingers.set(event.pointerId, spot(event));
  if (fingers.size === 2) stage.gesturing = true;
}, true);
table.addEventListener("pointermove", (event) => {
  if (!fingers.has(event.pointerId)) return;
  const before = [...fingers.values()];
  fingers.set(event.pointerId, spot(event));
  if (fingers.size !== 2) return;
  const after = [...fingers.values()];
  const apart = (two) => Math.hypot(two[0][0] - two[1][0], two[0][1] - two[1][1]) || 1;
  const middle = (two) => [(two[0][0] + two[1][0]) / 2, (two[0][1] + two[1][1]) / 2];
  const [x0, y0] = middle(before), [x, y] = middle(after);
  stage.pan(x - x0, y - y0);
  stage.zoomAt(x, y, apart(after) / apart(before));
}, true);
for (const name of ["pointerup", "pointercancel"]) {
  table.addEventListener(name, (event) => {
    if (!fingers.delete(event.pointerId) || fingers.size) return;
    stage.gesturing = false;
  }, true);
}

canvas.addEventListener("dblclick", (event) => {
  const [x, y] = spot(event);
  if (stage.zoom) zoom(0);
  else stage.zoomAt(x, y, 1 / stage.scale);
});
canvas.addEventListener("keydown", (event) => {
  const by = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
  if (!by || !stage.zoom || event.ctrlKey || event.altKey) return;
  event.preventDefault();
  stage.pan(by[0] * 80, by[1] * 80);
});

/** Screen pixels for one of the still; 0 fits the table. */
export const zoom = (value) => stage.set({ zoom: value });

const step = (factor) => stage.zoomAt(table.clientWidth / 2, table.clientHeight / 2, factor);
keys.add(
  { keys: ["f"], words: "the whole still", group: "Size", act: () => zoom(0) },
  { keys: ["1"], words: "one pixel for one", group: "Size", act: () => zoom(1) },
  { keys: ["2"], words: "twice as large", group: "Size", act: () => zoom(2) },
  { keys: ["4"], words: "four times as large", group: "Size", act: () => zoom(4) },
  { keys: ["+", "="], words: "closer", group: "Size", act: () => step(1.25) },
  { keys: ["-"], words: "further away", group: "Size", act: () => step(0.8) },
);
