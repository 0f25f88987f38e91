// The recipe: its steps as cards in order, said in words; opened, one ruler for each declared parameter.

import { Slider, h } from "./slider.js";

/** @type {(id: string) => any} any kind of element: index.html says which */
const node = (id) => document.getElementById(id);

export class Recipe {
  // preview(changes), keep(changes), edit(body)
  constructor(does) {
    this.does = does;
    this.cards = new Map();
    this.open = new Set();
    node("add").addEventListener("click", () => {
      const one = this.state.addable.find((a) => a.kind === node("add-kind").value);
      if (one && one.at !== null) does.edit({ do: "add", kind: one.kind, index: one.at });
    });
    node("add-kind").addEventListener("change", () => this.#aboutAdding());
  }

  update(state) {
    this.state = state;
    node("title").textContent = state.title || state.file;
    node("about").textContent = state.about;
    node("signals").textContent = `Fed ${state.source}. Gives ${state.output}. ${state.screen.note}`;
    this.#strength(state.strength);
    const list = node("steps");
    const kept = new Set();
    let before = "scene light";
    state.steps.forEach((step, place) => {
      kept.add(step.id);
      let card = this.cards.get(step.id);
      if (!card) {
        card = new Card(step, this);
        this.cards.set(step.id, card);
      }
      card.update(step, place, before, this.open.has(step.id));
      before = step.on ? step.gives : before;
      if (list.children[place] !== card.item) list.insertBefore(card.item, list.children[place] || null);
    });
    for (const [id, card] of this.cards) {
      if (!kept.has(id)) {
        card.item.remove();
        this.cards.delete(id);
      }
    }
    this.#adding(state.addable);
  }

  // Whether a hand is on one of the sliders.
  get held() {
    return [this.strength, ...[...this.cards.values()].flatMap((c) => c.sliders)].some((s) => s?.held || s?.later);
  }

  #strength(value) {
    const parameter = {
      label: "strength", value, default: 1, neutral: 1, low: 0, high: 1, soft_low: 0, soft_high: 1, scale: "linear", unit: "",
      help: "The whole look: 1 as written, 0 the plain rendering", tunable: false, locked: false,
    };
    if (this.strength) return this.strength.update(parameter);
    const changes = (v) => [{ step: null, path: [], value: v }];
    this.strength = new Slider(parameter, { moved: (v) => this.does.preview(changes(v)), kept: (v) => this.does.keep(changes(v)) });
    return node("strength").append(this.strength.row);
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
    node("add-about").textContent = one ? one.why || one.summary : "";
    node("add").disabled = !one || one.at === null;
  }
}

class Card {
  constructor(step, recipe) {
    this.recipe = recipe;
    this.id = step.id;
    this.sliders = [];
    this.number = h("span", { class: "number" });
    this.name = h("button", { type: "button", class: "name", onclick: () => this.toggle() });
    this.on = h("input", { type: "checkbox", onchange: () => this.edit({ do: "on", on: this.on.checked }) });
    this.words = h("p", { class: "words" });
    this.note = h("p", { class: "note" });
    this.body = h("div", { class: "body", hidden: true });
    this.rows = h("div", { class: "rows" });
    this.foot = h("p", { class: "foot" });
    this.up = h("button", { type: "button", onclick: () => this.move(-1) }, "Earlier");
    this.down = h("button", { type: "button", onclick: () => this.move(1) }, "Later");
    this.lock = h("button", { type: "button", onclick: () => this.edit({ do: "lock", lock: this.step.lock !== true }) });
    this.out = h("button", { type: "button", onclick: () => this.edit({ do: "remove" }) }, "Take out");
    this.band = h("button", { type: "button", onclick: () => this.edit({ do: "band", centre: this.#free() }) }, "Another band");
    this.body.append(this.rows, this.foot, h("div", { class: "acts" }, this.up, this.down, this.lock, this.band, this.out));
    this.joint = h("p", { class: "joint" });
    const head = h("div", { class: "head" }, this.number, this.name, h("label", { class: "on" }, this.on, "in use"));
    this.item = h("li", { class: "card" }, this.joint, head, this.words, this.note, this.body);
  }

  edit(body) { this.recipe.does.edit({ step: this.id, ...body }); }

  move(by) {
    const why = this.step.moves[by < 0 ? "up" : "down"];
    if (why) this.recipe.does.say(why);
    else this.edit({ do: "move", index: this.place + by });
  }

  toggle() {
    const { open } = this.recipe;
    if (open.has(this.id)) open.delete(this.id);
    else open.add(this.id);
    this.#show(open.has(this.id));
  }

  #show(open) {
    this.body.hidden = !open;
    this.item.classList.toggle("open", open);
    this.name.setAttribute("aria-expanded", String(open));
  }

  update(step, place, before, open) {
    this.step = step;
    this.place = place;
    this.item.dataset.kind = step.kind;
    this.number.textContent = `${place + 1}.`;
    this.name.textContent = step.kind;
    this.name.title = step.summary;
    this.on.checked = step.on;
    this.words.textContent = `${step.words[0].toUpperCase()}${step.words.slice(1)}.`;
    this.note.textContent = step.note;
    this.note.hidden = !step.note;
    this.item.classList.toggle("off", !step.on);
    const crossing = step.on && step.gives === "display light" && before !== "display light";
    this.joint.textContent = crossing ? "Here scene light becomes display light" : "";
    this.joint.hidden = !crossing;
    for (const [button, why] of [[this.up, step.moves.up], [this.down, step.moves.down]]) {
      button.classList.toggle("cannot", Boolean(why));
      button.setAttribute("aria-disabled", String(Boolean(why)));
      button.title = why || "";
    }
    this.lock.textContent = step.lock === true ? "Unlock all" : "Lock all";
    this.lock.title = "Whether tuning may move this step";
    this.band.hidden = step.bands === null || step.bands >= 8;
    this.#parameters(step);
    this.#show(open);
  }

  #parameters(step) {
    const shape = JSON.stringify(step.parameters.map((p) => p.path));
    if (shape !== this.shape) {
      this.shape = shape;
      this.sliders = [];
      const parts = [];
      let group = "";
      for (const parameter of step.parameters) {
        if (parameter.group !== group) {
          group = parameter.group;
          parts.push(this.#groupHead(parameter));
        }
        const slider = this.#slider(parameter);
        this.sliders.push(slider);
        parts.push(slider.row);
      }
      for (const [key, value] of Object.entries(step.plain)) parts.push(h("p", { class: "plain" }, `${key}: ${value}`));
      this.rows.replaceChildren(...parts);
      this.foot.textContent = step.summary;
    } else {
      step.parameters.forEach((parameter, i) => this.sliders[i].update(parameter));
    }
  }

  #groupHead(parameter) {
    const head = h("h3", {}, parameter.group);
    if (parameter.path[0] === "band") {
      const index = parameter.path[1];
      head.append(h("button", { type: "button", onclick: () => this.edit({ do: "unband", index }) }, "take out"));
    }
    return head;
  }

  #slider(parameter) {
    const { path } = parameter;
    const changes = (value) => [{ step: this.id, path, value }];
    return new Slider(parameter, {
      moved: (value) => this.recipe.does.preview(changes(value)),
      kept: (value) => this.recipe.does.keep(changes(value)),
      lock: (on) => this.#lockOne(parameter.lock_name, on),
      about: (p) => { this.foot.textContent = `${p.help}.${p.unit ? ` In ${p.unit}.` : ""} From ${p.low} to ${p.high}.`; },
    });
  }

  #lockOne(name, on) {
    const { lock, parameters } = this.step;
    let names = parameters.filter((p) => p.locked).map((p) => p.lock_name);
    names = on ? [...names, name] : names.filter((n) => n !== name);
    const all = on && lock !== true && parameters.every((p) => names.includes(p.lock_name) || !p.tunable);
    this.edit({ do: "lock", lock: all ? true : names });
  }

  // A hue with no band near it.
  #free() {
    const centres = this.step.parameters.filter((p) => p.label === "centre").map((p) => p.value);
    const gap = (hue) => Math.min(360, ...centres.map((c) => Math.abs(((hue - c + 540) % 360) - 180)));
    const hues = Array.from({ length: 24 }, (_, i) => i * 15);
    return hues.reduce((best, hue) => (gap(hue) > gap(best) ? hue : best), 0);
  }
}
