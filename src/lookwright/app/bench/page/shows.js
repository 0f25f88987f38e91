// What the stage can show of a still: the look as it stands, the plain rendering, a version ... Each is declared once.

import { binary } from "./api.js";

/**
 * @typedef {object} Show
 * @property {string} id
 * @property {string} label as lists and captions say it
 * @property {string} group heading in lists
 * @property {() => unknown} stamp changes when its picture does; a picture of an older stamp is fetched anew
 * @property {(region: any, painter: any, old: any, still: number) => Promise<any>} fetch
 *   what is drawn ({kind, picture, ...} for the painter) of a region of a still; null when something newer came in
 * @property {() => any} [lattice] a lattice texture of it, for the time until the exact picture is there
 * @property {boolean} [moves] follows a slider under the hand
 * @property {boolean} [live] whatever is drawn of it goes through the newest lattice
 * @property {boolean} [whole] a picture of its own, shown whole: it has no region of the still
 * @property {string} [name] of what is shown, where it is no still
 * @property {string} [note] said beside the caption
 */

class Shows {
  /** @type {Map<string, Show>} */
  #all = new Map();
  changed = () => {};

  /** @param {...Show} several */
  add(...several) {
    for (const show of several) this.#all.set(show.id, show);
    this.changed();
  }

  // All of a group at once: versions come and go.
  replace(group, several) {
    for (const [id, show] of this.#all) if (show.group === group) this.#all.delete(id);
    this.add(...several);
  }

  /** @returns {?Show} */
  get(id) { return this.#all.get(id) ?? null; }

  get list() { return [...this.#all.values()]; }
}

export const shows = new Shows();

/** The exact picture that the server makes of a side: `now`, `plain`, `saved`, `version:ID` ... */
export const ofServer = (side) => async (region, painter, old) => {
  const found = await binary("exact", { ...region, side });
  if (!found) return null;
  return { kind: "flat", picture: painter.picture(found.bytes, region.width, region.height, 3, old?.picture) };
};
