// One declared parameter as a row: a ruler with a notch at neutral, the value to type, and a lock for the tuner.

export const h = (tag, properties = {}, ...children) => {
  const node = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (key === "class") node.className = value;
    else if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key in node && key !== "list") node[key] = value;
    else node.setAttribute(key, value);
  }
  node.append(...children);
  return node;
};

const FINE = 1000;

export const shown = (value) => {
  const text = Math.abs(value) >= 1000 ? value.toFixed(0) : String(Number(value.toPrecision(4)));
  return text.replace("-", "\u2212");
};

const typed = (text) => {
  const clean = text.trim().replace("\u2212", "-").replace(",", ".");
  return clean === "" ? NaN : Number(clean);
};

export class Slider {
  /**
   * moved(value): on its way; kept(value): let go; lock(on): the tuner's lock; about(parameter): help for the card's foot
   * @param {any} parameter
   * @param {{moved: (value: number) => void, kept: (value: number) => void, lock?: (on: boolean) => void, about?: (parameter: any) => void}} does
   */
  constructor(parameter, { moved, kept, lock, about }) {
    this.does = { moved, kept };
    this.held = false;
    const id = `p${Slider.count += 1}`;
    this.range = h("input", { type: "range", id, min: 0, max: FINE, step: 1 });
    this.field = h("input", { type: "text", inputmode: "decimal", spellcheck: false, autocomplete: "off", "aria-label": `${parameter.label}, value` });
    this.unit = h("span", { class: "unit" }, parameter.unit);
    this.notch = h("i", { class: "notch" });
    this.label = h("label", { htmlFor: id, title: parameter.help }, parameter.label);
    const what = h("span", { class: "what", title: parameter.help }, this.label, this.unit);
    this.row = h("div", { class: "row" }, what, h("span", { class: "rule" }, this.notch, this.range), this.field);
    if (lock) {
      this.lock = h("button", { type: "button", class: "lock", onclick: () => lock(!this.parameter.locked) });
      this.row.append(this.lock);
    }
    this.range.addEventListener("input", () => this.#move(this.#value(Number(this.range.value))));
    this.range.addEventListener("change", () => this.#keep());
    this.range.addEventListener("pointerdown", () => { this.held = true; });
    // Let go where it was taken up, the browser tells of no change; the picture has to come to rest all the same.
    for (const name of ["pointerup", "pointercancel"]) this.range.addEventListener(name, () => setTimeout(() => { if (this.held) this.#keep(); }));
    this.range.addEventListener("keydown", (event) => this.#key(event));
    this.row.addEventListener("dblclick", (event) => { if (event.target !== this.field) this.#reset(); });
    this.field.addEventListener("change", () => this.#type());
    this.field.addEventListener("keydown", (event) => { if (event.key === "Escape") { this.#put(this.parameter.value); this.field.blur(); } });
    for (const name of ["pointerenter", "focusin"]) this.row.addEventListener(name, () => about?.(this.parameter));
    this.update(parameter);
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
    // No more digits than one step of the slider is worth.
    const digits = Math.max(0, Math.ceil(-Math.log10((high - low) / FINE)));
    return Number(raw.toFixed(Math.min(digits, 8)));
  }

  #put(value) {
    this.now = value;
    if (!this.held) this.ends = this.#ends(value);
    this.range.value = Math.round(this.#place(value));
    this.range.setAttribute("aria-valuetext", `${shown(value)} ${this.parameter.unit}`.trim());
    if (document.activeElement !== this.field) this.field.value = shown(value);
    const at = this.#place(this.#rest) / FINE;
    this.notch.style.setProperty("--at", at);
    this.row.classList.toggle("moved", value !== this.#rest);
    this.row.classList.toggle("follows", this.parameter.neutral === null);
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

  #type() {
    const p = this.parameter;
    const value = typed(this.field.value);
    const wrong = !(value >= p.low && value <= p.high);
    this.field.setAttribute("aria-invalid", String(wrong));
    this.field.title = wrong ? `${p.label}: from ${shown(p.low)} to ${shown(p.high)} ${p.unit}`.trim() : "";
    if (wrong) return;
    this.now = value;
    this.#move(value);
    this.#keep();
    this.field.value = shown(value);
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
