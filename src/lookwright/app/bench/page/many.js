// Several stills at once, each live through the look; a filter over the strip; pinned stills that stay in sight.

import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { stage } from "./stage.js";
import { strip } from "./strip.js";

const COUNTS = [1, 2, 4, 9];
const GAP = 10;
const NAME = 28; // pixels of a line for the name under each
let count = 1;
let wanted = "";
const pinned = new Set(JSON.parse(sessionStorage.getItem("pinned") || "[]"));
const plain = stage.arrange;

const fits = (name) => wanted.split(/\s+/).every((part) => name.toLowerCase().includes(part));

/** The stills that are laid out: pinned ones first, the open one among them, then those that follow it and fit. */
export function chosen() {
  const stills = bench.state.stills;
  const first = [...pinned].map((name) => stills.findIndex((s) => s.name === name)).filter((i) => i >= 0);
  const rest = stills.map((_, i) => (stage.still + i) % stills.length).filter((i) => fits(stills[i].name) || i === stage.still);
  const all = [...new Set([...first.slice(0, first.includes(stage.still) ? count : count - 1), stage.still, ...first, ...rest])];
  return all.slice(0, Math.min(count, all.length)).sort((a, b) => first.indexOf(a) - first.indexOf(b) || a - b);
}

// Rows and columns that show them largest.
function shape(n, width, height, ratio) {
  let best = [1, n, 0];
  for (let columns = 1; columns <= n; columns += 1) {
    const rows = Math.ceil(n / columns);
    const size = Math.min(width / columns / ratio, height / rows);
    if (size > best[2]) best = [rows, columns, size];
  }
  return best;
}

stage.arrange = (table) => {
  if (count === 1 || !bench.state) return plain(table);
  const stills = chosen().filter((i) => table.sizes.has(i));
  if (stills.length < 2) return plain(table);
  const { w, h: tall } = table.size;
  const [rows, columns] = shape(stills.length, table.width, table.height, w / tall);
  const gap = Math.round(GAP * table.ratio), name = Math.round(NAME * table.ratio);
  const one = { w: Math.floor((table.width - gap * (columns - 1)) / columns), h: Math.floor((table.height - gap * (rows - 1)) / rows) };
  return stills.map((still, i) => ({
    x: (i % columns) * (one.w + gap), y: Math.floor(i / columns) * (one.h + gap), w: one.w, h: one.h - name, still, show: table.compare.show,
  }));
};

// Sizes of those that are to be shown are asked for first; each is laid out as it comes.
async function measure() {
  if (count === 1) { stage.refresh(); place(); return; }
  const missing = chosen().filter((i) => !stage.sizes.has(i));
  stage.refresh();
  place();
  await Promise.all(missing.map(async (i) => {
    try { await stage.measure(i); } catch (fault) { bench.say(fault.message); return; }
    stage.refresh();
    place();
  }));
}

// -- names under the pictures -----------------------------------------------------------------------------------------------

const names = h("div", { id: "names" });
node("stage").append(names);

function place() {
  const panes = count > 1 && stage.panes.length > 1 ? stage.panes : [];
  names.replaceChildren(...panes.map((pane) => {
    const { name } = bench.state.stills[pane.still];
    const held = pinned.has(name);
    const open = h("button", { type: "button", title: "Open it: marks and tools are those of the open still", onclick: () => strip.opened(pane.still) }, name.replace(/\.[^.]+$/, ""));
    if (pane.still === stage.still) open.setAttribute("aria-current", "true");
    const pin = h("button", { type: "button", "aria-pressed": String(held), title: "Keep it among those shown", onclick: () => pinning(pane.still) }, held ? "pinned" : "pin");
    const line = h("div", {}, open, pin);
    const frame = stage.frameIn(pane), low = (pane.y + pane.h) / stage.ratio;
    line.style.setProperty("left", `${pane.x / stage.ratio}px`);
    line.style.setProperty("top", `${Math.min(low, frame ? frame.y + frame.h : low)}px`);
    line.style.setProperty("width", `${pane.w / stage.ratio}px`);
    return line;
  }));
  node("overlay").hidden = panes.length > 0;
}

function pinning(index = stage.still) {
  const { name } = bench.state.stills[index];
  if (pinned.has(name)) pinned.delete(name);
  else pinned.add(name);
  sessionStorage.setItem("pinned", JSON.stringify([...pinned]));
  filter();
  measure();
}

function many(n) {
  count = n;
  select.value = String(n);
  stage.zoom = 0;
  measure();
}

// -- the strip --------------------------------------------------------------------------------------------------------------

function filter() {
  wanted = field.value.trim().toLowerCase();
  let seen = 0;
  strip.cells.forEach((cell, i) => {
    const { name } = bench.state.stills[i];
    const shown = pinned.has(name) || fits(name);
    cell.button.hidden = !shown;
    cell.button.classList.toggle("pinned", pinned.has(name));
    cell.button.style.setProperty("order", pinned.has(name) ? "-1" : "0");
    seen += shown ? 1 : 0;
  });
  told.textContent = wanted ? `${seen} of ${strip.cells.length}` : "";
}

const field = h("input", { type: "text", id: "strip-filter", placeholder: "filter", "aria-label": "Filter the stills by name", spellcheck: false });
field.addEventListener("input", () => { filter(); if (count > 1) measure(); });
field.addEventListener("keydown", (event) => { if (event.key === "Escape") { field.value = ""; filter(); measure(); } });
const told = h("span", { role: "status" });
const pinButton = h("button", { type: "button", id: "pin", title: "Keep the open still among those shown, and first in the strip", onclick: () => pinning() }, "Pin");
const select = h("select", { id: "many", "aria-label": "Stills shown at once" }, ...COUNTS.map((n) => h("option", { value: String(n) }, n === 1 ? "1 still" : `${n} stills`)));
select.addEventListener("change", () => many(Number(select.value)));
export const stripTools = h("div", { id: "strip-tools" }, select, field, pinButton, told);
if (!document.body.classList.contains("no-strip")) stripTools.insertBefore(node("strip-toggle"), field);
node("strip-side").append(stripTools);

keys.add(
  { keys: ["9"], words: "1, 2, 4 or 9 stills at once", group: "Stills", act: () => many(COUNTS[(COUNTS.indexOf(count) + 1) % COUNTS.length]) },
  { keys: ["k"], words: "pin the open still, or let it go", group: "Stills", act: () => pinning() },
);
bench.on("placed", place);
bench.on("state", (state, old) => { if (old && old.stills.length !== state.stills.length) measure(); });
bench.on("still", () => {
  const name = bench.state.stills[stage.still]?.name;
  pinButton.setAttribute("aria-pressed", String(pinned.has(name)));
  if (count > 1) measure();
});
/** After the strip was filled. */
export const refilter = () => { if (bench.state) filter(); };
