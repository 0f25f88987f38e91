// Marks: named boxes on the picture, drawn, dragged and sized there, with their level and the light behind it.

import { Newest, client, get, post } from "./api.js";
import { LEAST, between, lay, moved, sized } from "./boxes.js";
import { bench } from "./core.js";
import { h, node, roving } from "./dom.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const overlay = node("overlay");

export const stops = (m) => `${m.stops >= 0 ? "+" : "\u2212"}${Math.abs(m.stops).toFixed(1)}${m.estimated ? " est." : ""}`;

class Marks {
  list = [];
  measured = new Map();
  chosen = null;
  still = -1;
  /** @type {(() => void)[]} told when the list, the figures or the chosen one are others */
  hear = [];
  later = 0; // a run of keys that is not kept yet
  #unkept = false; // changed here; not a wish of the measuring, where a newer one without it would take its place
  #hand = false; // a box is being drawn, moved or sized
  #keeping = 0; // changes on their way to the server
  #kept = 0; // changes that got there
  #missed = false; // others' news that came while something was held here
  #measure = new Newest(() => this.#ask());
  #stop = roving(overlay, () => /** @type {HTMLElement[]} */ ([...overlay.children]), { keys: [["PageUp", "PageDown"]] });

  open(still, about) {
    if (still !== this.still && (this.later || this.#unkept)) this.#leave();
    if (still !== this.still) this.#hand = this.#missed = false;
    this.still = still;
    const name = this.chosen?.name;
    this.list = about.marks;
    this.chosen = this.list.find((m) => m.name === name) ?? null;
    this.#take(about.measured);
    this.#tell();
    this.place();
  }

  #held() { return this.#hand || Boolean(this.later) || this.#unkept || this.#keeping > 0; }

  // An undo, another page or the file made them others. What is under the hand, or on its way to be kept, goes before.
  async reread() {
    this.#missed = this.#held();
    if (this.#missed || this.still < 0) return;
    const { still } = this, kept = this.#kept;
    let about;
    try { about = await get(`still/${still}`); } catch { return; }
    if (still !== this.still) return;
    if (this.#held() || kept !== this.#kept) await this.reread(); // older than what is here now
    else this.open(still, about);
  }

  // The look is another: levels are, too.
  again() { if (this.list.length) this.#measure.ask(); }

  // It was changed here: measure it, and keep it.
  changed() {
    clearTimeout(this.later);
    this.later = 0;
    this.#hand = false;
    this.#unkept = true;
    this.#tell();
    this.place();
    this.#measure.ask();
  }

  // Another still is opened before what was changed on this one is kept.
  #leave() {
    clearTimeout(this.later);
    this.later = 0;
    this.#unkept = false;
    const body = { still: this.still, marks: this.#asked(), keep: true };
    bench.later(() => bench.trying(async () => bench.take((await post("marks", body)).state)));
  }

  #asked() { return this.list.map(({ name, box, level, role }) => ({ name, box, level: level ?? null, role: role || null })); }

  // What a moving look makes of them, told by the server with its lattice.
  told(levels) {
    for (const m of levels) {
      const old = this.measured.get(m.name);
      if (old) this.measured.set(m.name, { ...old, ...m, moving: true });
    }
    this.#tell();
  }

  async #ask() {
    const { still } = this, keep = this.#unkept;
    this.#unkept = false;
    this.#keeping += Number(keep);
    try {
      const found = await post("marks", { still, marks: this.#asked(), keep });
      if (still !== this.still) return;
      this.#take(found.measured);
      if (keep && found.state) bench.take(found.state);
      this.#tell();
    } catch (fault) {
      bench.say(fault.message);
    } finally {
      this.#keeping -= Number(keep);
      this.#kept += Number(keep);
      if (this.#missed) this.reread();
    }
  }

  #take(measured) { this.measured = new Map(measured.map((m) => [m.name, m])); }
  #tell() { for (const does of this.hear) does(); }

  choose(mark) {
    if (this.chosen === mark) return;
    this.chosen = mark;
    [...overlay.children].forEach((box, i) => box.classList.toggle("chosen", this.list[i] === mark));
    this.#tell();
  }

  remove(mark) {
    this.list = this.list.filter((m) => m !== mark);
    this.changed();
  }

  words(mark) {
    const m = this.measured.get(mark.name);
    return m ? `${mark.name}: ${m.level.toFixed(1)} %, ${stops(m)} stops` : mark.name;
  }

  // The boxes on the picture.
  place() {
    const { frame } = stage;
    if (!frame) return;
    while (overlay.children.length > this.list.length) overlay.lastChild.remove();
    this.list.forEach((mark, i) => {
      const box = overlay.children[i] ?? overlay.appendChild(this.#box(i));
      lay(box, mark.box, frame);
      box.classList.toggle("chosen", mark === this.chosen);
      box.title = this.words(mark);
      box.setAttribute("aria-label", `Mark ${i + 1}: ${this.words(mark)}`);
    });
    this.#stop.settle();
  }

  #box(i) {
    const box = h("button", { type: "button", class: "mark" }, h("span", { class: "tag" }, String(i + 1)), h("i", { class: "corner" }));
    box.addEventListener("pointerdown", (event) => this.#drag(event, this.list[i], box));
    box.addEventListener("keydown", (event) => this.#key(event, this.list[i]));
    box.addEventListener("focus", () => this.choose(this.list[i]));
    return box;
  }

  #drag(event, mark, box) {
    if (event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    box.focus({ preventScroll: true });
    this.choose(mark);
    this.#hand = true;
    const sizing = event.target.classList.contains("corner");
    const start = point(event);
    const old = [...mark.box];
    let changed = false;
    box.setPointerCapture(event.pointerId);
    const move = (e) => {
      const now = point(e);
      const dx = now.x - start.x, dy = now.y - start.y;
      mark.box = sizing ? sized(/** @type {any} */ (old), dx, dy) : moved(/** @type {any} */ (old), dx, dy);
      changed = true;
      lay(box, mark.box, stage.frame);
      this.#measure.ask();
    };
    box.addEventListener("pointermove", move);
    box.addEventListener("pointerup", () => {
      box.removeEventListener("pointermove", move);
      if (changed) this.changed();
    }, { once: true });
    box.addEventListener("lostpointercapture", () => {
      this.#hand = false;
      if (this.#missed) this.reread();
    }, { once: true });
  }

  #key(event, mark) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.remove(mark);
      return;
    }
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const step = 0.004;
    mark.box = event.shiftKey ? sized(mark.box, by[0] * step, by[1] * step) : moved(mark.box, by[0] * step, by[1] * step);
    this.place();
    this.#measure.ask();
    clearTimeout(this.later);
    this.later = setTimeout(() => this.changed(), 500); // a run of keys is one edit
  }

  name() {
    for (let i = 1; ; i += 1) if (!this.list.some((m) => m.name === `mark ${i}`)) return `mark ${i}`;
  }

  // A new mark; its box may still grow.
  begin(at) {
    const mark = { name: this.name(), box: [at.x, at.y, LEAST, LEAST], role: "", level: null };
    this.list = [...this.list, mark];
    this.chosen = mark;
    this.#hand = true; // until it is changed()
    this.place();
    return mark;
  }

  measureSoon() { this.#measure.ask(); }
}

// Where the pointer is, as a fraction of the still.
function point(event) {
  const box = stage.box.getBoundingClientRect(), f = stage.frame;
  return { x: (event.clientX - box.left - f.x) / f.w, y: (event.clientY - box.top - f.y) / f.h };
}

export const marks = new Marks();

let drawn = null;
let from = null;
tools.add({
  id: "draw", label: "Mark", title: "draw a mark, a box on the picture", key: "m",
  chosen: (on) => { if (on) node("stage").classList.remove("bare"); },
  down: (at) => {
    if (!at.inside) return false;
    from = at;
    drawn = marks.begin(at);
    return true;
  },
  move: (at) => {
    drawn.box = between(from, at);
    marks.place();
    marks.measureSoon();
  },
  up: () => {
    if (drawn.box[2] < 2 * LEAST) drawn.box = moved([from.x - 0.02, from.y - 0.02, 0.04, 0.04], 0, 0);
    marks.changed();
    tools.choose(null);
  },
});

// By keys alone: a mark in the middle of what is seen, to be moved with arrows and sized with Shift and arrows.
export function markInMiddle() {
  const spot = stage.spot(stage.box.clientWidth / 2, stage.box.clientHeight / 2);
  const mark = marks.begin({ x: spot.x - 0.03, y: spot.y - 0.03 });
  mark.box = moved([spot.x - 0.03, spot.y - 0.03, 0.06, 0.06], 0, 0);
  marks.changed();
  /** @type {HTMLElement} */ (overlay.children[marks.list.length - 1])?.focus();
}

bench.on("placed", () => marks.place());
bench.on("looks", () => marks.again());
bench.on("told", (told) => marks.told(told.levels));
bench.on("server:marks", (content) => { if (content.client !== client && content.still === marks.still) marks.reread(); });
