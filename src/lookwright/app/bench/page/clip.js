// A short clip through the look: some frames, read once and held here, played at a stated rate, or scrubbed. What is said to
// be shown is what was shown: frames that came too late are counted.

import { binary, post } from "./api.js";
import { look } from "./compare.js";
import { bench } from "./core.js";
import { ask, close } from "./dialog.js";
import { h, node, typed } from "./dom.js";
import { keys } from "./keys.js";
import { lattices } from "./lattices.js";
import { panels } from "./panels.js";
import { shows } from "./shows.js";
import { stage } from "./stage.js";

const RATES = [1, 0.5, 0.25]; // of the clip's own
const MEASURED = 2000; // ms over which the rate is told

class Player {
  /** @type {any} */ about = { state: "none", count: 0 };
  /** @type {Uint16Array[]} */ frames = [];
  at = 0;
  rate = 24;
  playing = false;
  cautioned = false;
  dropped = 0;
  #began = 0;
  #from = 0;
  #turns = []; // when frames were drawn
  #loading = false;

  get ready() { return this.frames.length; }

  async open(clip, first) {
    this.stop();
    this.frames = [];
    this.at = 0;
    const about = await bench.trying(() => post("clip", { clip, first }));
    if (about) this.heard(about);
  }

  // News of what the server has read; frames are fetched as they come.
  async heard(about) {
    if (about.name === undefined) return;
    if (!shows.get(side.id)) shows.add(side);
    if (about.clip !== this.about.clip || about.first !== this.about.first) { this.frames = []; this.rate = about.rate; }
    this.about = about;
    told();
    if (this.#loading) return;
    this.#loading = true;
    try {
      while (this.frames.length < this.about.count) {
        const mine = this.frames;
        const found = await binary("clip/frame", { number: mine.length });
        if (mine !== this.frames) continue;
        mine.push(new Uint16Array(found.bytes));
        if (mine.length === 1) this.show(0);
        told();
      }
    } catch (fault) { bench.say(fault.message); } finally { this.#loading = false; }
  }

  show(n) {
    this.at = Math.min(Math.max(0, n), Math.max(0, this.ready - 1));
    stage.again();
    slider.value = String(this.at);
    slider.setAttribute("aria-valuetext", `frame ${this.at + 1} of ${this.ready}`);
    told();
  }

  play() {
    if (!this.ready) return;
    if (!this.cautioned) { caution(() => { this.cautioned = true; this.play(); }); return; }
    this.playing = true;
    this.dropped = 0;
    this.#turns = [];
    this.#began = performance.now();
    this.#from = this.at;
    if (stage.compare.show !== "clip") look({ show: "clip", way: "one" });
    requestAnimationFrame(() => this.#turn());
    told();
  }

  stop() {
    if (!this.playing) return;
    this.playing = false;
    stage.coarse = 1;
    stage.draw();
    told();
  }

  set speed(share) {
    this.rate = this.about.rate * share;
    if (this.playing) { this.#began = performance.now(); this.#from = this.at; this.#turns = []; this.dropped = 0; }
    told();
  }

  // The frame that is due by the clock; those between it and the last one drawn came too late.
  async #turn() {
    if (!this.playing) return;
    const now = performance.now();
    const due = this.#from + Math.floor(((now - this.#began) * this.rate) / 1000);
    const steps = due - (this.#last ?? this.#from);
    if (steps > 0 && this.#drawn) {
      this.dropped += steps - 1;
      this.#last = due;
      this.#drawn = false;
      this.at = due % this.ready;
      slider.value = String(this.at);
      const began = performance.now();
      // Shown is what was drawn to its end, not what was asked for.
      stage.again().then(() => stage.painter.done()).finally(() => {
        this.#drawn = true;
        this.#turns.push(performance.now());
        while (this.#turns[0] < performance.now() - MEASURED) this.#turns.shift();
        if (this.#turns.length % 6 === 0) told();
        // Where drawing alone takes longer than a frame may, every second pixel is drawn, and that is told.
        if (stage.coarse === 1 && performance.now() - began > 900 / this.rate) this.#late += 1;
        else this.#late = 0;
        if (this.#late > 2) stage.coarse = 2;
      });
    }
    requestAnimationFrame(() => this.#turn());
  }
  #last = null;
  #drawn = true;
  #late = 0;

  /** Frames a second that were drawn of late; null before enough were. */
  get seen() {
    const t = this.#turns;
    return t.length > 4 ? ((t.length - 1) * 1000) / (t[t.length - 1] - t[0]) : null;
  }

  reset() { this.#last = null; this.#drawn = true; }
}

export const player = new Player();

// A side from the first clip on: before there is one, nothing could be shown of it.
const side = {
  id: "clip", label: "the clip through the look", group: "Moving", whole: true, live: true,
  note: "through a lattice of 33 points",
  get name() { return player.about.name; },
  stamp: () => `${player.about.clip} ${player.about.first} ${player.at} ${player.ready > player.at}`,
  fetch: async (region, painter, old) => {
    const frame = player.frames[player.at];
    if (!frame) return null;
    const picture = painter.source(frame.buffer, player.about.width, player.about.height, old?.picture);
    return { kind: "lattice", picture, get lattice() { return lattices.get("now"); } };
  },
};

function caution(go) {
  ask("Before it plays", [h("p", {}, "Clips may flash: explosions, strobes, cuts between bright and dark. Flashing pictures can trigger seizures in people with photosensitive epilepsy. Mind who else sees this screen; Space stops it at once.")], {
    "Play it": () => { close(); go(); },
    "Do not": close,
  });
}

// -- the panel ----------------------------------------------------------------------------------------------------------------

const which = h("select", { "aria-label": "Clip" });
const first = h("input", { type: "text", inputmode: "decimal", value: "0", "aria-label": "From, seconds" });
const read = h("button", { type: "button", onclick: () => player.open(Number(which.value), Math.max(0, typed(first.value) || 0)) }, "Read frames");
const play = h("button", { type: "button", class: "main", id: "play", onclick: () => (player.playing ? player.stop() : start()) }, "Play");
const slider = h("input", { type: "range", id: "scrub", min: 0, max: 0, step: 1, value: 0, "aria-label": "Frame" });
const speed = h("select", { "aria-label": "Rate" });
const words = h("p", { role: "status", id: "clip-said" });
const rates = h("p", { id: "clip-rate" });

function start() { player.reset(); player.play(); }

slider.addEventListener("input", () => {
  player.stop();
  if (stage.compare.show !== "clip") look({ show: "clip", way: "one" });
  player.show(Number(slider.value));
});
speed.addEventListener("change", () => { player.speed = Number(speed.value); });

function told() {
  const { about } = player;
  const none = !bench.state?.clips?.length;
  words.textContent = none
    ? "No clip yet: start the bench with --clip, or drop one on the page (.mov, .mp4)."
    : about.state === "none" ? "Some five seconds are read and held in memory."
    : about.fault && !about.count ? about.fault
    : `${about.name}: ${player.ready} of ${about.state === "reading" ? `${about.most} at most, reading` : about.count} frames from ${about.first} s, ${about.width} \u00d7 ${about.height} of ${about.of?.join(" \u00d7 ")}${about.notes?.length ? `; ${about.notes.join("; ")}` : ""}.`;
  const at = player.ready ? `Frame ${player.at + 1}, ${(about.first + player.at / about.rate).toFixed(2)} s. ` : "";
  const seen = player.seen;
  rates.textContent = player.ready
    ? `${at}Stated ${rate(player.rate)} frames a second${player.playing && seen ? `; shown ${rate(seen)}, ${player.dropped} dropped since it began${stage.coarse > 1 ? ", every second pixel" : ""}` : player.dropped ? `; ${player.dropped} were dropped when it last played` : ""}.`
    : "";
  slider.max = String(Math.max(0, player.ready - 1));
  for (const item of [play, slider, speed]) item.disabled = !player.ready;
  for (const item of [which, first, read]) item.disabled = none;
  play.textContent = player.playing ? "Pause" : "Play";
}
const rate = (v) => String(Number(v.toFixed(2)));

function clips(state) {
  const chosen = which.value;
  which.replaceChildren(...(state.clips ?? []).map((name, i) => h("option", { value: String(i) }, name)));
  if (chosen) which.value = chosen;
  told();
}

for (const share of RATES) speed.append(h("option", { value: String(share) }, share === 1 ? "its own rate" : `${share} of it`));
panels.add({ id: "clip-panel", title: "Clip", order: 60, width: 320, grow: 1, open: false, fill: (into) => into.append(
  h("div", { class: "line" }, which, h("label", {}, "from ", first, " s"), read),
  h("div", { class: "line" }, play, slider, speed), rates, words,
) });
keys.add(
  { keys: [" "], words: "play the clip, or stop it", group: "Clip", act: (event) => { if (player.ready && !/** @type {Element} */ (event.target).matches("button, input, summary, [role=slider]")) { event.preventDefault(); if (player.playing) player.stop(); else start(); } } },
  { keys: ["shift+arrowright"], words: "a frame on", group: "Clip", act: () => { if (stage.compare.show === "clip") { player.stop(); player.show(player.at + 1); } } },
  { keys: ["shift+arrowleft"], words: "a frame back", group: "Clip", act: () => { if (stage.compare.show === "clip") { player.stop(); player.show(player.at - 1); } } },
);

bench.on("state", clips);
bench.on("server:clip", (about) => player.heard(about));
bench.on("clip-added", (index) => { which.value = String(index); panels.open("clip-panel"); player.open(index, 0); });
bench.on("lattice", () => { if (stage.compare.show === "clip") stage.draw(); });
bench.on("placed", () => {
  if (stage.compare.show !== "clip") player.stop();
  node("stage").classList.toggle("moving-picture", stage.compare.show === "clip"); // marks are of the still
});
