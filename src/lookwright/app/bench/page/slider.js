// One declared parameter as a row: a ruler with a notch at neutral, the value to type, and while tuning a lock.

import { digits, h, shown, typed } from "./dom.js";
import { hueName, hues } from "./hues.js";

const FINE = 1000;

export class Slider {
  /**
   * moved(value): on its way; kept(value): let go; lock(on): the tuner's lock; about(parameter): help for the card's foot
   * @param {any} parameter
   * @param {{moved: (value: number) => void, kept: (value: number) => void, lock?: (on: boolean) => void, about?: (parameter: any) => void}} does
   */
  constructor(parameter, { moved, kept, lock, about }) {
    this.does = { moved, kept };
    this.held = false;
    this.typing = false;
    const id = `p${Slider.count += 1}`;
    this.range = h("input", { type: "range", id, min: 0, max: FINE, step: 1 });
    const called = parameter.group ? `${parameter.group} ${parameter.label}` : parameter.label;
    this.field = h("input", { type: "text", inputmode: "decimal", spellcheck: false, autocomplete: "off", "aria-label": `${called}, value` });
    this.unit = h("span", { class: "unit" }, parameter.unit === parameter.label ? "" : parameter.unit);
    this.notch = h("i", { class: "notch" });
    this.label = h("label", { htmlFor: id, title: parameter.help }, parameter.label);
    const what = h("span", { class: "what", title: parameter.help }, this.label, this.unit);
    this.rule = h("span", { class: "rule" }, this.notch, this.range);
    this.row = h("div", { class: "row" }, what, this.rule, this.field);
    if (lock) {
      this.lock = h("button", { type: "button", class: "lock", onclick: () => lock(!this.parameter.locked) });
      this.row.append(this.lock);
      this.row.classList.add("lockable");
    }
    this.#listen(about);
    this.update(parameter);
  }

  #listen(about) {
    this.range.addEventListener("input", () => this.#move(this.#value(Number(this.range.value))));
    this.range.addEventListener("change", () => this.#keep());
    this.range.addEventListener("pointerdown", () => { this.held = true; });
    // Let go where it was taken up, the browser tells of no change; the picture has to come to rest all the same.
    for (const name of ["pointerup", "pointercancel"]) this.range.addEventListener(name, () => setTimeout(() => { if (this.held) this.#keep(); }));
    this.range.addEventListener("keydown", (event) => this.#key(event));
    this.row.addEventListener("dblclick", (event) => { if (event.target !== this.field) this.#reset(); });
    this.field.addEventListener("input", () => { this.typing = true; this.#judge(); });
    this.field.addEventListener("change", () => this.#type());
    this.field.addEventListener("blur", () => this.#back()); // what was no value is not left standing
    this.field.addEventListener("keydown", (event) => this.#inField(event));
    for (const name of ["pointerenter", "focusin"]) this.row.addEventListener(name, () => about?.(this.parameter));
  }

  update(parameter) {
    this.parameter = parameter;
    if (this.lock) {
      this.lock.setAttribute("aria-pressed", String(parameter.locked));
      this.lock.disabled = !parameter.tunable;
      this.lock.textContent = parameter.locked ? "locked" : "free";
      this.lock.setAttribute("aria-label", `${parameter.label}: tuning ${parameter.locked ? "leaves it alone" : "may move it"}`);
      this.lock.title = parameter.tunable ? "Whether tuning may move it" : "Tuning never moves this one";
      if (!parameter.tunable) this.lock.textContent = "\u2013";
    }
    if (!this.held && !this.later) this.#put(parameter.value);
  }

  get #rest() { return this.parameter.neutral ?? this.parameter.default; }

  // The usual range, wide enough for the value, its neutral and its default; the whole range once the value is beyond.
  /** @returns {[number, number, boolean]} low, high, whether logarithmic */
  #ends(value) {
    const p = this.parameter;
    const beyond = value < p.soft_low || value > p.soft_high;
    const low = Math.min(beyond ? p.low : p.soft_low, this.#rest, p.default);
    const high = Math.max(beyond ? p.high : p.soft_high, this.#rest, p.default);
    return [low, high, p.scale === "log" && low > 0];
  }

  #place(value) {
    const [low, high, log] = this.ends;
    return FINE * (log ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low));
  }

  #value(place) {
    const [low, high, log] = this.ends;
    const t = place / FINE;
    const raw = log ? low * (high / low) ** t : low + t * (high - low);
    return Number(raw.toFixed(digits(high - low))); // no more than one step of the slider is worth
  }

  #put(value) {
    this.now = value;
    if (!this.held) this.#rule(this.#ends(value));
    const p = this.parameter;
    this.range.value = Math.round(this.#place(value));
    const name = p.paint === "hue" ? `, ${hueName(value)}` : "";
    this.range.setAttribute("aria-valuetext", `${shown(value)} ${p.unit}${name}`.trim());
    if (name) this.unit.textContent = `${p.unit}${name}`;
    if (!this.typing) {
      this.field.value = shown(value);
      this.#wrong("");
    }
    this.notch.style.setProperty("--at", this.#place(this.#rest) / FINE);
    this.row.classList.toggle("moved", value !== this.#rest);
    this.row.classList.toggle("follows", p.neutral === null);
  }

  #rule(ends) {
    this.ends = ends;
    if (this.parameter.paint !== "hue") return;
    this.rule.classList.add("hued");
    this.rule.style.setProperty("--hues", hues(ends[0], ends[1]));
  }

  #move(value) {
    this.#put(value);
    this.does.moved(value);
  }

  #keep() {
    this.held = false;
    clearTimeout(this.later);
    this.later = 0;
    this.does.kept(this.now);
  }

  #reset() {
    this.held = false;
    this.#move(this.#rest);
    this.#keep();
  }

  // -- the field ---------------------------------------------------------------------------------------------------------

  #judge() {
    const p = this.parameter;
    const value = typed(this.field.value);
    const wrong = !(value >= p.low && value <= p.high);
    this.#wrong(wrong ? `${p.label}: from ${shown(p.low)} to ${shown(p.high)} ${p.unit}`.trim() : "");
    return wrong ? null : value;
  }

  #wrong(why) {
    if (why) this.field.setAttribute("aria-invalid", "true");
    else this.field.removeAttribute("aria-invalid");
    this.field.title = why;
  }

  #type() {
    const value = this.#judge();
    if (value === null) return; // Enter leaves it standing, to be mended; leaving the field puts the value back
    this.typing = false;
    this.#move(value);
    this.#keep();
  }

  // The value that the look has.
  #back() {
    if (!this.typing) return;
    this.typing = false;
    this.#put(this.now);
  }

  #inField(event) {
    const undo = (event.ctrlKey || event.metaKey) && ["z", "y"].includes(event.key.toLowerCase());
    if (event.key === "Escape" || (undo && this.typing)) {
      event.preventDefault();
      event.stopPropagation();
      this.#back();
      if (event.key === "Escape") this.field.blur();
    }
  }

  // Arrows a hundredth of the ruler, with Shift a thousandth, Page keys a tenth, Delete back to neutral.
  #key(event) {
    const sizes = { ArrowRight: 10, ArrowUp: 10, ArrowLeft: -10, ArrowDown: -10, PageUp: 100, PageDown: -100 };
    if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.#reset();
      return;
    }
    if (!(event.key in sizes) || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const step = event.shiftKey ? Math.sign(sizes[event.key]) : sizes[event.key];
    const place = Math.min(FINE, Math.max(0, Number(this.range.value) + step));
    this.#move(this.#value(place));
    clearTimeout(this.later);
    this.later = setTimeout(() => this.#keep(), 350);  // a run of keys is one edit
  }
}
Slider.count = 0;
