// One step of the recipe: what it does in a sentence; opened, its main rulers, and the finer ones folded below.

import { bench } from "./core.js";
import { capital, h, node } from "./dom.js";
import { hueName } from "./hues.js";
import { Slider } from "./slider.js";

export class Card {
  constructor(step, recipe) {
    this.recipe = recipe;
    this.id = step.id;
    this.sliders = [];
    this.bands = []; // which are open
    this.bandNames = [];
    this.grip = h("button", { type: "button", class: "grip", title: "Drag to another place; or Alt and the arrow keys" });
    this.name = h("button", { type: "button", class: "name", onclick: () => this.toggle() });
    this.on = h("input", { type: "checkbox", onchange: () => this.edit({ do: "on", on: this.on.checked }) });
    this.words = h("p", { class: "words" });
    this.note = h("p", { class: "note" });
    this.body = h("div", { class: "body", hidden: true });
    this.rows = h("div", { class: "rows" });
    this.foot = h("p", { class: "foot" });
    this.up = h("button", { type: "button", onclick: () => this.move(-1) }, "Earlier");
    this.down = h("button", { type: "button", onclick: () => this.move(1) }, "Later");
    this.lock = h("button", { type: "button", class: "lock-all", onclick: () => this.edit({ do: "lock", lock: this.step.lock !== true }) });
    this.out = h("button", { type: "button", onclick: () => this.edit({ do: "remove" }) }, "Take out");
    this.band = h("button", { type: "button", onclick: () => this.edit({ do: "band", centre: this.#free() }) }, "Another band");
    this.body.append(this.rows, this.foot, h("div", { class: "acts" }, this.up, this.down, this.lock, this.band, this.out));
    this.joint = h("p", { class: "joint" });
    const head = h("div", { class: "head" }, this.grip, this.name, h("label", { class: "on" }, this.on, "in use"));
    this.item = h("li", { class: "card" }, this.joint, head, this.words, this.note, this.body);
    this.grip.addEventListener("pointerdown", (event) => this.#drag(event));
    head.addEventListener("keydown", (event) => {
      const by = event.altKey ? { ArrowUp: -1, ArrowDown: 1 }[event.key] : 0;
      if (!by) return;
      event.preventDefault();
      this.move(by);
    });
  }

  edit(body) { return this.recipe.edit({ step: this.id, ...body }); }

  async move(by) {
    const why = this.step.moves[by < 0 ? "up" : "down"];
    if (why) { bench.say(why); return; }
    const at = /** @type {HTMLElement} */ (document.activeElement);
    await this.edit({ do: "move", index: this.place + by });
    if (this.item.contains(at)) at.focus();
  }

  // Drag by the number: the line shows where it would go.
  #drag(event) {
    if (event.button !== 0) return;
    event.preventDefault();
    this.grip.focus();
    this.grip.setPointerCapture(event.pointerId);
    this.item.classList.add("dragged");
    const items = /** @type {HTMLElement[]} */ ([...node("steps").children]);
    let to = this.place;
    const clear = () => items.forEach((item) => item.classList.remove("before", "after"));
    const move = (e) => {
      clear();
      const over = items.findIndex((item) => e.clientY < item.getBoundingClientRect().bottom);
      to = over < 0 ? items.length - 1 : over;
      if (to !== this.place) items[to].classList.add(to < this.place ? "before" : "after");
    };
    const end = () => {
      this.grip.removeEventListener("pointermove", move);
      clear();
      this.item.classList.remove("dragged");
      if (to !== this.place) this.edit({ do: "move", index: to });
    };
    this.grip.addEventListener("pointermove", move);
    this.grip.addEventListener("pointerup", end, { once: true });
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

  say(text, moving) {
    this.words.textContent = `${capital(text)}.`;
    this.words.classList.toggle("moving", moving);
  }

  update(step, place, before, open) {
    this.step = step;
    this.place = place;
    this.item.dataset.kind = step.kind;
    this.item.dataset.step = step.id;
    this.grip.textContent = `${place + 1}.`;
    this.grip.setAttribute("aria-label", `Step ${place + 1}, ${step.kind}: to another place with Alt and arrow keys`);
    this.name.textContent = step.kind;
    this.name.title = step.summary;
    this.on.checked = step.on;
    this.on.setAttribute("aria-label", `${step.kind} in use`);
    if (!this.sliders.some((s) => s.held || s.later)) this.say(step.words, false);
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
    if (shape === this.shape) {
      step.parameters.forEach((parameter, i) => this.sliders[i].update(parameter));
      this.#nameBands(step);
      return;
    }
    const finer = this.rows.querySelector("details")?.open ?? false;
    this.shape = shape;
    this.sliders = step.parameters.map((parameter) => this.#slider(parameter));
    const part = (main) => this.#grouped(step.parameters.filter((p) => p.main === main));
    const rest = part(false);
    for (const [key, value] of Object.entries(step.plain)) rest.push(h("p", { class: "plain" }, `${key}: ${value}`));
    const count = step.parameters.filter((p) => !p.main).length;
    const fold = rest.length ? [h("details", { class: "finer", open: finer }, h("summary", {}, `Finer${count ? `, ${count} more` : ""}`), ...rest)] : [];
    this.rows.replaceChildren(...part(true), ...fold);
    this.foot.textContent = capital(`${step.summary}.`);
    this.#nameBands(step);
  }

  #grouped(parameters) {
    const parts = [];
    let group = "";
    /** @type {{push: (row: HTMLElement) => unknown}} */
    let into = parts;
    for (const parameter of parameters) {
      if (parameter.group !== group) {
        group = parameter.group;
        into = parts;
        if (parameter.path[0] === "band" && parameter.main) into = this.#band(parameter, parts);
        else if (group) parts.push(h("p", { class: "group" }, group));
      }
      into.push(this.sliders[this.step.parameters.indexOf(parameter)].row);
    }
    return parts;
  }

  // A band of hues is folded like a step of its own; the first one is open.
  #band(parameter, parts) {
    const index = parameter.path[1];
    const name = h("span", {}, parameter.group);
    const out = h("button", { type: "button", "aria-label": `take out ${parameter.group}`, onclick: (event) => { event.preventDefault(); this.edit({ do: "unband", index }); } }, "take out");
    this.bandNames[index] = name;
    const fold = h("details", { class: "band", open: this.bands[index] ?? index === 0, ontoggle: () => { this.bands[index] = fold.open; } });
    fold.append(h("summary", {}, name), h("p", { class: "acts" }, out));
    parts.push(fold);
    return { push: (row) => fold.append(row) };
  }

  // The hue that a band stands for, in its head.
  #nameBands(step) {
    for (const p of step.parameters) {
      if (p.path[0] !== "band" || p.paint !== "hue" || !this.bandNames[p.path[1]]) continue;
      this.bandNames[p.path[1]].textContent = `${p.group}: ${hueName(p.value)}`;
    }
  }

  #slider(parameter) {
    const { path } = parameter;
    const changes = (value) => [{ step: this.id, path, value }];
    return new Slider(parameter, {
      moved: (value) => this.recipe.preview(changes(value)),
      kept: (value) => this.recipe.keep(changes(value)),
      lock: (on) => this.#lockOne(parameter.lock_name, on),
      about: (p) => { this.foot.textContent = `${capital(p.help)}.${p.unit ? ` In ${p.unit}.` : ""} From ${p.low} to ${p.high}.`; },
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
