// Marks: named boxes on the picture, drawn, dragged and sized there, with their level and the light behind it.

import { Newest, post } from "./api.js";
import { h, shown } from "./slider.js";

const ROLES = ["", "skin", "grey", "white", "black", "ambient", "key", "fill", "lamp", "silhouette", "wall", "sky", "highlight", "shade"];
const LEAST = 0.004;

export class Marks {
  constructor(stage, overlay, rows, { say, dirty }) {
    this.stage = stage;
    this.overlay = overlay;
    this.rows = rows;
    this.does = { say, dirty };
    this.marks = [];
    this.measured = new Map();
    this.chosen = null;
    this.measure = new Newest((keep) => this.#measure(keep));
    this.#drawing();
  }

  open(still, about) {
    this.still = still;
    this.marks = about.marks;
    this.#take(about.measured);
    this.#list();
    this.place();
  }

  // The look is another: levels are, too.
  again() { if (this.marks.length) this.measure.ask(false); }

  async #measure(keep) {
    const { still } = this;
    const marks = this.marks.map(({ name, box, level, role }) => ({ name, box, level: level ?? null, role: role || null }));
    try {
      const found = await post("marks", { still, marks, keep });
      if (still !== this.still) return;
      this.#take(found.measured);
      this.does.dirty(found.marks_dirty);
      this.#figures();
    } catch (fault) {
      this.does.say(fault.message);
    }
  }

  #take(measured) { this.measured = new Map(measured.map((m) => [m.name, m])); }

  // The boxes on the picture.
  place() {
    const frame = this.stage.frame;
    if (!frame) return;
    const boxes = this.marks.map((mark, i) => {
      const box = h("button", { type: "button", class: "mark", "aria-label": `Mark ${mark.name}` }, h("span", { class: "tag" }, String(i + 1)));
      const [x, y, w, hh] = mark.box;
      const put = { left: frame.x + x * frame.w, top: frame.y + y * frame.h, width: w * frame.w, height: hh * frame.h };
      for (const [key, value] of Object.entries(put)) box.style.setProperty(key, `${value}px`);
      box.classList.toggle("chosen", mark === this.chosen);
      box.title = this.#words(mark);
      box.addEventListener("pointerdown", (event) => this.#drag(event, mark, box));
      box.addEventListener("keydown", (event) => this.#key(event, mark));
      box.addEventListener("focus", () => this.#choose(mark, false));
      const corner = h("i", { class: "corner" });
      box.append(corner);
      return box;
    });
    const focused = this.overlay.contains(document.activeElement) ? [...this.overlay.children].indexOf(document.activeElement) : -1;
    this.overlay.replaceChildren(...boxes);
    if (focused >= 0 && boxes[focused]) boxes[focused].focus({ preventScroll: true });
  }

  #words(mark) {
    const m = this.measured.get(mark.name);
    return m ? `${mark.name}: ${m.level.toFixed(1)} %, ${stops(m)}` : mark.name;
  }

  #choose(mark, redraw = true) {
    this.chosen = mark;
    [...this.overlay.children].forEach((box, i) => box.classList.toggle("chosen", this.marks[i] === mark));
    [...this.rows.children].forEach((row, i) => {
      row.classList.toggle("chosen", this.marks[i] === mark);
      if (this.marks[i] === mark) row.scrollIntoView({ block: "nearest" });
    });
    if (redraw) this.place();
  }

  #drag(event, mark, box) {
    if (event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    box.focus({ preventScroll: true });
    this.#choose(mark, false);
    const sizing = event.target.classList.contains("corner");
    const start = this.#point(event);
    const old = /** @type {[number, number, number, number]} */ ([...mark.box]);
    box.setPointerCapture(event.pointerId);
    const move = (e) => {
      const now = this.#point(e);
      const dx = now.x - start.x, dy = now.y - start.y;
      mark.box = sizing ? sized(old, dx, dy) : moved(old, dx, dy);
      const frame = this.stage.frame;
      const [x, y, w, hh] = mark.box;
      box.style.setProperty("left", `${frame.x + x * frame.w}px`);
      box.style.setProperty("top", `${frame.y + y * frame.h}px`);
      box.style.setProperty("width", `${w * frame.w}px`);
      box.style.setProperty("height", `${hh * frame.h}px`);
      this.measure.ask(false);
    };
    box.addEventListener("pointermove", move);
    box.addEventListener("pointerup", () => {
      box.removeEventListener("pointermove", move);
      this.measure.ask(true);
    }, { once: true });
  }

  #key(event, mark) {
    if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.#remove(mark);
      return;
    }
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!by) return;
    event.preventDefault();
    const step = 0.004;
    mark.box = event.shiftKey ? sized(mark.box, by[0] * step, by[1] * step) : moved(mark.box, by[0] * step, by[1] * step);
    this.place();
    this.measure.ask(true);
  }

  #remove(mark) {
    this.marks = this.marks.filter((m) => m !== mark);
    this.#list();
    this.place();
    this.measure.ask(true);
  }

  // Drawing a new box with the pointer on the picture.
  #drawing() {
    const { canvas } = this.stage;
    canvas.addEventListener("pointerdown", (event) => {
      if (!this.stage.drawing || event.button !== 0) return;
      const start = this.#point(event);
      if (!start || start.x < 0 || start.y < 0 || start.x > 1 || start.y > 1) return;
      canvas.setPointerCapture(event.pointerId);
      const mark = { name: this.#name(), box: [start.x, start.y, LEAST, LEAST], role: "", level: null };
      this.marks = [...this.marks, mark];
      this.chosen = mark;
      this.place();
      const move = (e) => {
        const now = this.#point(e);
        mark.box = between(start, now);
        this.place();
        this.measure.ask(false);
      };
      canvas.addEventListener("pointermove", move);
      canvas.addEventListener("pointerup", () => {
        canvas.removeEventListener("pointermove", move);
        if (mark.box[2] < 2 * LEAST) mark.box = moved([start.x - 0.02, start.y - 0.02, 0.04, 0.04], 0, 0);
        this.#list();
        this.#choose(mark);
        this.measure.ask(true);
        canvas.dispatchEvent(new CustomEvent("drawn"));
      }, { once: true });
    });
  }

  // Where the pointer is, as a fraction of the still.
  #point(event) {
    const box = this.stage.box.getBoundingClientRect();
    return this.stage.at(event.clientX - box.left, event.clientY - box.top);
  }

  #name() {
    for (let i = 1; ; i += 1) if (!this.marks.some((m) => m.name === `mark ${i}`)) return `mark ${i}`;
  }

  // The table under the picture.
  #list() {
    this.rows.replaceChildren(...this.marks.map((mark, i) => this.#row(mark, i)));
    this.#figures();
  }

  #row(mark, i) {
    const name = h("input", { type: "text", value: mark.name, maxLength: 80, "aria-label": `Name of mark ${i + 1}` });
    name.addEventListener("change", () => {
      const text = name.value.trim();
      if (!text || this.marks.some((m) => m !== mark && m.name === text)) {
        name.value = mark.name;
        this.does.say(text ? "Another mark has this name." : "A mark needs a name.");
        return;
      }
      mark.name = text;
      this.measure.ask(true);
    });
    const roles = mark.role && !ROLES.includes(mark.role) ? [...ROLES, mark.role] : ROLES;
    const role = h("select", { "aria-label": `Part that ${mark.name} plays` }, ...roles.map((r) => h("option", { value: r }, r || "\u2013")));
    role.value = mark.role || "";
    role.addEventListener("change", () => { mark.role = role.value; this.measure.ask(true); });
    const wanted = h("input", { type: "text", inputmode: "decimal", value: mark.level === null || mark.level === undefined ? "" : shown(mark.level), "aria-label": `Level wanted at ${mark.name}, percent` });
    wanted.addEventListener("change", () => {
      const value = wanted.value.trim() === "" ? null : Number(wanted.value.replace(",", "."));
      if (value !== null && !(value >= 0 && value <= 100)) {
        wanted.value = mark.level ?? "";
        this.does.say("A level is 0 to 100 percent.");
        return;
      }
      mark.level = value;
      this.measure.ask(true);
    });
    const out = h("button", { type: "button", "aria-label": `Take ${mark.name} out`, onclick: () => this.#remove(mark) }, "×");
    const row = h("tr", {}, h("td", {}, h("span", { class: "number" }, `${i + 1}`), name), h("td", {}, role), h("td", { class: "n level" }), h("td", { class: "n" }, wanted), h("td", { class: "n stops" }), h("td", {}, out));
    row.addEventListener("pointerdown", () => this.#choose(mark, false));
    row.addEventListener("focusin", () => this.#choose(mark, false));
    return row;
  }

  #figures() {
    this.marks.forEach((mark, i) => {
      const m = this.measured.get(mark.name);
      const row = this.rows.children[i];
      if (!row) return;
      row.querySelector(".level").textContent = m ? `${m.level.toFixed(1)} %` : "";
      row.querySelector(".stops").textContent = m ? stops(m) : "";
      row.title = m ? `${mark.name}: middle 90 % of it from ${m.low.toFixed(1)} to ${m.high.toFixed(1)} %; red ${m.rgb[0].toFixed(1)}, green ${m.rgb[1].toFixed(1)}, blue ${m.rgb[2].toFixed(1)} %` : "";
      const box = this.overlay.children[i];
      if (box) box.title = this.#words(mark);
    });
  }
}

const stops = (m) => `${m.stops >= 0 ? "+" : "\u2212"}${Math.abs(m.stops).toFixed(1)}${m.estimated ? " est." : ""}`;

const moved = ([x, y, w, hh], dx, dy) => [
  Math.min(1 - w, Math.max(0, x + dx)), Math.min(1 - hh, Math.max(0, y + dy)), w, hh,
];

const sized = ([x, y, w, hh], dx, dy) => [
  x, y, Math.min(1 - x, Math.max(LEAST, w + dx)), Math.min(1 - y, Math.max(LEAST, hh + dy)),
];

const between = (a, b) => {
  const clip = (v) => Math.min(1, Math.max(0, v));
  const [x0, x1] = [clip(Math.min(a.x, b.x)), clip(Math.max(a.x, b.x))];
  const [y0, y1] = [clip(Math.min(a.y, b.y)), clip(Math.max(a.y, b.y))];
  const w = Math.max(LEAST, x1 - x0), hh = Math.max(LEAST, y1 - y0);
  return [Math.min(x0, 1 - w), Math.min(y0, 1 - hh), w, hh];
};
