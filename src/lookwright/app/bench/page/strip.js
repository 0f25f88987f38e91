// The stills beside the picture, each through the look as it stands. One tab stop; arrows go along.

import { binary } from "./api.js";
import { bench } from "./core.js";
import { h, node, roving } from "./dom.js";
import { lattices } from "./lattices.js";
import { stage } from "./stage.js";

const WIDTH = 240; // pixels fetched: enough for a strip that was made wide
const AT_ONCE = 3;
const nav = node("strip");

class Strip {
  cells = [];
  opened = (index) => { void index; };
  #waiting = [];
  #running = 0;
  #watch = new IntersectionObserver((seen) => this.#seen(seen), { root: nav, rootMargin: "200px" });
  #stop = roving(nav, () => this.cells.map((c) => c.button));

  fill(stills) {
    const old = this.cells;
    this.cells = stills.map((still, index) => {
      if (old[index]?.name === still.name) return old[index]; // stills were added behind it
      const canvas = h("canvas", { "aria-hidden": "true", width: WIDTH, height: Math.round((WIDTH * 9) / 16) });
      const name = still.name.replace(/\.[^.]+$/, "");
      const button = h("button", { type: "button", title: still.name, onclick: () => this.opened(index) }, canvas, h("span", {}, name));
      this.#watch.observe(button);
      return { index, name: still.name, canvas, button, seen: false };
    });
    nav.replaceChildren(...this.cells.map((c) => c.button));
    this.#stop.settle();
  }

  choose(index) {
    for (const cell of this.cells) {
      if (cell.index === index) cell.button.setAttribute("aria-current", "true");
      else cell.button.removeAttribute("aria-current");
    }
    const button = this.cells[index]?.button;
    button?.scrollIntoView({ block: "nearest", inline: "nearest" });
    if (button && !nav.contains(document.activeElement)) this.#stop.settle(button);
  }

  waiting(index, on) { this.cells[index]?.button.classList.toggle("waiting", on); }

  #seen(entries) {
    for (const entry of entries) {
      const cell = this.cells.find((c) => c.button === entry.target);
      if (!cell) continue;
      cell.seen = entry.isIntersecting;
      if (!cell.seen) continue;
      if (cell.asked) this.#draw(cell);
      else { cell.asked = true; this.#waiting.push(cell); this.#next(); }
    }
  }

  // A few at once.
  async #next() {
    if (this.#running >= AT_ONCE || !this.#waiting.length) return;
    this.#running += 1;
    const cell = this.#waiting.shift();
    try { await this.#fetch(cell); } catch (fault) { cell.button.classList.add("broken"); cell.button.title = fault.message; }
    this.#running -= 1;
    this.#next();
  }

  async #fetch(cell) {
    const found = await binary("thumb", { still: cell.index });
    const [w, hh] = ["x-width", "x-height"].map((name) => Number(found.headers.get(name)));
    cell.picture = stage.painter.source(found.bytes, w, hh);
    this.#draw(cell);
  }

  // The look is another.
  update() { for (const cell of this.cells) if (cell.picture && cell.seen) this.#draw(cell); }

  async #draw(cell) {
    const lattice = lattices.get("now");
    if (!lattice || !cell.picture) return;
    const { data, width, height } = await stage.painter.read({ kind: "lattice", picture: cell.picture, lattice }, cell.picture.width);
    cell.canvas.width = width;
    cell.canvas.height = height;
    cell.canvas.getContext("2d").putImageData(new ImageData(data, width, height), 0, 0);
    cell.canvas.dataset.drawn = "true";
  }
}

export const strip = new Strip();
bench.on("lattice", () => strip.update());
