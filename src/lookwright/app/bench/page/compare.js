// Ways of looking: what is shown, what it is compared with, and how; size; and what the screen is told.

import { bench } from "./core.js";
import { h, node, clamp } from "./dom.js";
import { zoom } from "./hand.js";
import { ask, close } from "./dialog.js";
import { keys } from "./keys.js";
import { lattices } from "./lattices.js";
import { ofServer, shows } from "./shows.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const LEAST_BLINK = 0.5; // s for each of the two: well under three flashes a second (WCAG 2.3.1)

shows.add(
  { id: "now", label: "the look now", group: "The recipe", moves: true, stamp: () => bench.state.looks, lattice: () => lattices.get("now"), fetch: ofServer("now") },
  { id: "plain", label: "plain rendering", group: "The recipe", stamp: () => bench.state.looks, lattice: () => lattices.get("plain"), fetch: ofServer("plain") },
  { id: "saved", label: "as saved", group: "The recipe", stamp: () => bench.state.saved_stamp, fetch: ofServer("saved") },
  ...[17, 33, 65].map((size) => ({
    id: `lut:${size}`, label: `as a LUT of ${size} points`, group: "As delivered", stamp: () => bench.state.looks, moves: true,
    lattice: () => lattices.get("now"), fetch: ofServer(`lut:${size}`),
    note: "sampled plainly; a delivery refines it",
  })),
);

const WAYS = [
  ["one", "Look", "What is chosen on the left, alone (L)", "l"],
  ["other", "Other", "What it is compared with, alone (P)", "p"],
  ["wipe", "Wipe", "The other left of a line, the look right (W)", "w"],
  ["beside", "Beside", "One beside the other (S)", "s"],
  ["blink", "Blink", "In turn, slowly (B)", "b"],
];

// -- which -------------------------------------------------------------------------------------------------------------

const first = node("show-first"), second = node("show-second");

function fill(select, chosen) {
  const groups = new Map();
  for (const show of shows.list) {
    if (!groups.has(show.group)) groups.set(show.group, []);
    groups.get(show.group).push(h("option", { value: show.id }, show.label));
  }
  select.replaceChildren(...[...groups].map(([label, options]) => h("optgroup", { label }, ...options)));
  select.value = chosen;
}

export function fillLists() {
  const { compare } = stage;
  if (!shows.get(compare.show)) compare.show = "now";
  if (!shows.get(compare.against)) compare.against = "plain";
  const key = JSON.stringify(shows.list.map((s) => [s.id, s.label, s.group]));
  if (key !== fillLists.key || first.value !== compare.show || second.value !== compare.against) {
    fillLists.key = key;
    fill(first, compare.show);
    fill(second, compare.against);
  }
}
fillLists.key = "";

/**
 * Show something else: any of the two, the way, or all.
 * @param {{show?: string, against?: string, way?: string}} changes
 */
export function look(changes) {
  blinking(false);
  stage.set({ compare: { ...stage.compare, ...changes } });
  fillLists();
  const input = /** @type {?HTMLInputElement} */ (document.querySelector(`input[name="way"][value="${stage.compare.way}"]`));
  if (input) input.checked = true;
  if (stage.compare.way === "blink") askBlink();
  caption();
}

first.addEventListener("change", () => look({ show: first.value }));
second.addEventListener("change", () => look({ against: second.value, way: stage.compare.way === "one" ? "wipe" : stage.compare.way }));

for (const [value, label, title, key] of WAYS) {
  const input = h("input", { type: "radio", name: "way", value, checked: value === "one", onchange: () => look({ way: value }) });
  node("ways").append(h("label", { title }, input, h("span", {}, label)));
  keys.add({ keys: [key], words: title.replace(/ \(.\)$/, "").toLowerCase(), group: "Comparing", act: () => look({ way: value }) });
}

// -- in turn -----------------------------------------------------------------------------------------------------------

let blink = 0;
let seconds = 1;
let warned = false;

function blinking(on) {
  clearInterval(blink);
  blink = 0;
  stage.blinked = false;
  if (on) {
    blink = setInterval(() => {
      stage.blinked = !stage.blinked;
      stage.refresh();
      caption();
    }, 1000 * Math.max(LEAST_BLINK, seconds));
  }
}

function askBlink() {
  if (warned) { blinking(true); return; }
  const field = h("input", { type: "text", inputmode: "decimal", value: String(seconds), id: "blink-seconds" });
  const choice = h("p", { class: "choice" }, h("label", { htmlFor: "blink-seconds" }, `Seconds for each, ${LEAST_BLINK} at least`), field);
  ask("In turn", [h("p", {}, "The two pictures stand for one another in turn until Escape, or another way of looking. Pictures that change suddenly can trigger seizures in people with photosensitive epilepsy: mind who else sees this screen."), choice], {
    Start: () => { seconds = clamp(Number(field.value.replace(",", ".")) || 1, LEAST_BLINK, 20); warned = true; close(); blinking(true); },
    "Do not": () => { close(); look({ way: "one" }); },
  });
}
bench.on("escape", () => { if (stage.compare.way === "blink") look({ way: "one" }); });

// -- the line of a wipe ------------------------------------------------------------------------------------------------

const handle = node("wipe");
function placeWipe() {
  handle.hidden = stage.compare.way !== "wipe";
  const { frame } = stage;
  if (handle.hidden || !frame) return;
  const top = Math.max(0, frame.y), bottom = Math.min(node("stage").clientHeight, frame.y + frame.h);
  handle.style.setProperty("left", `${frame.x + frame.w * stage.cut}px`);
  handle.style.setProperty("top", `${top}px`);
  handle.style.setProperty("height", `${bottom - top}px`);
  handle.setAttribute("aria-valuenow", String(Math.round(stage.cut * 100)));
}
const cutAt = (cut) => { stage.cut = clamp(cut, 0, 1); stage.refresh(); };
handle.addEventListener("pointerdown", (event) => {
  event.preventDefault();
  handle.focus();
  handle.setPointerCapture(event.pointerId);
  const move = (e) => cutAt((e.clientX - node("stage").getBoundingClientRect().left - stage.frame.x) / stage.frame.w);
  handle.addEventListener("pointermove", move);
  handle.addEventListener("pointerup", () => handle.removeEventListener("pointermove", move), { once: true });
});
handle.addEventListener("keydown", (event) => {
  const by = { ArrowLeft: -0.02, ArrowRight: 0.02, Home: -1, End: 1 }[event.key];
  if (!by || event.ctrlKey || event.altKey) return;
  event.preventDefault();
  cutAt(stage.cut + by);
});

// -- size --------------------------------------------------------------------------------------------------------------

for (const [value, label, title] of [[0, "Fit", "The whole still (F)"], [1, "100 %", "One pixel for one (1)"], [2, "200 %", "Twice as large (2)"], [4, "400 %", "Four times as large (4)"]]) {
  const input = h("input", { type: "radio", name: "zoom", value: String(value), checked: value === 0, onchange: () => zoom(Number(value)) });
  node("zoom").append(h("label", { title: String(title) }, input, h("span", {}, String(label))));
}
function showZoom() {
  for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("input[name=zoom]"))) input.checked = Number(input.value) === stage.zoom;
}

// -- what the screen is told -------------------------------------------------------------------------------------------

const screen = node("screen-as");
function screenAs() {
  const { screen: about } = bench.state;
  screen.hidden = !about.curve;
  const on = Boolean(about.curve) && sessionStorage.getItem("screen") === "matched";
  screen.setAttribute("aria-pressed", String(on));
  screen.textContent = on ? "For an sRGB screen" : "Codes as they are";
  screen.title = on
    ? "The light that BT.1886 means, encoded for a screen that is set to sRGB. Click for the code values as they are."
    : "BT.1886 code values go to the screen as they are: right on one that is set to gamma 2.4. One set to sRGB shows shadows lighter than they will be; click to have them converted for it.";
  const decoded = on ? about.curve : 0;
  if (stage.painter.decoded !== decoded) {
    stage.painter.decoded = decoded;
    stage.draw();
  }
}
screen.addEventListener("click", () => {
  sessionStorage.setItem("screen", screen.getAttribute("aria-pressed") === "true" ? "" : "matched");
  screenAs();
  caption();
  bench.tell("lattice"); // small pictures go through the same screen
});

// -- what is said under the picture ------------------------------------------------------------------------------------

export function caption() {
  const { state } = bench;
  if (!state || !stage.size) return;
  const { compare } = stage;
  const shown = compare.way === "one" ? shows.get(compare.show) : null;
  const name = shown?.name ?? state.stills[stage.still]?.name ?? "";
  const one = shows.get(compare.show)?.label ?? "", other = shows.get(compare.against)?.label ?? "";
  const across = stage.panes.length > 1 && stage.panes[0].y !== stage.panes[1].y;
  const both = across ? `${other} above, ${one} below` : `${other} left, ${one} right`;
  const said = { one, other, wipe: `${other} left, ${one} right`, beside: both, blink: stage.blinked ? other : one }[compare.way];
  const scale = Math.round(stage.scale * 100);
  const text = `${name}: ${said}${shown?.whole ? "" : `, ${scale} %`}`; // a picture of its own has no size of the still
  if (node("says").textContent !== text) node("says").textContent = node("says").title = text;
}

function rest(exact) {
  const main = stage.main;
  const show = main ? shows.get(main.show) : null;
  const words = stage.moving ? "moving" : !exact ? "through a lattice" : show?.note ?? "exact";
  if (node("rest").textContent !== words) node("rest").textContent = words;
}

bench.on("placed", () => { placeWipe(); caption(); showZoom(); });
bench.on("drawn", rest);
bench.on("state", (state) => {
  stage.painter.space(state.screen.space);
  fillLists();
  screenAs();
  caption();
});
bench.on("tool", () => { if (tools.now) blinking(false); });
