// The recipe: its steps as cards in order, said in words.

import { Newest, post } from "./api.js";
import { bench } from "./core.js";
import { Card } from "./card.js";
import { capital, h, node } from "./dom.js";
import { keys } from "./keys.js";
import { lattices } from "./lattices.js";
import { Slider } from "./slider.js";
import { stage } from "./stage.js";

const edit = (body) => bench.edit("edit", body);
const WORDS = 200; // ms between two sentences of a moving step, at least: a print takes 30 of the server's to say what it does

class Recipe {
  cards = new Map();
  open = new Set();
  #strength = null;
  #due = 0; // the next of them
  #moved = [];
  // What the moving step does, in words: asked for beside the picture, which does not wait for it.
  #words = new Newest(async (changes) => {
    try {
      const { words } = await post("words", { changes });
      if (stage.moving && this.held) for (const [id, text] of Object.entries(words)) this.cards.get(Number(id))?.say(text, true);
    } catch { /* its step is gone; the picture tells */ }
  });
  #new = false; // the next step that comes is the one just added

  constructor() {
    node("add").addEventListener("click", () => this.#add());
    node("add-kind").addEventListener("change", () => this.#aboutAdding());
    lattices.hands.push(() => this.held);
  }

  update(state) {
    this.state = state;
    node("title").textContent = state.title || state.file;
    node("about").textContent = state.about;
    node("signals").textContent = `Fed ${state.source}. Gives ${state.output}. ${state.screen.note}`;
    this.#whole(state.strength);
    const list = node("steps");
    const kept = new Set();
    let before = "scene light";
    let added = null;
    state.steps.forEach((step, place) => {
      kept.add(step.id);
      let card = this.cards.get(step.id);
      if (!card) {
        card = new Card(step, this);
        this.cards.set(step.id, card);
        if (this.#new) { added = card; this.open.add(step.id); }
      }
      card.update(step, place, before, this.open.has(step.id));
      before = step.on ? step.gives : before;
      if (list.children[place] !== card.item) list.insertBefore(card.item, list.children[place] || null);
    });
    for (const [id, card] of this.cards) {
      if (kept.has(id)) continue;
      card.item.remove();
      this.cards.delete(id);
    }
    this.#adding(state.addable);
    if (added) this.#show(added);
  }

  // Whether a hand is on one of the sliders.
  get held() {
    return [this.#strength, ...[...this.cards.values()].flatMap((c) => c.sliders)].some((s) => s?.held || s?.later);
  }

  preview(changes) {
    lattices.move(changes);
    this.#moved = changes;
    if (this.#due) return;
    this.#due = window.setTimeout(() => {
      this.#due = 0;
      if (this.held) this.#words.ask(this.#moved);
    }, WORDS);
  }

  keep(changes) {
    lattices.drop();
    edit({ do: "set", changes });
  }

  edit(body) { return edit(body); }

  #whole(value) {
    const parameter = {
      label: "strength", value, default: 1, neutral: 1, low: 0, high: 1, soft_low: 0, soft_high: 1, scale: "linear", unit: "",
      help: "The whole look: 1 as written, 0 the plain rendering", tunable: false, locked: false, group: "", paint: "",
    };
    if (this.#strength) { this.#strength.update(parameter); return; }
    const changes = (v) => [{ step: null, path: [], value: v }];
    this.#strength = new Slider(parameter, { moved: (v) => this.preview(changes(v)), kept: (v) => this.keep(changes(v)) });
    node("strength").append(this.#strength.row);
  }

  async #add() {
    const one = this.state.addable.find((a) => a.kind === node("add-kind").value);
    if (!one || one.at === null) return;
    this.#new = true;
    await edit({ do: "add", kind: one.kind, index: one.at });
    this.#new = false;
  }

  // The step that was just added: open, in sight, its first ruler under the hand.
  #show(card) {
    card.item.scrollIntoView({ block: "center" });
    card.sliders[0]?.range.focus({ preventScroll: true });
    if (!card.sliders.length) card.name.focus({ preventScroll: true });
    bench.say(`${card.step.kind} is step ${card.place + 1} now. As it stands it changes nothing that was not so before: move its rulers.`);
  }

  #adding(addable) {
    const select = node("add-kind");
    const chosen = select.value;
    select.replaceChildren(...addable.map((a) => h("option", { value: a.kind, disabled: a.at === null }, a.kind)));
    if (addable.some((a) => a.kind === chosen && a.at !== null)) select.value = chosen;
    else select.value = addable.find((a) => a.at !== null)?.kind ?? "";
    this.#aboutAdding();
  }

  #aboutAdding() {
    const one = this.state.addable.find((a) => a.kind === node("add-kind").value);
    const where = one && one.at !== null ? ` It becomes step ${one.at + 1}${this.state.steps[one.at] ? `, before ${this.state.steps[one.at].kind}` : ""}.` : "";
    node("add-about").textContent = one ? one.why || capital(`${one.summary}.${where}`) : "";
    node("add").disabled = !one || one.at === null;
  }
}

export const recipe = new Recipe();
bench.on("state", (state) => recipe.update(state));
keys.add(
  { keys: ["ctrl+z"], words: "undo", group: "The recipe", typing: true, act: () => bench.edit("undo", {}) },
  { keys: ["ctrl+shift+z", "ctrl+y"], words: "do again", group: "The recipe", typing: true, act: () => bench.edit("redo", {}) },
);
node("undo").addEventListener("click", () => bench.edit("undo", {}));
node("redo").addEventListener("click", () => bench.edit("redo", {}));
