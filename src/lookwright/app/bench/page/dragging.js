// Numbers moved by something else than a ruler: the look moves under the hand, and is kept when the hand lets go.

import { bench } from "./core.js";
import { digits } from "./dom.js";
import { lattices } from "./lattices.js";

class Dragging {
  held = false;
  changes = [];

  /** On its way. */
  move(changes) {
    this.held = true;
    this.changes = changes;
    lattices.move(changes);
  }

  /** Let go: one edit, which can be undone. */
  async keep() {
    const { changes } = this;
    this.held = false;
    this.changes = [];
    lattices.drop();
    if (changes.length) await bench.edit("edit", { do: "set", changes });
  }
}

export const dragging = new Dragging();
lattices.hands.push(() => dragging.held);

/** The number at a path of a step of the newest state. */
export function number(step, path) {
  const found = bench.state.steps.find((s) => s.id === step);
  return found?.parameters.find((p) => JSON.stringify(p.path) === JSON.stringify(path)) ?? null;
}

/** Within its bounds, with as many digits as a hand can mean: those of its ruler. */
export function within(parameter, value) {
  const held = Math.min(parameter.high, Math.max(parameter.low, value));
  return Number(held.toFixed(digits(parameter.soft_high - parameter.soft_low)));
}
