// Small helps with the document: making elements, finding them, and numbers as people read them.

/** @type {(id: string) => any} any kind of element: index.html says which */
export const node = (id) => document.getElementById(id);

export const h = (tag, properties = {}, ...children) => {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (key === "class") made.className = value;
    else if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key in made && key !== "list") made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
};

/** A number as people read it: four digits, a true minus. */
export const shown = (value) => {
  const text = Math.abs(value) >= 1000 ? value.toFixed(0) : String(Number(value.toPrecision(4)));
  return text.replace("-", "\u2212");
};

/** A number as people type it; NaN for anything else. */
export const typed = (text) => {
  const clean = text.trim().replace("\u2212", "-").replace(",", ".");
  return clean === "" ? NaN : Number(clean);
};

/** Digits behind the point that a thousandth of a range is worth. */
export const digits = (range) => Math.min(8, Math.max(0, Math.ceil(-Math.log10(range / 1000))));

export const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/** A sentence begins with a capital. */
export const capital = (text) => (text ? text[0].toUpperCase() + text.slice(1) : text);

/**
 * One tab stop for a group of things: arrows go between them.
 * @param {HTMLElement} group
 * @param {() => HTMLElement[]} items in order
 * @param {{keys?: [string, string][], onmove?: (item: HTMLElement) => void}} how keys: pairs of back and forward
 */
export function roving(group, items, how = {}) {
  const keys = how.keys ?? [["ArrowUp", "ArrowDown"], ["ArrowLeft", "ArrowRight"]];
  const settle = (chosen) => items().forEach((item) => { item.tabIndex = item === chosen ? 0 : -1; });
  group.addEventListener("focusin", (event) => {
    const item = items().find((one) => one.contains(/** @type {Node} */ (event.target)));
    if (item) settle(item);
  });
  group.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const all = items();
    const at = all.indexOf(/** @type {HTMLElement} */ (event.target));
    const by = keys.some(([back]) => back === event.key) ? -1 : keys.some(([, on]) => on === event.key) ? 1 : 0;
    const to = event.key === "Home" ? 0 : event.key === "End" ? all.length - 1 : at + by;
    if (at < 0 || to === at || !all[to]) return;
    event.preventDefault();
    settle(all[to]);
    all[to].focus();
    how.onmove?.(all[to]);
  });
  return { settle: (chosen) => settle(chosen ?? items().find((i) => i.tabIndex === 0) ?? items()[0]) };
}
