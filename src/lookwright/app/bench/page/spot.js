// The spot on the picture that a tool speaks of: a cross, put there by the pointer or moved with the arrow keys.

import { clamp, h, node } from "./dom.js";
import { bench } from "./core.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const cross = h("button", { type: "button", id: "spot", hidden: true, "aria-label": "Spot on the picture" }, h("i", {}));
node("stage").append(cross);

class Spot {
  /** @type {?{x: number, y: number, still: number}} */
  at = null;
  /** @type {Map<string, {words: string, moved: (at: any) => void, key?: (event: KeyboardEvent) => boolean | void}>} */
  #users = new Map();

  /**
   * A tool that speaks of a spot.
   * @param {string} id
   * @param {{words: string, moved: (at: any) => void, key?: (event: KeyboardEvent) => boolean | void}} does
   *   moved: it lies elsewhere; key: a key of the tool's own, true when it was one
   */
  use(id, does) { this.#users.set(id, does); }

  get #user() { return this.#users.get(tools.now?.id ?? ""); }

  put(at, tell = true) {
    this.at = { x: clamp(at.x, 0, 0.999999), y: clamp(at.y, 0, 0.999999), still: stage.still };
    this.place();
    if (tell) this.#user?.moved(this.at);
  }

  place() {
    const { frame } = stage;
    const user = this.#user;
    cross.hidden = !user || !frame || !this.at || this.at.still !== stage.still;
    if (cross.hidden) return;
    cross.setAttribute("aria-label", `${user.words}, at ${Math.round(100 * this.at.x)} % from the left, ${Math.round(100 * this.at.y)} % from the top; arrow keys move it`);
    cross.style.setProperty("left", `${frame.x + this.at.x * frame.w}px`);
    cross.style.setProperty("top", `${frame.y + this.at.y * frame.h}px`);
  }

  // Taken up by a key or a button: the cross begins in the middle of what is seen.
  begin() {
    if (!stage.frame) return;
    if (!this.at || this.at.still !== stage.still) this.put(stage.centre, false);
    this.place();
    cross.focus({ preventScroll: true });
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (this.#user?.key?.(event)) { event.preventDefault(); event.stopPropagation(); return; }
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); this.#user?.moved(this.at); return; }
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const far = (event.shiftKey ? 20 : 3) / Math.max(stage.scale, 0.05);
    this.put({ x: this.at.x + (by[0] * far) / stage.size.w, y: this.at.y + (by[1] * far) / stage.size.h });
  }
}

export const spot = new Spot();
cross.addEventListener("keydown", (event) => spot.key(event));
bench.on("placed", () => spot.place());
bench.on("tool", () => spot.place());
