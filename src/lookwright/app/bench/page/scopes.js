// The measuring plots of the shown picture: levels over its width, its three channels, shares of levels, colour
// differences. Fixed scales; marks and the pointer in each; what it is compared with beside it, on the same axis.

import { Newest } from "./api.js";
import { bench } from "./core.js";
import { differences, histogram, parade, vectors, waveform } from "./counts.js";
import { h } from "./dom.js";
import { keys } from "./keys.js";
import { marks } from "./marks.js";
import { panels } from "./panels.js";
import * as plot from "./plots.js";
import { shows } from "./shows.js";
import { stage } from "./stage.js";

const ACROSS = 360; // pixels of the picture that are counted: enough for a lamp of a hundredth of the width
const MOVING = 240; // the same while a slider moves
const GAP = 8;
const REACHES = [0.5, 0.25, 0.125]; // of Cb and Cr at the edge of the plot
const ROOM = 116; // pixels across that a plot needs
const PAIR = 250; // and one with what was before beside it

const KINDS = {
  waveform: { title: "Waveform", short: "Wave", unit: "luma, signal %", key: "shift+w" },
  parade: { title: "Red, green, blue", short: "RGB", unit: "signal %", key: "shift+p" },
  histogram: { title: "Histogram", short: "Hist", unit: "% of the picture in each % of signal", key: "shift+h" },
  vectorscope: { title: "Vectorscope", short: "Vec", unit: "colour differences", key: "shift+v" },
};

class Scopes {
  about = null;
  /** @type {any} */ after = null;
  /** @type {any} */ before = null;
  /** @type {any} */ pointer = null;
  region = { x: 0, y: 0, w: 1, h: 1 }; // what was read, in fractions of the still
  reach = REACHES[1];
  pair = sessionStorage.getItem("scopes-pair") !== "no";
  shown = new Set((sessionStorage.getItem("scopes") || "waveform,vectorscope").split(",").filter((k) => k in KINDS));
  figures = {};
  /** @type {Record<string, any>} */ canvases = {};
  #known = new WeakMap(); // counts of pictures
  #waits = false;

  setup(about) {
    this.about = about;
    this.canvases.waveform.title = `${about.luma_words}; ${about.signal}`;
    this.canvases.vectorscope.title = `The line is skin, ${about.skin_deg} degrees; letters are pure red to magenta; ${about.signal}`;
  }

  // Counts of a picture, made once: the pointer draws them again and again.
  counts(picture, kind, columns, make) {
    if (!this.#known.has(picture)) this.#known.set(picture, {});
    const known = this.#known.get(picture), key = `${kind} ${columns}`;
    known[key] ??= make();
    return known[key];
  }

  soon() {
    if (this.#waits) return;
    this.#waits = true;
    requestAnimationFrame(() => { this.#waits = false; this.draw(); });
  }

  // What was read of the stage: the picture, what it is compared with, and where in the still it lies.
  take(after, before, region) {
    Object.assign(this, { after, before, region });
    this.draw();
  }

  draw() {
    if (!this.about || !this.after) return;
    const spots = this.#marks();
    for (const kind of this.shown) {
      const canvas = this.canvases[kind];
      if (!canvas.isConnected || canvas.clientWidth < 40 || canvas.clientHeight < 40) continue;
      const [pen, w, hh] = plot.ready(canvas);
      this[`_${kind}`](pen, w, hh, spots);
    }
  }

  // Marks in the units of the plots.
  #marks() {
    return marks.list.flatMap((mark, i) => {
      const m = marks.measured.get(mark.name);
      if (!m) return [];
      const [r, g, b] = (m.rgb ?? [m.level, m.level, m.level]).map((v) => v / 100);
      const [cb, cr] = differences(r, g, b, this.about.kr, this.about.kb);
      return [{ number: String(i + 1), x: mark.box[0], w: mark.box[2], level: m.level, rgb: m.rgb, wanted: mark.level ?? null, cb, cr }];
    });
  }

  // The pictures in the order in which they are drawn, each with whether the marks belong to it. A plot too small for two
  // shows the one.
  #sides(w) { return this.before && w >= PAIR ? [[this.before, false], [this.after, true]] : [[this.after, true]]; }

  #boxes(x, y, w, hh, count) {
    const one = (w - GAP * (count - 1)) / count;
    return Array.from({ length: count }, (_, i) => ({ x: x + i * (one + GAP), y, w: one, h: hh }));
  }

  #names(pen, boxes, y) {
    if (boxes.length < 2) return;
    ["before", "after"].forEach((name, i) => plot.text(pen, name, boxes[i].x + boxes[i].w / 2, y, "center", "top"));
  }

  #share(at) { return (at.x - this.region.x) / this.region.w; }

  _waveform(pen, w, hh, spots) {
    const sides = this.#sides(w), foot = sides.length > 1 ? 18 : 6;
    const boxes = this.#boxes(32, 8, w - 38, hh - 8 - foot, sides.length);
    sides.forEach(([picture], i) => {
      const columns = Math.min(picture.width, Math.max(16, Math.floor(boxes[i].w)));
      const counts = this.counts(picture, "waveform", columns, () => waveform(picture, this.about.luma, columns));
      plot.drawWaveform(pen, counts, columns, boxes[i]);
    });
    plot.levelAxis(pen, boxes);
    sides.forEach(([picture, own], i) => {
      if (own) plot.levelMarks(pen, boxes[i], spots, this.region, plot.levelOf);
      const at = this.pointer && this.#pixel(picture);
      if (at) plot.levelPointer(pen, boxes[i], this.#share(this.pointer), 100 * at.luma);
    });
    this.#names(pen, boxes, hh - foot + 4);
  }

  _parade(pen, w, hh, spots) {
    const sides = this.#sides(w), foot = 18;
    const halves = this.#boxes(32, 8, w - 38, hh - 8 - foot, sides.length);
    sides.forEach(([picture, own], i) => {
      const boxes = this.#boxes(halves[i].x, halves[i].y, halves[i].w, halves[i].h, 3).map((b) => ({ ...b, w: b.w + GAP - 3 }));
      const columns = Math.min(picture.width, Math.max(12, Math.floor(boxes[0].w)));
      const counts = this.counts(picture, "parade", columns, () => parade(picture, columns));
      counts.forEach((one, c) => plot.drawWaveform(pen, one, columns, boxes[c], plot.CHANNELS[c][1]));
      plot.levelAxis(pen, boxes, i === 0);
      const at = this.pointer && this.#pixel(picture);
      boxes.forEach((box, c) => {
        if (own) plot.levelMarks(pen, box, spots.filter((m) => m.rgb), this.region, (m) => m.rgb[c]);
        if (at) plot.levelPointer(pen, box, this.#share(this.pointer), 100 * at.rgb[c]);
        const name = sides.length > 1 ? `${own ? "after" : "before"} ${plot.CHANNELS[c][0]}` : ["red", "green", "blue"][c];
        plot.text(pen, box.w < 52 ? plot.CHANNELS[c][0] : name, box.x + box.w / 2, hh - foot + 4, "center", "top", `rgb(${plot.CHANNELS[c][1].join(",")})`);
      });
    });
  }

  _histogram(pen, w, hh, spots) {
    const sides = this.#sides(w);
    const boxes = this.#boxes(40, 8, w - 48, hh - 8 - (sides.length > 1 ? 36 : 22), sides.length);
    if (boxes.length > 1) { boxes[0].w -= 18; boxes[1].x += 18; boxes[1].w -= 18; } // room for the axis of the second
    sides.forEach(([picture, own], i) => {
      const shares = this.counts(picture, "histogram", 0, () => histogram(picture, this.about.luma));
      plot.histogramAxes(pen, boxes[i]);
      plot.drawHistogram(pen, shares, boxes[i]);
      if (own) plot.histogramMarks(pen, boxes[i], spots);
      const at = this.pointer && this.#pixel(picture);
      if (at) plot.histogramPointer(pen, boxes[i], 100 * at.luma);
    });
    this.#names(pen, boxes, hh - 16);
  }

  _vectorscope(pen, w, hh, spots) {
    const sides = this.#sides(w), foot = sides.length > 1 ? 18 : 4;
    const side = Math.max(30, Math.min((w - GAP * (sides.length + 1)) / sides.length, hh - 6 - foot));
    const left = (w - side * sides.length - GAP * (sides.length - 1)) / 2;
    const boxes = sides.map((_, i) => ({ x: left + i * (side + GAP), y: 4, w: side, h: side }));
    const { kr, kb } = this.about;
    sides.forEach(([picture, own], i) => {
      const counts = this.counts(picture, "vectors", kr, () => vectors(picture, kr, kb));
      plot.drawVectors(pen, counts, boxes[i], this.reach);
      plot.vectorAxes(pen, boxes[i], this.reach, this.about, differences);
      if (own) plot.vectorMarks(pen, boxes[i], this.reach, spots);
      const at = this.pointer && this.#pixel(picture);
      if (at) plot.vectorPointer(pen, boxes[i], this.reach, ...differences(...at.rgb, kr, kb));
    });
    this.#names(pen, boxes, 4 + side + 3);
  }

  // The pixel of a picture that was read under the pointer.
  #pixel({ data, width, height }) {
    const x = Math.floor(this.#share(this.pointer) * width);
    const y = Math.floor(((this.pointer.y - this.region.y) / this.region.h) * height);
    if (x < 0 || y < 0 || x >= width || y >= height) return null;
    const i = 4 * (y * width + x);
    const rgb = /** @type {[number, number, number]} */ ([data[i] / 255, data[i + 1] / 255, data[i + 2] / 255]);
    const [r, g, b] = this.about.luma;
    return { rgb, luma: r * rgb[0] + g * rgb[1] + b * rgb[2] };
  }
}

export const scopes = new Scopes();

// -- reading the stage ----------------------------------------------------------------------------------------------------

let earlier = { key: "", picture: null }; // what is compared with stays as it is while a slider moves

async function reading() {
  const pane = stage.main;
  if (!pane || !panels.seen("scopes")) return;
  const i = stage.panes.indexOf(pane);
  if (shows.get(pane.show)?.whole) return;
  const now = await stage.read(pane, i, stage.moving ? MOVING : ACROSS);
  if (!now) return;
  let before = null;
  const other = stage.compare.against === pane.show ? "plain" : stage.compare.against;
  if (scopes.pair && other !== pane.show && !shows.get(other)?.whole) {
    const that = stage.what({ ...pane, show: other }, i);
    if (that && that.kind !== "map" && that.view === now.view) {
      const key = `${other} ${now.view.key} ${shows.get(other).stamp()} ${that.fresh}`;
      if (key !== earlier.key) earlier = { key, picture: await stage.painter.read(that, ACROSS) };
      before = earlier.picture;
    }
  }
  const { region } = now.view;
  const size = stage.sizes.get(pane.still);
  scopes.take(now.picture, before, { x: region.x / size.w, y: region.y / size.h, w: region.w / size.w, h: region.h / size.h });
}
const plots = new Newest(reading);
let pending = 0;
const soon = () => {
  if (pending) return;
  pending = setTimeout(() => { pending = 0; plots.ask(); }, stage.moving ? 120 : 40);
};

// -- the panel ------------------------------------------------------------------------------------------------------------

const drawings = h("div", { id: "scope-drawings" });

function toggle(kind) {
  if (scopes.shown.has(kind)) scopes.shown.delete(kind);
  else scopes.shown.add(kind);
  if (!scopes.shown.size) scopes.shown.add(kind);
  show();
}

function show() {
  sessionStorage.setItem("scopes", [...scopes.shown].join(","));
  for (const kind of Object.keys(KINDS)) {
    scopes.figures[kind].hidden = !scopes.shown.has(kind);
    buttons[kind].setAttribute("aria-pressed", String(scopes.shown.has(kind)));
  }
  drawings.dataset.count = String(scopes.shown.size);
  drawings.closest(".panel")?.style.setProperty("--least", `${Math.max(256, ROOM * scopes.shown.size)}px`);
  panels.resized();
  reach.hidden = !scopes.shown.has("vectorscope");
  soon();
}

const buttons = {};
for (const [kind, { title, short, unit, key }] of Object.entries(KINDS)) {
  const canvas = h("canvas", { id: kind, role: "img", "aria-label": `${title} of the shown picture: ${unit}` });
  scopes.canvases[kind] = canvas;
  scopes.figures[kind] = h("figure", {}, h("figcaption", {}, h("b", {}, title), ` ${unit}`), canvas);
  buttons[kind] = h("button", { type: "button", "aria-pressed": "false", title: `${title}, ${unit} (${key.replace("shift+", "Shift ").toUpperCase()})`, onclick: () => toggle(kind) }, short);
  keys.add({ keys: [key], words: `${title.toLowerCase()}: show or put away`, group: "Measuring", act: () => { panels.open("scopes"); toggle(kind); } });
  drawings.append(scopes.figures[kind]);
}

const pair = h("button", { type: "button", title: "Beside it the same plot of what it is compared with" }, "Before");
pair.addEventListener("click", () => {
  scopes.pair = !scopes.pair;
  sessionStorage.setItem("scopes-pair", scopes.pair ? "yes" : "no");
  pair.setAttribute("aria-pressed", String(scopes.pair));
  soon();
});
pair.setAttribute("aria-pressed", String(scopes.pair));

const reach = h("button", { type: "button", class: "reach", title: "How far colour differences reach on the plot; it stays as it is set", onclick: () => {
  scopes.reach = REACHES[(REACHES.indexOf(scopes.reach) + 1) % REACHES.length];
  reach.textContent = `\u00b1${scopes.reach}`;
  scopes.draw();
} }, `\u00b1${scopes.reach}`);

panels.add({
  id: "scopes", title: "Scopes", order: 30, width: 256, grow: 1.2, large: true,
  fill: (body, head) => {
    const choice = h("div", { id: "scope-choice", role: "group", "aria-label": "Plots" }, ...Object.values(buttons), pair, reach);
    head.firstElementChild.classList.add("unseen"); // the row of names says it
    head.insertBefore(choice, head.children[1] ?? null);
    body.append(drawings);
  },
  opened: (open) => { if (open) soon(); },
});
new ResizeObserver(() => scopes.soon()).observe(drawings);
show();

bench.on("state", (state) => scopes.setup(state.scopes));
bench.on("drawn", soon);
marks.hear.push(() => { if (!stage.moving) scopes.soon(); }); // in a move with the next picture that is read
bench.on("pointer", (at) => {
  scopes.pointer = at && at.pane.still === stage.still ? { x: at.x, y: at.y } : null;
  scopes.soon();
});
