// The picture on the table: which part of which still is seen, how large, and through what.
//
// The table holds panes. What lies in them is laid out by `arrange` (see arrange.js): each pane has a still, the id of a
// show (shows.js) and a box to be cut to. All panes share one zoom and one centre, told as a fraction of the still.

import { Newest, binary, get } from "./api.js";
import { arrange } from "./arrange.js";
import { bench } from "./core.js";
import { clamp, node } from "./dom.js";
import { Painter } from "./gl.js";
import { layers } from "./layers.js";
import { MovingPicture } from "./moving.js";
import { shows } from "./shows.js";

const MOST_FIT = 4; // a small still is enlarged to the table, but not beyond this
const MOST_ZOOM = 16;
const LEAST_ZOOM = 0.02;

/** A region of a still as it was fetched, and all that was made of it. */
class View {
  made = new Map(); // id of a show or layer: {stamp, what}
  /** @type {any} texture of the still's own code values */
  source = null;

  constructor(wanted, key) {
    this.region = wanted;
    this.still = wanted.still;
    this.key = key;
  }
}

class Stage {
  canvas = node("picture");
  box = node("stage");
  painter = new Painter(this.canvas, "srgb");
  hand = new MovingPicture(this.canvas, this.painter.gl);
  /** @type {(stage: any) => any[]} panes, from left to right and top to bottom; the last of the still is the main one */
  arrange = arrange;
  compare = { show: "now", against: "plain", way: "one" };
  zoom = 0; // 0 fits the table, else screen pixels for one of the still
  centre = { x: 0.5, y: 0.5 };
  cut = 0.5; // of a wipe
  blinked = false; // the other of two that are shown in turn
  surround = 0x3c / 255; // the grey round the picture
  width = 0; // of the canvas, in pixels of the screen
  height = 0;
  ratio = 1;
  still = -1;
  sizes = new Map(); // by still: {w, h}
  moving = false;
  coarse = 1; // 2 draws every second pixel, while something moves on a slow machine
  gesturing = false; // two fingers are on the picture
  exact = false;
  #views = new Map();
  #last = new Map(); // by place of a pane: the view last seen there
  #wanted = -1; // the still asked for last
  #fetches = new Newest(() => this.#fetch());

  constructor() {
    new ResizeObserver(() => this.resize()).observe(this.box);
    shows.changed = () => this.refresh();
    layers.changed = () => this.refresh();
  }

  resize() {
    const ratio = window.devicePixelRatio || 1;
    const width = Math.max(1, Math.round(this.box.clientWidth * ratio));
    const height = Math.max(1, Math.round(this.box.clientHeight * ratio));
    if (width === this.width && height === this.height) return;
    Object.assign(this, { width, height, ratio });
    this.refresh();
  }

  get size() { return this.sizes.get(this.still) ?? null; }

  // Its size in pixels, its marks and their levels, of whatever still; only the one asked for last is opened.
  async open(still) {
    this.#wanted = still;
    this.#waiting(this.still !== still);
    try {
      const about = await this.measure(still);
      if (this.#wanted !== still) return null;
      const another = this.still !== still;
      this.still = still;
      if (another && this.zoom === 0) this.centre = { x: 0.5, y: 0.5 };
      this.refresh();
      return about;
    } catch (fault) {
      if (this.#wanted === still) this.#waiting(false);
      throw fault;
    }
  }

  async measure(still) {
    const about = await get(`still/${still}`);
    this.sizes.set(still, { w: about.width, h: about.height });
    return about;
  }

  // A sign over the table after a moment (the style sheet's), as long as the still is not there.
  #waiting(on) { this.box.classList.toggle("waiting", on); }

  set(changes) {
    Object.assign(this, changes);
    this.refresh();
  }

  get panes() { return this.size && this.width ? this.arrange(this) : []; }

  // The pane that shows the look of the still that is open: marks lie on it.
  get main() {
    const all = this.panes.filter((p) => p.still === this.still && !shows.get(p.show)?.whole);
    return all.find((p) => p.show === "now" && !p.aside) ?? all[all.length - 1] ?? this.panes[0];
  }

  scaleIn(pane) {
    const size = this.sizes.get(pane.still) ?? this.size;
    return this.zoom || Math.min(pane.w / size.w, pane.h / size.h, MOST_FIT);
  }

  get scale() { return this.size && this.width ? this.scaleIn(this.main) : 1; }

  // The part of its still that a pane shows, in whole pixels of it, and its size on the screen when smaller.
  region(pane) {
    const size = this.sizes.get(pane.still);
    const s = this.scaleIn(pane);
    const side = (seen, all, centre) => {
      const half = seen / s / 2;
      const from = Math.max(0, Math.floor(centre * all - half));
      return [from, Math.max(1, Math.min(all, Math.ceil(centre * all + half)) - from)];
    };
    const [x, w] = side(pane.w, size.w, this.centre.x);
    const [y, h] = side(pane.h, size.h, this.centre.y);
    const small = (n) => (s < 1 ? Math.max(1, Math.min(n, Math.round(n * s))) : n);
    return { still: pane.still, x, y, w, h, width: small(w), height: small(h) };
  }

  // Where a fetched region lies on the screen in a pane.
  #place(region, pane) {
    const s = this.scaleIn(pane);
    const size = this.sizes.get(pane.still);
    const width = region.w * s;
    return {
      x: Math.round(pane.x + pane.w / 2 + (region.x - this.centre.x * size.w) * s),
      y: Math.round(pane.y + pane.h / 2 + (region.y - this.centre.y * size.h) * s),
      // A region fetched for this very size has whole pixels, so its width is off by a part of one; one fetched for
      // another size is stretched until the new one is there.
      scale: Math.abs(width - region.width) < 1 ? 1 : width / region.width,
    };
  }

  // The whole still of a pane as a box on the table in CSS pixels.
  frameIn(pane) {
    const size = this.sizes.get(pane?.still);
    if (!size) return null;
    const s = this.scaleIn(pane), { ratio } = this;
    return {
      x: Math.round(pane.x + pane.w / 2 - this.centre.x * size.w * s) / ratio,
      y: Math.round(pane.y + pane.h / 2 - this.centre.y * size.h * s) / ratio,
      w: (size.w * s) / ratio,
      h: (size.h * s) / ratio,
    };
  }

  get frame() { return this.size && this.width ? this.frameIn(this.main) : null; }

  // A point of the table (CSS pixels) as a fraction of the still of the pane that lies there.
  spot(x, y) {
    const at = { x: x * this.ratio, y: y * this.ratio };
    const within = (box) => at.x >= box.x && at.x < box.x + box.w && at.y >= box.y && at.y < box.y + box.h;
    const pane = this.panes.filter((p) => within(p.cut ?? p)).pop() ?? this.main;
    const f = this.frameIn(pane);
    const spot = { x: (x - f.x) / f.w, y: (y - f.y) / f.h, pane };
    return { ...spot, inside: spot.x >= 0 && spot.y >= 0 && spot.x < 1 && spot.y < 1 };
  }

  pan(dx, dy) {
    if (!this.size) return;
    const s = this.scale / this.ratio;
    this.centre.x -= dx / s / this.size.w;
    this.centre.y -= dy / s / this.size.h;
    this.refresh();
  }

  // A factor closer, with the point (CSS pixels of the table) where it is.
  zoomAt(x, y, factor) {
    if (!this.size) return;
    const before = this.spot(x, y);
    const fit = this.fit;
    const wanted = clamp(this.scale * factor, Math.min(LEAST_ZOOM, fit), MOST_ZOOM);
    this.zoom = wanted <= fit * 1.0001 ? 0 : wanted;
    const after = this.spot(x, y);
    this.centre.x += before.x - after.x;
    this.centre.y += before.y - after.y;
    this.refresh();
  }

  get fit() {
    const { zoom } = this;
    this.zoom = 0;
    const fit = this.scale;
    this.zoom = zoom;
    return fit;
  }

  // New geometry: draw what is there at its new place, and fetch what is missing.
  refresh() {
    const pane = this.size && this.width ? this.main : null;
    if (!pane) return;
    const s = this.scale;
    const inside = (v, all, room) => { const half = Math.min(room / s, all) / all / 2; return clamp(v, half, 1 - half); };
    this.centre.x = inside(this.centre.x, this.size.w, pane.w);
    this.centre.y = inside(this.centre.y, this.size.h, pane.h);
    this.draw();
    bench.tell("placed");
    this.#fetches.ask();
  }

  #key(pane) { return JSON.stringify(this.region(pane)); }

  // What a pane shows: of the region wanted, or the last one of that still until it is there.
  #viewOf(pane, i) {
    const view = this.#views.get(this.#key(pane));
    if (view) return view;
    const last = this.#last.get(i);
    return last?.still === pane.still ? last : [...this.#views.values()].find((v) => v.still === pane.still) ?? null;
  }

  /** Regions that are seen of the look as it moves: what is baked must hold for them. */
  get regions() {
    const seen = this.panes.filter((p) => shows.get(p.show)?.moves).map((p, i) => this.#viewOf(p, i)).filter(Boolean);
    return [...new Map(seen.map((v) => [v.key, v.region])).values()];
  }

  async #fetch() {
    for (const pane of this.panes) {
      const show = shows.get(pane.show);
      if (!show || !this.sizes.has(pane.still)) continue;
      const wanted = this.region(pane), key = JSON.stringify(wanted);
      if (this.#views.has(key)) continue;
      try {
        const found = await binary("source", wanted);
        if (!found) continue;
        const view = new View(wanted, key);
        view.source = this.painter.source(found.bytes, wanted.width, wanted.height, null);
        this.hand.prepare(key, wanted, found.bytes);
        this.#views.set(key, view);
        this.draw();
        bench.tell("placed");
        if (this.moving) bench.tell("viewed");
      } catch (fault) {
        bench.say(fault.message);
        this.#waiting(false);
        return;
      }
    }
    this.#forget();
    await this.#fetchExact();
  }

  // Views that no pane shows any more go, with their textures.
  #forget() {
    const panes = this.panes;
    const keep = new Set(panes.map((p) => this.#key(p)));
    for (const [key, view] of this.#views) {
      if (keep.has(key)) continue;
      this.#views.delete(key);
      this.hand.forget(key);
      this.painter.free(view.source);
      for (const { what } of view.made.values()) this.painter.free(what?.picture);
    }
    this.#last.clear();
    panes.forEach((pane, i) => { const view = this.#views.get(this.#key(pane)); if (view) this.#last.set(i, view); });
  }

  async #fetchExact() {
    for (const pane of this.panes) {
      const view = this.#views.get(this.#key(pane));
      const show = shows.get(pane.show);
      if (!view || !show) continue;
      if (!(this.moving && show.moves)) await this.#make(view, show, (old) => show.fetch(view.region, this.painter, old, pane.still));
      for (const layer of layers.shown) {
        await this.#make(view, layer, async (old) => {
          const bytes = await layer.fetch(view.region, pane.still);
          if (!bytes) return null;
          layer.table ??= this.painter.picture(new Uint8Array(layer.colours.flat()), 256, 1, 4);
          return { kind: "map", picture: this.painter.picture(bytes, view.region.width, view.region.height, 1, old?.picture), colours: layer.table };
        });
      }
    }
  }

  async #make(view, of, fetch) {
    const stamp = of.stamp(), made = view.made.get(of.id);
    if (made?.stamp === stamp) return;
    try {
      const what = await fetch(made?.what);
      if (!what || this.#views.get(view.key) !== view) return;
      view.made.set(of.id, { stamp, what });
      this.draw();
    } catch (fault) {
      bench.say(fault.message);
    }
  }

  // Something that a show or layer stands for is another.
  again() { return this.#fetches.ask(); }

  // The look moves under the hand: what is still to be seen exactly is of the look before.
  move() {
    this.moving = true;
    this.#drawn(false);
  }

  // It is at rest: have the picture exactly.
  settle() {
    this.moving = false;
    this.coarse = 1;
    this.draw();
    this.#fetches.ask();
  }

  /** The pixels of what a pane shows now, thinned to at most this width, and the view they are of; null for none. */
  async read(pane, i, most) {
    const view = this.#viewOf(pane, i);
    const moving = this.moving && view && shows.get(pane.show)?.moves ? this.hand.read(view.key, most) : null;
    if (moving) return { picture: moving, view };
    const what = this.what(pane, i);
    return what && what.kind !== "map" ? { picture: await this.painter.read(what, most), view: what.view } : null;
  }

  // What is drawn for a pane: the exact picture where it is of this very look, else through a lattice, else what there is.
  what(pane, i) {
    const view = this.#viewOf(pane, i), show = shows.get(pane.show);
    if (!view || !show) return null;
    const made = view.made.get(show.id);
    const fresh = made?.stamp === show.stamp() && !(this.moving && show.moves);
    if (fresh) return { ...made.what, view, fresh };
    const lattice = show.lattice?.();
    if (lattice) return { kind: "lattice", picture: view.source, lattice, view, fresh: false };
    return made ? { ...made.what, view, fresh: false } : null;
  }

  /**
   * Draw what follows the hand through another lattice, where that is quicker without WebGL; false where only draw() can.
   * @param {{codes: Uint16Array, size: number}} lattice blue fastest
   * @param {boolean} [fine] every pixel, whatever it takes
   */
  moved({ codes, size }, fine = false) {
    if (!this.hand.on) return false;
    const seen = [], over = layers.shown.map((layer) => [layer.id, layer.stamp()]);
    for (const [i, pane] of this.panes.entries()) {
      const show = shows.get(pane.show), view = this.#viewOf(pane, i);
      if (show && !show.moves && !show.live) continue;
      if (!show?.moves || !view || over.some(([id, stamp]) => view.made.get(id)?.stamp === stamp)) return false;
      const place = this.#place(view.region, pane);
      seen.push({ key: view.key, place, clip: pane.cut ?? pane, smooth: place.scale !== Math.round(place.scale) });
    }
    const { decoded, colours } = this.painter;
    if (!this.hand.draw(seen, codes, size, { decoded, space: colours, ratio: this.ratio, fine })) return false;
    this.#drawn(false);
    return true;
  }

  draw() {
    this.hand.hide();
    // In a move on a slow machine the canvas has half as many pixels each way, and the browser enlarges it.
    const { canvas, coarse } = this;
    const [width, height] = [this.width, this.height].map((n) => Math.ceil(n / coarse));
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    this.painter.clear(this.surround);
    if (!this.size || !this.width) return;
    let exact = true, missing = false;
    this.panes.forEach((pane, i) => {
      const what = this.what(pane, i);
      if (!what) missing = true;
      if (!what?.fresh || what.view.key !== this.#key(pane)) exact = false;
      if (!what) return;
      this.#drawPane(pane, what);
    });
    if (this.still === this.#wanted) this.#waiting(missing);
    this.#drawn(exact);
  }

  #drawPane(pane, what) {
    const { coarse } = this;
    const round = (n) => Math.round(n / coarse);
    const clip = pane.cut ?? pane;
    const box = { x: round(clip.x), y: round(clip.y), w: round(clip.x + clip.w) - round(clip.x), h: round(clip.y + clip.h) - round(clip.y) };
    const put = shows.get(pane.show)?.whole ? this.#whole(pane, what.picture) : this.#place(what.view.region, pane);
    const place = { x: put.x / coarse, y: put.y / coarse, scale: put.scale / coarse };
    const smooth = put.scale !== 1 && put.scale !== Math.round(put.scale) && coarse === 1;
    this.painter.draw(what, place, box, smooth);
    if (what.kind === "map" || shows.get(pane.show)?.whole) return;
    for (const layer of layers.shown) {
      const made = what.view.made.get(layer.id);
      if (made && made.stamp === layer.stamp()) this.painter.draw(made.what, place, box);
    }
  }

  // A picture of its own, whole in the box of its pane.
  #whole(pane, picture) {
    const f = this.frameIn(pane);
    const box = this.zoom ? pane : { x: f.x * this.ratio, y: f.y * this.ratio, w: f.w * this.ratio, h: f.h * this.ratio };
    const scale = Math.min(box.w / picture.width, box.h / picture.height);
    return { x: Math.round(box.x + (box.w - picture.width * scale) / 2), y: Math.round(box.y + (box.h - picture.height * scale) / 2), scale };
  }

  #drawn(exact) {
    this.exact = exact;
    this.canvas.dataset.exact = String(exact);
    bench.tell("drawn", exact);
  }
}

export const stage = new Stage();
