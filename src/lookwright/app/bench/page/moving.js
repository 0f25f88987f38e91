// The moving picture where WebGL is drawn in software: worked out here instead, which takes a tenth of the time. What lies
// at rest is WebGL's on every machine, and so is all that moves where a graphics card draws it.

import { h } from "./dom.js";
import { Fineness } from "./fineness.js";
import { mix, screenTable } from "./mixed.js";

const SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;
const USUAL = 33; // points of the lattices that a server sends which keeps up
/** Whether a WebGL context is drawn by the processor. */
function software(gl) {
  const info = gl.getExtension("WEBGL_debug_renderer_info");
  return SOFTWARE.test(String(gl.getParameter(info ? info.UNMASKED_RENDERER_WEBGL : gl.RENDERER)));
}

/** A box that lies over the table, and the part of a picture that is seen in it. */
class Over {
  canvas = h("canvas");
  box = h("div", { class: "moving-pane", hidden: true, "aria-hidden": "true" }, this.canvas);
  /** @type {any} */ pen = null;
  /** @type {any} */ image = null;
  space = "";

  // 32-bit pixels to be filled.
  pixels(width, height, space) {
    if (this.space !== space) { // a canvas keeps the colour space that it began with
      const canvas = h("canvas");
      this.canvas.replaceWith(canvas);
      this.canvas = canvas;
      this.pen = canvas.getContext("2d", { alpha: false, colorSpace: space, willReadFrequently: true });
      this.space = space;
      this.image = null;
    }
    if (this.image?.width !== width || this.image.height !== height) {
      Object.assign(this.canvas, { width, height });
      this.image = this.pen.createImageData(width, height, { colorSpace: space });
    }
    return new Uint32Array(this.image.data.buffer);
  }

  // All in CSS pixels: the box on the table, the picture in it.
  put(box, picture, smooth) {
    this.pen.putImageData(this.image, 0, 0);
    const lay = (style, { x, y, w, h: tall }) => {
      for (const [name, value] of [["left", x], ["top", y], ["width", w], ["height", tall]]) style.setProperty(name, `${value}px`);
    };
    const key = JSON.stringify([box, picture, smooth]);
    if (key !== this.laid) {
      this.laid = key;
      lay(this.box.style, box);
      lay(this.canvas.style, picture);
      this.canvas.style.setProperty("image-rendering", smooth ? "auto" : "pixelated");
    }
    this.box.hidden = false;
  }
}

export class MovingPicture {
  /** @type {Over[]} */
  #overs = [];
  #cells = new Map(); // by view: what the worker made, by size of lattice
  #asked = new Map(); // by view: the sizes that it was asked for
  #pace = 0; // ms a pixel
  #fineness = new Fineness();
  #last = { ms: 0, stride: 1 }; // what the last picture took
  #codes = screenTable(0);
  /** @type {?Worker} */ #worker = null;
  /** @type {?{codes: Uint16Array, size: number}} drawn last, as long as it is seen */
  #lattice = null;
  #screen = { of: -1, table: new Uint8Array(0) };
  /** 2: every second pixel was drawn last */
  coarse = 1;

  /** @param {HTMLElement} canvas of the picture at rest; what moves lies over it */
  constructor(canvas, gl) {
    this.canvas = canvas;
    this.on = software(gl);
  }

  /** A view was fetched: its code values (which are given away) are laid in the cells of a lattice. */
  prepare(key, { width, height }, codes) {
    if (!this.on) return;
    if (!this.#worker) {
      this.#worker = new Worker("/cells.js", { type: "module" });
      this.#worker.addEventListener("message", ({ data }) => this.#made(data));
    }
    this.#asked.set(key, new Set([USUAL]));
    this.#cells.set(key, new Map());
    this.#worker.postMessage({ key, codes, width, height, size: USUAL }, [codes]);
  }

  forget(key) {
    this.#asked.delete(key);
    this.#cells.delete(key);
    this.#worker?.postMessage({ key, forget: true });
  }

  #made({ key, made }) {
    if (!this.#asked.has(key)) return;
    if (!this.#pace) { // once, before the hand comes, so that the first picture is no slower than the others
      const out = new Uint32Array(made.width * made.height), lattice = new Uint16Array(3 * made.size ** 3);
      for (let i = 0; i < 3; i += 1) this.#timed(made, lattice, this.#table(0), out, 1);
    }
    this.#cells.get(key).set(made.size, made);
  }

  #table(decoded) {
    if (this.#screen.of !== decoded) this.#screen = { of: decoded, table: screenTable(decoded) };
    return this.#screen.table;
  }

  #timed(cells, lattice, screen, out, stride) {
    const start = performance.now();
    mix(cells, lattice, screen, out, stride);
    const ms = performance.now() - start, pace = ms / out.length;
    // The quicker of the new time and a slow drift upward: one hiccup does not coarsen the picture.
    this.#pace = this.#pace ? Math.min(pace, this.#pace * 1.15) : pace;
    return ms;
  }

  /**
   * Draw views through a lattice; false where a view is not ready for it. All lengths in pixels of the screen.
   * @param {{key: string, place: {x: number, y: number, scale: number}, clip: any, smooth: boolean}[]} seen
   * @param {Uint16Array} lattice
   * @param {number} size
   * @param {{decoded: number, space: string, ratio: number, fine: boolean}} how fine: every pixel, whatever it takes
   */
  draw(seen, lattice, size, { decoded, space, ratio, fine }) {
    const all = seen.map(({ key }) => this.#cells.get(key)?.get(size));
    if (!seen.length || !all.every(Boolean)) {
      for (const { key } of seen) this.#ask(key, size);
      return false;
    }
    const count = all.reduce((sum, one) => sum + one.width * one.height, 0);
    const stride = fine ? 1 : this.#fineness.stride(this.#pace * count);
    this.#last = { ms: 0, stride };
    this.coarse = Math.max(...all.map((one) => one.step)) * stride;
    const table = this.#table(decoded);
    seen.forEach(({ place, clip, smooth }, i) => {
      const cells = all[i], over = this.#over(i);
      const width = Math.ceil(cells.width / stride), height = Math.ceil(cells.height / stride);
      this.#last.ms += this.#timed(cells, lattice, table, over.pixels(width, height, space), stride);
      const css = (n) => n / ratio;
      const [w, tall] = [width, height].map((n) => n * stride * cells.step * place.scale);
      over.put(
        { x: css(clip.x), y: css(clip.y), w: css(clip.w), h: css(clip.h) },
        { x: css(place.x - clip.x), y: css(place.y - clip.y), w: css(w), h: css(tall) },
        smooth || stride * cells.step > 1,
      );
    });
    this.#overs.slice(seen.length).forEach((one) => { one.box.hidden = true; });
    this.#lattice = { codes: lattice, size };
    return true;
  }

  /** The last picture was in its canvas so many ms after the page heard of the hand. */
  took(ms) { this.#fineness.took(ms, this.#last.ms, this.#last.stride); }

  /** The picture at rest, or as WebGL draws it, is to be seen. */
  hide() {
    this.#lattice = null;
    for (const one of this.#overs) one.box.hidden = true;
  }

  /** The pixels of a view as drawn last, thinned to at most this width: RGBA rows of code values, whatever the screen is
   * shown. Null where it was not drawn here. */
  read(key, most) {
    const cells = this.#lattice && this.#cells.get(key)?.get(this.#lattice.size);
    if (!cells) return null;
    const stride = Math.max(1, Math.ceil(cells.width / most));
    const width = Math.ceil(cells.width / stride), height = Math.ceil(cells.height / stride);
    const out = new Uint32Array(width * height);
    mix(cells, this.#lattice.codes, this.#codes, out, stride);
    return { data: new Uint8ClampedArray(out.buffer), width, height };
  }

  #ask(key, size) {
    if (!this.#asked.has(key) || this.#asked.get(key).has(size)) return;
    this.#asked.get(key).add(size);
    this.#worker?.postMessage({ key, size });
  }

  #over(i) {
    if (!this.#overs[i]) {
      this.#overs[i] = new Over();
      (this.#overs[i - 1]?.box ?? this.canvas).after(this.#overs[i].box);
    }
    return this.#overs[i];
  }
}
