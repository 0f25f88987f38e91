// Room for the picture: full screen with the tools faded, the grey round it, and a window of its own for a second screen.

import { bench } from "./core.js";
import { clamp, h, node } from "./dom.js";
import { keys } from "./keys.js";
import { lattices } from "./lattices.js";
import { stage } from "./stage.js";

const viewing = new URLSearchParams(location.search).has("viewer");
const channel = new BroadcastChannel(`lookwright ${location.port}`);

// -- full screen --------------------------------------------------------------------------------------------------------------

const FADE = 2500; // ms without a hand until the tools fade
let fading = 0;

async function full(on = !document.body.classList.contains("full")) {
  document.body.classList.toggle("full", on);
  button.setAttribute("aria-pressed", String(on));
  awake();
  try {
    if (on && !document.fullscreenElement) await document.documentElement.requestFullscreen();
    else if (!on && document.fullscreenElement) await document.exitFullscreen();
  } catch { /* the window then is all there is */ }
  stage.resize();
}
document.addEventListener("fullscreenchange", () => {
  if (!document.fullscreenElement && document.body.classList.contains("full")) full(false);
});

// Tools are there while the hand moves, or the keyboard is in them.
function awake() {
  document.body.classList.remove("faded");
  clearTimeout(fading);
  if (!document.body.classList.contains("full")) return;
  fading = setTimeout(() => {
    const inTools = document.activeElement?.matches?.(":focus-visible") && document.activeElement.closest("#tools, #caption, #warning-key");
    if (!inTools) document.body.classList.add("faded");
  }, FADE);
}
for (const name of ["pointermove", "pointerdown", "keydown", "focusin"]) document.addEventListener(name, awake, { passive: true });

// -- the grey round the picture -------------------------------------------------------------------------------------------------

const LEAST = 0, MOST = 100, USUAL = 24; // percent of signal
const grey = h("input", { type: "range", id: "surround", min: LEAST, max: MOST, step: 1, value: USUAL, "aria-label": "Grey round the picture, percent of signal" });
const field = h("output", { htmlFor: "surround" });

function surround(percent) {
  const value = clamp(Math.round(percent), LEAST, MOST);
  grey.value = String(value);
  grey.setAttribute("aria-valuetext", `${value} %`);
  field.textContent = `${value} %`;
  stage.surround = value / 100;
  const code = Math.round(2.55 * value);
  document.documentElement.style.setProperty("--surround", `rgb(${code},${code},${code})`);
  sessionStorage.setItem("surround", String(value));
  stage.draw();
  if (!viewing) send({ surround: value });
}
grey.addEventListener("input", () => surround(Number(grey.value)));

const button = h("button", { type: "button", id: "full", "aria-pressed": "false", title: "The picture alone, tools faded until the hand moves (O)", onclick: () => full() }, "Full screen");
const second = h("button", { type: "button", id: "second", title: "The picture in a window of its own, for a second screen; it follows this one", onclick: () => window.open(`/?viewer=1${location.hash}`, "lookwright-viewer", "popup,width=1280,height=760") }, "Viewer");
node("room").append(h("label", { class: "surround", title: "Grey round the picture ( , and . )" }, h("span", {}, "surround"), grey, field));
node("lookings").append(button, second);
keys.add(
  { keys: ["o"], words: "full screen, tools faded", group: "Looking", act: () => full() },
  { keys: [","], words: "darker round the picture", group: "Looking", act: () => surround(Number(grey.value) - 4) },
  { keys: ["."], words: "lighter round the picture", group: "Looking", act: () => surround(Number(grey.value) + 4) },
);
bench.on("escape", () => { if (document.body.classList.contains("full")) full(false); });

// -- the viewer window ------------------------------------------------------------------------------------------------------------

function send(more = {}) {
  channel.postMessage({ from: "bench", still: stage.still, compare: { ...stage.compare }, cut: stage.cut, zoom: stage.zoom > 0 ? stage.zoom : 0, centre: { ...stage.centre }, ...more });
}

let due = 0;
const soon = () => { due ||= window.setTimeout(() => { due = 0; send(); }, 30); };

if (viewing) {
  let held = false; // the hand is in the other window
  lattices.hands.push(() => held);
  document.body.classList.add("viewer");
  document.title = "lookwright viewer";
  channel.onmessage = async ({ data }) => {
    if (data.from !== "bench" || !bench.state) return;
    if (data.surround !== undefined) surround(data.surround);
    if (data.changes) { held = data.changes.length > 0; if (held) lattices.move(data.changes); else lattices.drop(); if (!held) lattices.settle(); return; }
    if (data.still >= 0 && data.still !== stage.still) { try { await stage.open(data.still); } catch { return; } }
    // A blink is not followed: this window would flash by itself.
    const way = data.compare.way === "blink" ? "one" : data.compare.way;
    stage.set({ compare: { ...data.compare, way }, cut: data.cut, zoom: data.zoom, centre: data.centre });
  };
  channel.postMessage({ from: "viewer" });
} else {
  channel.onmessage = ({ data }) => { if (data.from === "viewer") send({ surround: Number(grey.value) }); };
  bench.on("placed", soon);
  bench.on("moving", (changes) => channel.postMessage({ from: "bench", changes }));
}
surround(Number(sessionStorage.getItem("surround") ?? USUAL));
