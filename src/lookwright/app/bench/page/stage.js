// The picture on the table: which part of the still is seen, how large, and through what.

import { Newest, binary, get } from "./api.js";
import { Painter } from "./gl.js";

const GROUND = 84 / 255;
const GAP = 16;

export class Stage {
  // changed(): the picture or its place is another; drawn(exact): it was drawn; viewed(): another part is seen in a move
  constructor(canvas, box, { changed, drawn, viewed }) {
    this.canvas = canvas;
    this.box = box;
    this.does = { changed, drawn, viewed };
    this.painter = new Painter(canvas, "srgb");
    this.compare = "after";
    this.map = false;
    this.zoom = 0; // 0 fits the table, else screen pixels for one of the still
    this.cut = 0.5;
    this.size = null;
    this.width = this.height = 0; // of the canvas, in pixels of the screen
    this.ratio = 1;
    this.drawing = false; // a mark
    this.lattices = { after: null, before: null };
    this.exact = { after: null, before: null };
    this.moving = false;
    this.coarse = 1; // 2 draws every second pixel, while something moves on a slow machine
    this.look = 0; // counts looks, so that an exact picture is known to be of this one
    this.fetchView = new Newest(() => this.#fetchView());
    this.fetchExact = new Newest(() => this.#fetchExact());
    new ResizeObserver(() => this.resize()).observe(box);
    this.#panning();
  }

  resize() {
    const ratio = window.devicePixelRatio || 1;
    const width = Math.max(1, Math.round(this.box.clientWidth * ratio));
    const height = Math.max(1, Math.round(this.box.clientHeight * ratio));
    if (width === this.width && height === this.height) return;
    Object.assign(this, { width, height, ratio });
    this.refresh();
  }

  async open(still) {
    const about = await get(`still/${still}`);
    this.still = still;
    this.size = { w: about.width, h: about.height };
    this.centre = { x: about.width / 2, y: about.height / 2 };
    this.refresh();
    return about;
  }

  set(changes) {
    Object.assign(this, changes);
    this.refresh();
  }

  // The boxes that pictures are laid in, left to right, and what each shows.
  get panes() {
    const { width, height } = this;
    const whole = { x: 0, y: 0, w: width, h: height };
    if (this.map) return [{ ...whole, side: "map" }];
    if (this.compare === "pair") {
      const half = Math.floor((width - GAP * this.ratio) / 2);
      return [{ ...whole, w: half, side: "before" }, { ...whole, x: width - half, w: half, side: "after" }];
    }
    if (this.compare === "wipe") return [{ ...whole, side: "before" }, { ...whole, side: "after" }];
    return [{ ...whole, side: this.compare }];
  }

  get scale() {
    const pane = this.panes[0];
    return this.zoom || Math.min(pane.w / this.size.w, pane.h / this.size.h, 1);
  }

  // The part of the still that is seen, in whole pixels of it, and its size on the screen when smaller.
  get region() {
    const pane = this.panes[0];
    const s = this.scale;
    const side = (seen, all, centre) => {
      const half = seen / s / 2;
      const from = Math.max(0, Math.floor(centre - half));
      return [from, Math.min(all, Math.ceil(centre + half)) - from];
    };
    const [x, w] = side(pane.w, this.size.w, this.centre.x);
    const [y, h] = side(pane.h, this.size.h, this.centre.y);
    const small = (n) => (s < 1 ? Math.max(1, Math.min(n, Math.round(n * s))) : n);
    return { x, y, w, h, width: small(w), height: small(h) };
  }

  // Where a fetched region lies on the screen in a pane.
  #place(region, pane) {
    const s = this.scale;
    const width = region.w * s;
    return {
      x: Math.round(pane.x + pane.w / 2 + (region.x - this.centre.x) * s),
      y: Math.round(pane.y + pane.h / 2 + (region.y - this.centre.y) * s),
      // A region fetched for this very size has whole pixels, so its width is off by a part of one; one fetched for
      // another size is stretched until the new one is there.
      scale: Math.abs(width - region.width) < 1 ? 1 : width / region.width,
    };
  }

  // The whole still as a box on the table in CSS pixels, in the pane that shows the look.
  get frame() {
    if (!this.size) return null;
    const pane = this.panes[this.panes.length - 1];
    const s = this.scale, { ratio } = this;
    return {
      x: Math.round(pane.x + pane.w / 2 - this.centre.x * s) / ratio,
      y: Math.round(pane.y + pane.h / 2 - this.centre.y * s) / ratio,
      w: (this.size.w * s) / ratio,
      h: (this.size.h * s) / ratio,
    };
  }

  // New geometry: draw what is there at its new place, and fetch what is missing.
  refresh() {
    if (!this.size || !this.ratio) return;
    const { size } = this;
    const seen = (pane, all) => Math.min(pane / this.scale, all) / 2;
    const pane = this.panes[0];
    const inside = (v, all, half) => Math.min(all - half, Math.max(half, v));
    this.centre.x = inside(this.centre.x, size.w, seen(pane.w, size.w));
    this.centre.y = inside(this.centre.y, size.h, seen(pane.h, size.h));
    this.draw();
    this.does.changed();
    this.fetchView.ask();
  }

  async #fetchView() {
    const wanted = { still: this.still, ...this.region };
    const key = JSON.stringify(wanted);
    if (key !== this.key) {
      const found = await binary("source", wanted);
      if (!found || wanted.still !== this.still) return;
      this.view = { region: wanted, picture: this.painter.source(found.bytes, wanted.width, wanted.height, this.view?.picture) };
      this.key = key;
      this.#forgetExact();
      if (this.moving) this.does.viewed();
    }
    if (this.map && this.mapKey !== key) {
      const found = await binary("exposure", wanted);
      if (!found) return;
      this.mapPicture = this.painter.picture(found.bytes, wanted.width, wanted.height, 1, this.mapPicture);
      this.mapKey = key;
    }
    this.draw();
    this.does.changed();
    this.fetchExact.ask();
  }

  legend(colours) {
    this.colours = this.painter.picture(new Uint8Array(colours.flat()), 256, 1, 3);
  }

  lattice(side, bytes, size) {
    this.lattices[side] = this.painter.lattice(bytes, size, this.lattices[side]);
    this.exact[side] = null;
    this.draw();
  }

  // The recipe is at rest, its text kept: have the picture exactly.
  settle() {
    this.look += 1;
    this.moving = false;
    this.coarse = 1;
    this.#forgetExact();
    this.fetchExact.ask();
  }

  move() {
    this.moving = true;
    this.#forgetExact();
    this.fetchExact.drop();
    this.does.drawn(false); // what is still to be seen is of the look before
  }

  #forgetExact() { this.exact = { after: null, before: null }; }

  async #fetchExact() {
    for (const side of new Set(this.panes.map((p) => p.side))) {
      if (this.moving || !this.view || side === "map" || this.exact[side]) continue;
      const { look, key, view } = this;
      const found = await binary("exact", { ...view.region, side });
      if (!found || look !== this.look || key !== this.key || this.moving) continue;
      this[`${side}Exact`] = this.painter.picture(found.bytes, view.region.width, view.region.height, 3, this[`${side}Exact`]);
      this.exact[side] = this[`${side}Exact`];
      this.draw();
    }
  }

  // What is drawn for a side: the exact picture where there is one, else the lattice.
  what(side) {
    if (!this.view) return null;
    if (side === "map") {
      const ready = this.mapKey === this.key && this.colours;
      return ready ? { kind: "map", picture: this.mapPicture, colours: this.colours } : null;
    }
    if (this.exact[side]) return { kind: "flat", picture: this.exact[side] };
    const lattice = this.lattices[side];
    return lattice ? { kind: "lattice", picture: this.view.picture, lattice } : null;
  }

  draw() {
    // In a move on a slow machine the canvas has half as many pixels each way, and the browser enlarges it.
    const { canvas, coarse } = this;
    const [width, height] = [this.width, this.height].map((n) => Math.ceil(n / coarse));
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    this.painter.clear(GROUND);
    if (!this.view || !this.size) return;
    let exact = true;
    const frame = this.frame;
    for (const pane of this.panes) {
      const what = this.what(pane.side);
      if (!what) { exact = false; continue; }
      if (what.kind === "lattice") exact = false;
      let from = pane.x, to = pane.x + pane.w;
      if (this.compare === "wipe" && !this.map) {
        const cut = Math.round((frame.x + frame.w * this.cut) * this.ratio);
        if (pane.side === "before") to = cut;
        else from = cut;
      }
      from = Math.round(from / coarse);
      to = Math.round(to / coarse);
      const { x, y, scale } = this.#place(this.view.region, pane);
      this.painter.draw(what, { x: x / coarse, y: y / coarse, scale: scale / coarse }, { x: from, y: 0, w: to - from, h: height });
    }
    this.does.drawn(exact);
  }

  // Small copy of what is seen, for the scopes.
  async shown(most) {
    const side = this.compare === "before" ? "before" : "after";
    const what = this.what(side);
    return what ? this.painter.read(what, most) : null;
  }

  // A point of the table (CSS pixels) as a fraction of the still.
  at(x, y) {
    const f = this.frame;
    return f ? { x: (x - f.x) / f.w, y: (y - f.y) / f.h } : null;
  }

  #panning() {
    const { canvas } = this;
    canvas.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || this.drawing || !this.size || !this.zoom) return;
      canvas.setPointerCapture(event.pointerId);
      let last = event;
      const move = (e) => {
        const s = this.scale / this.ratio;
        this.centre.x -= (e.clientX - last.clientX) / s;
        this.centre.y -= (e.clientY - last.clientY) / s;
        last = e;
        this.refresh();
      };
      canvas.addEventListener("pointermove", move);
      canvas.addEventListener("pointerup", () => canvas.removeEventListener("pointermove", move), { once: true });
    });
    canvas.addEventListener("dblclick", (event) => this.#zoomAt(event));
    canvas.addEventListener("keydown", (event) => {
      const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!by || !this.zoom) return;
      event.preventDefault();
      this.centre.x += (by[0] * 80) / this.scale;
      this.centre.y += (by[1] * 80) / this.scale;
      this.refresh();
    });
  }

  #zoomAt(event) {
    const at = this.at(event.offsetX, event.offsetY);
    if (!at) return;
    if (!this.zoom) this.centre = { x: at.x * this.size.w, y: at.y * this.size.h };
    this.set({ zoom: this.zoom ? 0 : 1 });
    this.does.changed();
  }
}
