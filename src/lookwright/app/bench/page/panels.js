// Panels under the picture: measurements, marks, versions ... Each can be opened, closed and made large.

import { clamp, h, node, roving } from "./dom.js";

/**
 * @typedef {object} Panel
 * @property {string} id
 * @property {string} title
 * @property {string} [tab] a shorter name, for the row of names
 * @property {number} [order] from left to right
 * @property {number} [width] least width in pixels
 * @property {number} [grow] share of what is left over
 * @property {boolean} [open] at the first start
 * @property {boolean} [large] whether it can be made large
 * @property {(body: HTMLElement, head: HTMLElement) => void} fill puts its content in, once
 * @property {(open: boolean) => void} [opened] it was opened, closed, or is another size
 */

class Panels {
  /** @type {(Panel & {section: HTMLElement, tab: HTMLElement, isOpen: boolean, fits: boolean, larger?: HTMLElement})[]} */
  list = [];
  large = "";
  #kept = {};
  /** @type {string[]} ids, the one opened last first: where room is short, it is theirs in this order */
  #recent = [];
  #along = ""; // the panel that a tool brought with it

  constructor() {
    try { this.#kept = JSON.parse(sessionStorage.getItem("panels") || "{}"); } catch { /* nothing kept */ }
    this.large = this.#kept.large ?? "";
    this.tabs = roving(node("panel-names"), () => /** @type {HTMLElement[]} */ ([...node("panel-names").children]));
  }

  /** @param {...Panel} several */
  add(...several) {
    for (const panel of several) {
      const head = h("header", {}, h("h2", { id: `${panel.id}-head` }, panel.title));
      const body = h("div", { class: "panel-body" });
      const section = h("section", { id: panel.id, class: "panel", "aria-labelledby": `${panel.id}-head` }, head, body);
      section.style.setProperty("--least", `${panel.width ?? 200}px`);
      section.style.setProperty("--grow", String(panel.grow ?? 1));
      const tab = h("button", { type: "button", onclick: () => this.open(panel.id, !this.seen(panel.id)) }, panel.tab ?? panel.title);
      if (panel.tab) tab.title = panel.title;
      /** @type {any} */
      const made = { ...panel, section, tab, fits: true, isOpen: this.#kept[panel.id] ?? panel.open ?? true };
      if (panel.large) {
        const button = h("button", { type: "button", class: "enlarge", onclick: () => this.enlarge(this.large === panel.id ? "" : panel.id) });
        button.setAttribute("aria-label", `${panel.title}: larger`);
        button.textContent = "+";
        button.title = "Larger";
        head.append(button);
        made.larger = button;
      }
      this.list.push(made);
      this.list.sort((a, b) => (a.order ?? 50) - (b.order ?? 50));
      panel.fill(body, head);
    }
    node("panel-names").replaceChildren(...this.list.map((p) => p.tab));
    node("panels").replaceChildren(...this.list.map((p) => p.section));
    this.tabs.settle();
    this.#show();
  }

  open(id, on = true) {
    const panel = this.list.find((p) => p.id === id);
    if (!panel) return;
    panel.isOpen = on;
    if (id === this.#along) this.#along = "";
    this.#recent = on ? [id, ...this.#recent.filter((other) => other !== id)] : this.#recent.filter((other) => other !== id);
    if (!on && this.large === id) this.large = "";
    if (on && this.large && this.large !== id) this.large = "";
    if (on) hideTray(false);
    this.#show();
    if (on) panel.section.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  /** The panel of a tool: it comes with the tool, and goes with it where it was not there before. */
  along(id, on) {
    if (!on) { if (this.#along === id) this.open(id, false); return; }
    const was = this.list.find((p) => p.id === id)?.isOpen;
    this.open(id);
    if (!was) this.#along = id;
  }

  // One panel over the whole tray, which then takes more than half of the table; "" back to all.
  enlarge(id) {
    this.large = id;
    this.#show();
  }

  // The room is another, or what a panel needs of it.
  resized() {
    const before = this.#fitting;
    if (this.#fit() !== before) this.#show();
    else this.#told();
  }

  #told() { for (const panel of this.list) panel.opened?.(this.seen(panel.id)); }

  // Panels are never squeezed to where they cannot be read: those that were opened last have their least width, and what
  // then finds no room waits until there is some.
  #fitting = "";
  #fit() {
    const room = node("panels").clientWidth;
    const column = getComputedStyle(node("panels")).flexDirection === "column";
    let left = room || Infinity;
    const order = [...this.list].sort((a, b) => this.#rank(a) - this.#rank(b));
    for (const panel of order) {
      const least = parseFloat(panel.section.style.getPropertyValue("--least"));
      panel.fits = column || least <= left || left === (room || Infinity);
      if (panel.isOpen && panel.fits) left -= least;
    }
    return (this.#fitting = this.list.map((p) => Number(p.isOpen && p.fits)).join(""));
  }

  #rank(panel) {
    const at = this.#recent.indexOf(panel.id);
    return at < 0 ? this.#recent.length + (panel.order ?? 50) : at;
  }

  seen(id) {
    const panel = this.list.find((p) => p.id === id);
    return Boolean(panel?.isOpen && (this.large ? this.large === id : panel.fits) && !document.body.classList.contains("no-tray"));
  }

  #show() {
    document.body.classList.toggle("tray-large", Boolean(this.large));
    this.#fit();
    for (const panel of this.list) {
      const shown = panel.isOpen && (this.large ? this.large === panel.id : panel.fits);
      panel.section.hidden = !shown;
      panel.tab.setAttribute("aria-pressed", String(panel.isOpen && panel.fits));
      if (panel.larger) {
        panel.larger.textContent = this.large === panel.id ? "\u2212" : "+";
        panel.larger.title = this.large === panel.id ? "Smaller" : "Larger";
      }
    }
    this.#kept = Object.fromEntries(this.list.map((p) => [p.id, p.isOpen]));
    sessionStorage.setItem("panels", JSON.stringify({ ...this.#kept, large: this.large }));
    this.#told();
  }
}

// -- how the room is shared: the tray under the picture and the strip of stills can be sized and put away ---------------

function hideTray(on) {
  document.body.classList.toggle("no-tray", on);
  node("tray-toggle").textContent = on ? "Show panels" : "Hide panels";
  node("tray-toggle").setAttribute("aria-expanded", String(!on));
  keep("no-tray", on ? "yes" : "");
  panels?.resized();
}

function hideStrip(on) {
  document.body.classList.toggle("no-strip", on);
  // Where it is looked for: with the stills, or, once they are put away, beside the panels' names.
  const toggle = node("strip-toggle"), focused = document.activeElement === toggle;
  if (on) node("tray-bar").append(toggle);
  else document.getElementById("strip-tools")?.insertBefore(toggle, node("strip-filter"));
  if (focused) toggle.focus();
  toggle.textContent = on ? "Show stills" : "Hide";
  toggle.setAttribute("aria-label", on ? "Show stills" : "Hide stills");
  node("strip-toggle").setAttribute("aria-expanded", String(!on));
  keep("no-strip", on ? "yes" : "");
}

const keep = (name, value) => sessionStorage.setItem(`size-${name}`, String(value));
const kept = (name) => sessionStorage.getItem(`size-${name}`);

/** A border that can be dragged, or moved with arrow keys; it sets a length that the style sheet reads. */
function border(id, name, { low, high, fall, length, grows }) {
  const handle = node(id);
  const put = (value) => {
    const now = clamp(Math.round(value), low, high());
    document.documentElement.style.setProperty(`--${name}`, `${now}px`);
    handle.setAttribute("aria-valuenow", String(now));
    handle.setAttribute("aria-valuemin", String(low));
    handle.setAttribute("aria-valuemax", String(Math.round(high())));
    keep(name, now);
    panels?.resized();
  };
  const before = Number(kept(name));
  if (before) put(before);
  else handle.setAttribute("aria-valuenow", String(fall));
  handle.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    const start = length(), from = grows === "up" ? event.clientY : event.clientX;
    const move = (e) => put(start + from - (grows === "up" ? e.clientY : e.clientX));
    handle.addEventListener("pointermove", move);
    handle.addEventListener("pointerup", () => handle.removeEventListener("pointermove", move), { once: true });
  });
  handle.addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowLeft: 1, ArrowDown: -1, ArrowRight: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    put(length() + 24 * by);
  });
}

/** @type {Panels} */
export const panels = new Panels();
border("tray-border", "tray", { low: 96, high: () => window.innerHeight * 0.7, fall: 208, length: () => node("panels").clientHeight, grows: "up" });
border("strip-border", "strip", { low: 88, high: () => Math.min(420, window.innerWidth * 0.4), fall: 136, length: () => node("strip").clientWidth, grows: "left" });
node("tray-toggle").addEventListener("click", () => hideTray(!document.body.classList.contains("no-tray")));
node("strip-toggle").addEventListener("click", () => hideStrip(!document.body.classList.contains("no-strip")));
if (kept("no-tray")) hideTray(true);
if (kept("no-strip")) hideStrip(true);
new ResizeObserver(() => panels.resized()).observe(node("panels"));
