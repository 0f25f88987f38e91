// What the pointer does on the picture: one tool at a time. Without one the hand moves the picture.

import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { stage } from "./stage.js";

/**
 * @typedef {object} Tool
 * @property {string} id
 * @property {string} label on its button
 * @property {string} title
 * @property {string} [key]
 * @property {(at: Spot, event: PointerEvent) => boolean | void} [down] false leaves the pointer to the hand
 * @property {(at: Spot, event: PointerEvent) => void} [move] while held, after down
 * @property {(at: Spot, event: PointerEvent) => void} [up]
 * @property {(at: Spot, event: PointerEvent) => void} [hover] while not held
 * @property {() => void} [leave] the pointer left the picture
 * @property {(on: boolean) => void} [chosen] it was taken up or put down
 */

/** @typedef {{x: number, y: number, inside: boolean, pane: any}} Spot x and y are fractions of the still under the pointer */

class Tools {
  /** @type {Tool[]} */
  list = [];
  /** @type {?Tool} */
  now = null;

  /** @param {...Tool} several */
  add(...several) {
    for (const tool of several) {
      this.list.push(tool);
      const button = h("button", { type: "button", "aria-pressed": "false", title: `${tool.title}${tool.key ? ` (${tool.key.toUpperCase()})` : ""}`, onclick: () => this.toggle(tool.id) }, tool.label);
      button.dataset.tool = tool.id;
      node("pointers").append(button);
      if (tool.key) keys.add({ keys: [tool.key], words: tool.title, group: "On the picture", act: () => this.toggle(tool.id) });
    }
  }

  toggle(id) { this.choose(this.now?.id === id ? null : id); }

  // Take a tool up; null puts it down.
  choose(id) {
    const next = this.list.find((one) => one.id === id) ?? null;
    if (next === this.now) return;
    this.now?.chosen?.(false);
    this.now = next;
    node("stage").dataset.tool = next?.id ?? "";
    for (const button of node("pointers").querySelectorAll("[data-tool]")) button.setAttribute("aria-pressed", String(button.dataset.tool === next?.id));
    next?.chosen?.(true);
    bench.tell("tool", next?.id ?? "");
  }
}

export const tools = new Tools();
keys.add({ keys: ["escape"], words: "put the tool down, stop blinking", group: "On the picture", act: () => { tools.choose(null); bench.tell("escape"); } });

const canvas = node("picture");
/** @returns {Spot} */
const spot = (event) => {
  const box = canvas.getBoundingClientRect();
  return stage.spot(event.clientX - box.left, event.clientY - box.top);
};

// The pointer goes to the tool first, then to the hand (which moves a picture larger than the table).
canvas.addEventListener("pointerdown", (event) => {
  if (event.button !== 0 || !stage.size || stage.gesturing) return;
  const tool = tools.now;
  const at = spot(event);
  const taken = tool?.down && tool.down(at, event) !== false;
  canvas.setPointerCapture(event.pointerId);
  let last = event;
  const move = (e) => {
    if (stage.gesturing) return;
    if (taken) tool.move?.(spot(e), e);
    else stage.pan(e.clientX - last.clientX, e.clientY - last.clientY);
    last = e;
  };
  const end = (e) => {
    canvas.removeEventListener("pointermove", move);
    canvas.removeEventListener("pointerup", end);
    canvas.removeEventListener("pointercancel", end);
    if (taken) tool.up?.(spot(e), e);
  };
  canvas.addEventListener("pointermove", move);
  canvas.addEventListener("pointerup", end);
  canvas.addEventListener("pointercancel", end);
});
canvas.addEventListener("pointermove", (event) => {
  if (!stage.size || event.buttons) return;
  const at = spot(event);
  tools.now?.hover?.(at, event);
  bench.tell("pointer", at.inside ? at : null);
});
canvas.addEventListener("pointerleave", () => {
  tools.now?.leave?.();
  bench.tell("pointer", null);
});
