// What the parts of the page share: the newest state, news between the parts, and edits one after the other.
//
// Topics, with what they carry:
//   state(new, old)   the recipe or something beside it is another
//   looks()           the look itself is another, and at rest (lattices and exact pictures follow)
//   moving(changes)   a hand moves the look, or let go (no changes)
//   told(answer)      a slider moves: levels of the look under the hand (what /api/preview tells)
//   still(index)      another still lies on the table
//   placed()          the picture lies elsewhere, or is another size
//   drawn(exact)      the picture was drawn
//   server:TOPIC      news of the server

import { Fault, get, post } from "./api.js";
import { node } from "./dom.js";

class Bench {
  /** @type {any} */
  state = null;
  /** @type {any} what is at work beside the page, or done */
  job = null;
  /** @type {(index: number) => Promise<void>} */
  openStill = async () => {};
  #hear = new Map();
  #edits = Promise.resolve();
  #quiet = 0;

  on(topic, does) {
    if (!this.#hear.has(topic)) this.#hear.set(topic, []);
    this.#hear.get(topic).push(does);
  }

  tell(topic, ...content) {
    for (const does of this.#hear.get(topic) ?? []) does(...content);
  }

  // A line under the picture; it goes by itself, unless it must be read.
  say(text, stays = false) {
    const box = node("message");
    box.querySelector("span").textContent = text;
    box.hidden = false;
    clearTimeout(this.#quiet);
    if (!stays) this.#quiet = setTimeout(() => { box.hidden = true; }, 12000);
  }

  async trying(work) {
    try {
      return await work();
    } catch (fault) {
      this.say(fault.message);
      if (fault instanceof Fault && fault.data.gone) await this.refresh();
      else if (this.state) this.tell("state", this.state, this.state); // what was refused is shown as it is
      return null;
    }
  }

  // Edits go one after the other, none is dropped.
  edit(path, body) {
    this.#edits = this.#edits.then(() => this.trying(async () => this.take(await post(path, body))));
    return this.#edits;
  }

  // After all edits on their way.
  later(work) {
    this.#edits = this.#edits.then(work);
    return this.#edits;
  }

  async refresh() { await this.trying(async () => this.take(await get("state"))); }

  take(next) {
    if (this.state && next.count < this.state.count) return; // overtaken by a later one
    const old = this.state;
    this.state = next;
    this.tell("state", next, old);
  }
}

export const bench = new Bench();

const away = () => { node("message").hidden = true; };
node("message").querySelector("button").addEventListener("click", away);
bench.on("escape", away);
