// The stills beside the picture, each through the look as it stands.

import { binary, get } from "./api.js";
import { h } from "./slider.js";

const WIDTH = 120;

export class Strip {
  constructor(nav, stage, opened) {
    this.nav = nav;
    this.stage = stage;
    this.opened = opened;
    this.cells = [];
    this.watch = new IntersectionObserver((seen) => this.#seen(seen), { root: nav, rootMargin: "200px" });
  }

  fill(stills) {
    this.cells = stills.map((still, index) => {
      const canvas = h("canvas", { "aria-hidden": "true", width: WIDTH, height: Math.round((WIDTH * 9) / 16) });
      const name = still.name.replace(/\.[^.]+$/, "");
      const button = h("button", { type: "button", title: still.name, onclick: () => this.opened(index) }, canvas, h("span", {}, name));
      const cell = { index, canvas, button, seen: false };
      button.addEventListener("keydown", (event) => {
        const to = { ArrowDown: index + 1, ArrowUp: index - 1 }[event.key];
        if (to === undefined || !this.cells[to]) return;
        event.preventDefault();
        this.cells[to].button.focus();
      });
      this.watch.observe(button);
      return cell;
    });
    this.nav.replaceChildren(...this.cells.map((c) => c.button));
  }

  choose(index) {
    for (const cell of this.cells) {
      if (cell.index === index) cell.button.setAttribute("aria-current", "true");
      else cell.button.removeAttribute("aria-current");
    }
    this.cells[index]?.button.scrollIntoView({ block: "nearest" });
  }

  async #seen(entries) {
    for (const entry of entries) {
      const cell = this.cells.find((c) => c.button === entry.target);
      if (!cell) continue;
      cell.seen = entry.isIntersecting;
      if (cell.seen && !cell.asked) {
        cell.asked = true;
        this.queue = (this.queue || Promise.resolve()).then(() => this.#fetch(cell)).catch(() => { cell.button.classList.add("broken"); });
      }
    }
  }

  async #fetch(cell) {
    const { width, height } = await get(`still/${cell.index}`);
    const ratio = window.devicePixelRatio || 1;
    const w = Math.min(width, Math.round(WIDTH * ratio)), hh = Math.max(1, Math.min(height, Math.round((w * height) / width)));
    const found = await binary("source", { still: cell.index, x: 0, y: 0, w: width, h: height, width: w, height: hh });
    if (!found) return;
    cell.picture = this.stage.painter.source(found.bytes, w, hh);
    this.#draw(cell);
  }

  // The look is another.
  update() { for (const cell of this.cells) if (cell.picture && cell.seen) this.#draw(cell); }

  async #draw(cell) {
    const lattice = this.stage.lattices.after;
    if (!lattice) return;
    const { data, width, height } = await this.stage.painter.read({ kind: "lattice", picture: cell.picture, lattice }, cell.picture.width);
    cell.canvas.width = width;
    cell.canvas.height = height;
    cell.canvas.getContext("2d").putImageData(new ImageData(data, width, height), 0, 0);
    cell.drawn = true;
  }
}
