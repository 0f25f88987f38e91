// Keys of the page: each declared once, with words; the same list is what "?" shows.

import { node } from "./dom.js";

/** @typedef {{keys: string[], words: string, group: string, act: (event: KeyboardEvent) => void, typing?: boolean}} Key */

class Keys {
  /** @type {Key[]} */
  list = [];

  /**
   * A key is named as it is typed, "ctrl+" and "shift+" before it; "ctrl+" means the command key too.
   * `typing`: also while something is typed.
   * @param {...Key} several
   */
  add(...several) { this.list.push(...several); }

  /** @param {KeyboardEvent} event */
  press(event) {
    const control = event.ctrlKey || event.metaKey;
    const target = /** @type {?Element} */ (event.target);
    const typing = Boolean(target?.matches?.("input[type=text], textarea, select"));
    if (event.altKey || event.defaultPrevented || node("ask").open) return;
    const key = event.key.toLowerCase();
    const names = [`${control ? "ctrl+" : ""}${event.shiftKey ? "shift+" : ""}${key}`];
    if (!control && key.length === 1 && key.toUpperCase() === key) names.push(key); // signs, wherever a keyboard has them
    const found = this.list.find((one) => one.keys.some((name) => names.includes(name)));
    if (!found || (typing && !found.typing)) return;
    if (control) event.preventDefault();
    found.act(event);
  }
}

export const keys = new Keys();
document.addEventListener("keydown", (event) => keys.press(event));
