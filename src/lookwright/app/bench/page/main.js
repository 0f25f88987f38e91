// The bench: what the hand does, what the server says, and the picture between them.

import { Fault, Newest, binary, client, get, listen, post } from "./api.js";
import { Jobs } from "./jobs.js";
import { Marks } from "./marks.js";
import { Notes } from "./notes.js";
import { Recipe } from "./recipe.js";
import { Scopes } from "./scopes.js";
import { h } from "./slider.js";
import { Stage } from "./stage.js";
import { Strip } from "./strip.js";

/** @type {(id: string) => any} any kind of element: index.html says which */
const node = (id) => document.getElementById(id);
// For tests/benchmarks/bench_page.py: "all" notes how long each picture took, "bake" leaves its drawing out.
const measuring = new URLSearchParams(location.search).get("measure");

let state = null;
let warned = false;
const latticeOf = { after: -1, before: -1 };

// -- saying ------------------------------------------------------------------------------------------------------------

let quiet = 0;
function say(text) {
  const box = node("message");
  box.querySelector("span").textContent = text;
  box.hidden = false;
  clearTimeout(quiet);
  quiet = setTimeout(() => { box.hidden = true; }, 12000);
}
node("message").querySelector("button").addEventListener("click", () => { node("message").hidden = true; });

async function trying(work) {
  try {
    return await work();
  } catch (fault) {
    say(fault.message);
    if (fault instanceof Fault && fault.data.gone) await refresh();
    return null;
  }
}

// -- the picture -------------------------------------------------------------------------------------------------------

const stage = new Stage(node("picture"), node("stage"), {
  changed: () => { marks.place(); caption(); placeWipe(); },
  drawn: (exact) => {
    const rest = stage.moving ? "" : exact ? "exact" : "through the lattice";
    if (node("rest").textContent !== rest) node("rest").textContent = rest;
    node("picture").dataset.exact = String(exact);
    soon(scopesLater);
  },
  viewed: () => { if (wanted && recipe.held) preview.ask(wanted, performance.now()); },
});
const scopes = new Scopes(node("waveform"), node("vectorscope"));
const strip = new Strip(node("strip"), stage, (index) => open(index));
const marks = new Marks(stage, node("overlay"), node("mark-rows"), {
  say,
  dirty: (is) => { node("save-marks").hidden = !is || !state?.marks_file; },
});
const notes = new Notes(node("restraint-summary"), node("findings"));

const pending = new Set();
function soon(work) {
  if (pending.has(work)) return;
  pending.add(work);
  setTimeout(() => { pending.delete(work); work(); }, stage.moving ? 180 : 40);
}
const plots = new Newest(async () => scopes.draw(await stage.shown(320)));
function scopesLater() { plots.ask(); }

async function open(index) {
  await trying(async () => {
    const about = await stage.open(index);
    strip.choose(index);
    marks.open(index, about);
    sessionStorage.setItem("still", String(index));
    caption();
  });
}

function caption() {
  if (!state || stage.still === undefined) return;
  const name = state.stills[stage.still]?.name ?? "";
  const scale = Math.round(stage.size ? stage.scale * 100 : 0);
  const shows = {
    after: "the look", before: "plain rendering", wipe: "plain rendering left, the look right", pair: "plain rendering left, the look right",
  }[stage.compare];
  node("says").textContent = `${name}: ${stage.map ? "light in the still, stops from middle grey" : shows}, ${scale} %`;
  node("legend").hidden = !stage.map;
}

function placeWipe() {
  const handle = node("wipe");
  handle.hidden = stage.compare !== "wipe" || stage.map;
  const frame = stage.frame;
  if (handle.hidden || !frame) return;
  const top = Math.max(0, frame.y), bottom = Math.min(node("stage").clientHeight, frame.y + frame.h);
  handle.style.setProperty("left", `${frame.x + frame.w * stage.cut}px`);
  handle.style.setProperty("top", `${top}px`);
  handle.style.setProperty("height", `${bottom - top}px`);
  handle.setAttribute("aria-valuenow", String(Math.round(stage.cut * 100)));
}

node("wipe").addEventListener("pointerdown", (event) => {
  event.preventDefault();
  const handle = node("wipe");
  handle.focus();
  handle.setPointerCapture(event.pointerId);
  const move = (e) => {
    const box = node("stage").getBoundingClientRect();
    const at = stage.at(e.clientX - box.left, 0);
    stage.cut = Math.min(1, Math.max(0, at.x));
    stage.draw();
    placeWipe();
  };
  handle.addEventListener("pointermove", move);
  handle.addEventListener("pointerup", () => handle.removeEventListener("pointermove", move), { once: true });
});
node("wipe").addEventListener("keydown", (event) => {
  const by = { ArrowLeft: -0.02, ArrowRight: 0.02, Home: -1, End: 1 }[event.key];
  if (!by) return;
  event.preventDefault();
  stage.cut = Math.min(1, Math.max(0, stage.cut + by));
  stage.draw();
  placeWipe();
});

// The level under the pointer, and the light behind it.
const probe = new Newest(async (x, y) => {
  const half = 2;
  const { w, h: hh } = stage.size;
  const box = [Math.max(0, x - half / w), Math.max(0, y - half / hh), (2 * half + 1) / w, (2 * half + 1) / hh];
  box[2] = Math.min(box[2], 1 - box[0]);
  box[3] = Math.min(box[3], 1 - box[1]);
  if (!(box[2] > 0 && box[3] > 0)) return;
  try {
    const { measured: [m] } = await post("marks", { still: stage.still, marks: [{ name: "pointer", box }], keep: false });
    const sign = m.stops >= 0 ? "+" : "\u2212";
    node("readout").textContent = `${m.level.toFixed(1)} %  \u00b7  ${sign}${Math.abs(m.stops).toFixed(1)} stops`;
  } catch { node("readout").textContent = ""; }
  await new Promise((done) => setTimeout(done, 60));
});
node("picture").addEventListener("pointermove", (event) => {
  const at = event.buttons ? null : stage.at(event.offsetX, event.offsetY);
  if (at && at.x >= 0 && at.y >= 0 && at.x < 1 && at.y < 1) probe.ask(at.x, at.y);
  else { probe.drop(); node("readout").textContent = ""; }
});
node("picture").addEventListener("pointerleave", () => { probe.drop(); node("readout").textContent = ""; });

// -- the recipe --------------------------------------------------------------------------------------------------------

// A slider on its way: one request at a time, for the newest value; drawing it does not keep the next one waiting.
let wanted = null;
const preview = new Newest(async (changes, asked) => {
  try {
    const sent = performance.now();
    const { key } = stage;
    const found = await binary("preview", { changes, view: stage.view?.region ?? null });
    if (!found || !stage.moving) return;
    if (key !== stage.key) return; // baked for what was seen before; viewed() asks again
    draw({ found, asked, sent, back: performance.now() });
  } catch (fault) { say(fault.message); }
});

// One drawing at a time, of the newest lattice: a slow machine then falls behind by one picture, never by more.
const SLOW = 30; // ms; from there on only every second pixel is drawn in a move
let next = null;
let busy = false;
let slow = 0;
let fine = 0;
async function draw(one) {
  next = one;
  if (busy) return;
  busy = true;
  clearTimeout(fine);
  while (next) {
    const { found, asked, sent, back } = next;
    next = null;
    const started = performance.now();
    const size = Number(found.headers.get("x-size")), points = Number(found.headers.get("x-points"));
    const whole = table(found.bytes, size, points);
    if (measuring !== "bake") {
      stage.coarse = slow < 2 ? 1 : 2;
      stage.lattice("after", whole, size);
      latticeOf.after = -1;
      await stage.painter.done();
      if (stage.coarse === 1) slow = performance.now() - started > SLOW ? slow + 1 : 0;
    }
    if (measuring) {
      const end = performance.now(), bake = Number(found.headers.get("x-bake-ms"));
      const detail = { wait: sent - asked, bake, way: back - sent - bake, turn: started - back, draw: end - started, size, points, coarse: stage.coarse };
      performance.measure("slider-to-picture", { start: asked, end, detail });
    }
    if (!stage.moving) next = null;
  }
  busy = false;
  if (stage.coarse > 1) fine = setTimeout(() => { stage.coarse = 1; stage.draw(); }, 150); // the hand is still
}

// All points of a lattice; of one baked for a view the places come first, and points that it does not read stay as they were.
const tables = new Map();
function table(bytes, size, points) {
  if (points === size ** 3) return new Uint16Array(bytes);
  const places = new Uint32Array(bytes, 0, points), codes = new Uint16Array(bytes, 4 * points);
  if (!tables.has(size)) tables.set(size, new Uint16Array(3 * size ** 3));
  const whole = tables.get(size);
  for (let i = 0; i < points; i += 1) for (let c = 0; c < 3; c += 1) whole[3 * places[i] + c] = codes[3 * i + c];
  return whole;
}

const edits = { last: Promise.resolve() };
// Edits go one after the other, none is dropped.
function edit(path, body) {
  edits.last = edits.last.then(() => trying(async () => {
    const next = await post(path, body);
    await take(next);
  }));
  return edits.last;
}

const recipe = new Recipe({
  preview: (changes) => { wanted = changes; stage.move(); preview.ask(changes, performance.now()); },
  keep: (changes) => { preview.drop(); edit("edit", { do: "set", changes }); },
  edit: (body) => edit("edit", body),
  say,
});

async function refresh() { await trying(async () => take(await get("state"))); }

async function take(next) {
  if (state && next.revision < state.revision) return;
  const first = !state;
  const same = state && state.looks === next.looks;
  state = next;
  if (!same) stage.move();
  recipe.update(next);
  buttons();
  jobs.update(next);
  node("save-marks").hidden = !next.marks_dirty || !next.marks_file;
  if (next.not_kept && !warned) { warned = true; say(`What is not saved cannot be kept: ${next.not_kept}`); }
  document.title = `${next.dirty ? "* " : ""}${next.title || next.file} \u2013 lookwright bench`;
  if (!first && (!same || stage.moving)) await settle();
}

// The recipe is at rest: the lattices in full, the picture exactly, the measurements again.
const lattices = new Newest(async () => {
  for (const side of ["after", "before"]) {
    const { looks } = state;
    if (recipe.held) return;
    const old = latticeOf[side] !== looks;
    if (old) {
      const found = await binary("lattice", { side });
      if (!found || recipe.held) return;
      stage.coarse = 1;
      stage.lattice(side, found.bytes, Number(found.headers.get("x-size")));
      latticeOf[side] = looks;
      if (side === "after") strip.update();
    }
    if (side === "after" && (old || stage.moving)) {
      slow = 0;
      clearTimeout(fine);
      stage.settle();
    } else if (old) stage.fetchExact.ask();
  }
  soon(scopesLater);
});

async function settle() {
  if (recipe.held) return;
  stage.painter.space(state.screen.space);
  scopes.setup(state.scopes);
  await trying(() => lattices.ask());
  marks.again();
}

function buttons() {
  const { undo, redo, dirty } = state;
  node("undo").disabled = !undo;
  node("undo").title = undo ? `Undo: ${undo} (Ctrl Z)` : "";
  node("redo").disabled = !redo;
  node("redo").title = redo ? `Do again: ${redo} (Ctrl Shift Z)` : "";
  node("save").textContent = dirty ? "Save" : "Saved";
  node("save").disabled = !dirty && !state.changed_on_disk;
  node("save").title = `Write ${state.file} (Ctrl S)`;
}

async function save(overwrite = false) {
  const answer = await trying(() => post("save", { overwrite }));
  if (!answer) return false;
  await take(answer.state);
  if (!answer.saved) onDisk();
  return answer.saved;
}

function onDisk() {
  const close = () => node("ask").close();
  jobs.ask(`${state.file} was changed elsewhere`, "Something else wrote the file since it was opened here. Which text should hold? The other one stays within reach: this one by undo, the file's not.", {
    "Neither, now": close,
    "Read the file again": async () => { close(); await trying(async () => take(await post("reload", {}))); },
    "Write mine over it": async () => { close(); await save(true); },
  });
}

const jobs = new Jobs(node("ask"), { say, saveFirst: () => save(), took: (next) => take(next) });

node("undo").addEventListener("click", () => edit("undo", {}));
node("redo").addEventListener("click", () => edit("redo", {}));
node("save").addEventListener("click", () => save());
node("tune").addEventListener("click", () => jobs.tune());
node("deliver").addEventListener("click", () => jobs.deliver());
node("save-marks").addEventListener("click", () => saveMarks());

async function saveMarks(overwrite = false) {
  const answer = await trying(() => post("marks/save", { overwrite }));
  if (!answer) return;
  if (answer.saved) {
    node("save-marks").hidden = true;
    return;
  }
  const close = () => node("ask").close();
  jobs.ask(`${state.marks_file} was changed elsewhere`, "Something else wrote the file since it was read here. Marks of stills that were not touched here stay as the file has them; those of the others would become what is drawn here.", {
    "Neither, now": close,
    "Write mine into it": async () => { close(); await saveMarks(true); },
  });
}

// -- ways of looking ---------------------------------------------------------------------------------------------------

function choices(field, name, options, chosen) {
  for (const [value, label, title] of options) {
    const input = h("input", { type: "radio", name, value, onchange: () => chosen(value) });
    field.append(h("label", { title: title || "" }, input, h("span", {}, label)));
  }
}
const pick = (name, value) => {
  const input = /** @type {?HTMLInputElement} */ (document.querySelector(`input[name="${name}"][value="${value}"]`));
  if (input) input.checked = true;
};

choices(node("compare"), "compare", [
  ["after", "Look", "The look (L)"], ["before", "Plain", "The plain rendering (P)"], ["wipe", "Wipe", "Plain left, look right (W)"], ["pair", "Side by side", "Plain and look (S)"],
], (value) => look(value));
choices(node("zoom"), "zoom", [["0", "Fit", "The whole still (F)"], ["1", "100 %", "One pixel for one (1)"], ["2", "200 %"], ["4", "400 %"]], (value) => zoom(Number(value)));

function look(value) {
  stage.map = false;
  node("map").setAttribute("aria-pressed", "false");
  pick("compare", value);
  stage.set({ compare: value });
  soon(scopesLater);
}
function zoom(value) {
  pick("zoom", value);
  stage.set({ zoom: value });
}
async function exposure() {
  if (!stage.colours) {
    const found = await trying(() => get("legend"));
    if (!found) return;
    stage.legend(found.colours);
    legend(found);
  }
  stage.set({ map: !stage.map });
  node("map").setAttribute("aria-pressed", String(stage.map));
  caption();
}
function legend({ colours, stops }) {
  const canvas = node("legend");
  const ticks = [-stops, -stops / 2, 0, stops / 2, stops];
  canvas.width = 260;
  canvas.height = 26;
  const pen = canvas.getContext("2d");
  colours.forEach((c, i) => {
    pen.fillStyle = `rgb(${c.join(",")})`;
    pen.fillRect(20 + (i * 220) / 256, 0, 1.5, 10);
  });
  pen.fillStyle = "#f0f0f0";
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  ticks.forEach((t) => pen.fillText(`${t > 0 ? "+" : t < 0 ? "\u2212" : ""}${Math.abs(t)}`, 20 + ((t + stops) / (2 * stops)) * 220, 23));
}
function drawing(on) {
  if (on && node("stage").classList.contains("bare")) bare();
  stage.drawing = on;
  node("draw").setAttribute("aria-pressed", String(on));
  node("stage").classList.toggle("drawing", on);
}
function bare() {
  const on = node("stage").classList.toggle("bare");
  node("bare").setAttribute("aria-pressed", String(on));
}
node("map").addEventListener("click", exposure);
node("bare").addEventListener("click", bare);
node("draw").addEventListener("click", () => drawing(!stage.drawing));
node("picture").addEventListener("drawn", () => drawing(false));

document.addEventListener("keydown", (event) => {
  const key = event.key.toLowerCase();
  const target = /** @type {?Element} */ (event.target);
  if (event.ctrlKey || event.metaKey) {
    const acts = { s: () => save(), z: () => edit(event.shiftKey ? "redo" : "undo", {}), y: () => edit("redo", {}) };
    if (!acts[key] || (key !== "s" && target?.matches?.("input[type=text]"))) return;
    event.preventDefault();
    acts[key]();
    return;
  }
  if (event.altKey || target?.matches?.("input[type=text], select") || node("ask").open) return;
  const acts = {
    l: () => look("after"), p: () => look("before"), w: () => look("wipe"), s: () => look("pair"), e: exposure, h: bare,
    m: () => drawing(!stage.drawing), f: () => zoom(0), 1: () => zoom(1), 2: () => zoom(2), 4: () => zoom(4), escape: () => drawing(false),
    "]": () => open(Math.min(state.stills.length - 1, stage.still + 1)), "[": () => open(Math.max(0, stage.still - 1)),
  };
  acts[key]?.();
});

window.addEventListener("beforeunload", (event) => { if (state?.dirty) event.preventDefault(); });

// -- news --------------------------------------------------------------------------------------------------------------

function heard(topic, content) {
  if (topic === "revision" && state && content > state.revision && !recipe.held) edits.last = edits.last.then(refresh);
  if (topic === "restraint") notes.update(content);
  if (topic === "checking") notes.waiting();
  if (topic === "job") jobs.job(content);
  if (topic === "disk" && state) {
    state.changed_on_disk = content.changed;
    buttons();
    if (content.changed) say(`${state.file} was changed by something else. Saving will ask which text should hold.`);
  }
  if (topic === "marks" && content.client !== client && content.still === stage.still && !document.querySelector("#marks :focus, #overlay :focus")) {
    get(`still/${content.still}`).then((about) => marks.open(content.still, about)).catch(() => {});
  }
}

// Work of an earlier session that was not saved.
function offerUnsaved() {
  if (!state.unsaved.length) return;
  const close = () => node("ask").close();
  const answer = (what) => async () => { close(); await edit("unsaved", { do: what }); if (what === "take") await open(stage.still); };
  jobs.ask("Unsaved work", `An earlier session ended before its work was saved. It is kept in ${state.unsaved.join(" and ")}. Taken up, it can be undone and is saved when you say so.`, {
    "Take it up": answer("take"),
    "Not now": answer("later"),
    "Throw it away": answer("drop"),
  });
}

// The server is gone: its last text is still here.
function ended() {
  document.body.dataset.ended = "true";
  const text = h("textarea", { readOnly: true, rows: 14, cols: 60, "aria-label": "The recipe as it stands", spellcheck: false });
  text.value = state.text;
  const words = !state.dirty
    ? "The bench was ended. The recipe is saved as it stands below."
    : state.not_kept
      ? "The bench was ended, and the recipe below was not saved: copy it."
      : "The bench was ended. The recipe below was not saved; it is kept on the disk as well, and offered at the next start.";
  const copy = async () => {
    text.select();
    try { await navigator.clipboard.writeText(text.value); } catch { document.execCommand("copy"); }
  };
  jobs.tell("The bench has ended", [h("p", {}, words), text], { "Copy the recipe": copy, Close: () => node("ask").close() });
}

async function start() {
  try {
    await take(await get("state"));
  } catch (fault) {
    node("title").textContent = "lookwright bench";
    node("about").textContent = fault.message;
    return;
  }
  pick("compare", "after");
  pick("zoom", "0");
  strip.fill(state.stills);
  stage.resize();
  const last = Number(sessionStorage.getItem("still") || 0);
  await Promise.all([open(last < state.stills.length ? last : 0), settle()]);
  document.body.dataset.ready = "true";
  offerUnsaved();
  listen(heard, (text) => {
    if (!text) { ended(); return; }
    say(text);
    clearTimeout(quiet);
    node("message").hidden = false;
  });
}

start();
