// Lattices of the look as it stands and of its plain rendering: what the picture goes through while it moves, and at once
// after an edit; and the moving picture itself.

import { Newest, binary } from "./api.js";
import { bench } from "./core.js";
import { stage } from "./stage.js";

// For tests/benchmarks/bench_page.py: "all" notes how long each picture took, "bake" leaves its drawing out.
const measuring = new URLSearchParams(location.search).get("measure");
const SLOW = 30; // ms; from there on only every second pixel is drawn in a move

class Lattices {
  /** @type {Map<string, any>} textures by side */
  #made = new Map();
  #of = new Map(); // by side: the look they are of
  #tables = new Map();
  /** @type {(() => boolean)[]} each tells whether a hand holds something that moves the look */
  hands = [];
  busy = false;
  #late = null; // of the moving look: {codes, size}, not in a texture yet
  #next = null;
  #slow = 0;
  #fine = 0;
  #wanted = null;
  #whole = new Newest(() => this.#fetchWhole());
  #preview = new Newest((changes, asked) => this.#fetchMoving(changes, asked));

  /** Whether a hand moves the look. */
  held() { return this.hands.some((holds) => holds()); }

  get(side) {
    if (side === "now" && this.#late) this.#put("now", this.#late.codes, this.#late.size);
    return this.#made.get(side) ?? null;
  }

  // -- at rest ---------------------------------------------------------------------------------------------------------

  /** The recipe is at rest: the lattices in full, the picture exactly, the measurements again. */
  async settle() {
    if (this.held()) return;
    this.#preview.drop();
    await bench.trying(() => this.#whole.ask());
  }

  async #fetchWhole() {
    for (const side of ["now", "plain"]) {
      const { looks } = bench.state;
      if (this.held()) return;
      const old = this.#of.get(side) !== looks;
      if (old) {
        const found = await binary("lattice", { side });
        if (!found || this.held()) return;
        this.#put(side, new Uint16Array(found.bytes), Number(found.headers.get("x-size")));
        this.#of.set(side, looks);
        if (side === "now") bench.tell("lattice");
      }
      if (side === "now" && (old || stage.moving)) {
        this.#slow = 0;
        clearTimeout(this.#fine);
        stage.settle();
        bench.tell("looks");
      } else if (old) stage.again();
    }
  }

  #put(side, codes, size) {
    if (side === "now") this.#late = null;
    this.#made.set(side, stage.painter.lattice(codes, size, this.#made.get(side)));
  }

  // -- under the hand --------------------------------------------------------------------------------------------------

  /** A slider is on its way to these changes. */
  move(changes) {
    bench.tell("moving", changes);
    this.#wanted = changes;
    stage.move();
    this.#preview.ask(changes, performance.now());
  }

  /** What is seen is another part of the still. */
  viewed() { if (this.#wanted && this.held()) this.#preview.ask(this.#wanted, performance.now()); }

  drop() {
    bench.tell("moving", []);
    this.#wanted = null;
    this.#preview.drop();
  }

  // One request at a time, for the newest value; drawing it does not keep the next one waiting.
  async #fetchMoving(changes, asked) {
    try {
      const sent = performance.now();
      const views = stage.regions, key = JSON.stringify(views);
      const found = await binary("preview", { changes, views, still: stage.still });
      if (!found || !stage.moving) return;
      if (key !== JSON.stringify(stage.regions)) return; // baked for what was seen before; viewed() asks again
      const one = { ...unpacked(found.bytes), asked, sent, back: performance.now() };
      setTimeout(() => this.#draw(one)); // behind the next request, which the server answers meanwhile
    } catch (fault) { bench.say(fault.message); }
  }

  // One drawing at a time, of the newest lattice: a slow machine then falls behind by one picture, never by more.
  async #draw(one) {
    if (!stage.moving) return; // it came to rest in between
    this.#next = one;
    if (this.busy) return;
    this.busy = true;
    clearTimeout(this.#fine);
    while (this.#next) {
      const { told, bytes, asked, sent, back } = this.#next;
      this.#next = null;
      const started = performance.now();
      bench.tell("told", told);
      let coarse = 1;
      if (measuring !== "bake") {
        const lattice = { codes: this.#table(bytes, told.size, told.points), size: told.size };
        this.#late = lattice;
        this.#of.delete("now");
        if (stage.moved(lattice)) {
          ({ coarse } = stage.hand);
          stage.hand.took(performance.now() - asked);
        } else coarse = await this.#byGraphics(started);
        this.#fineLater(coarse > 1 && (() => stage.moved(lattice, true) || this.#inFull()));
      }
      if (measuring) {
        const end = performance.now(), bake = told.ms;
        const detail = { wait: sent - asked, bake, way: back - sent - bake, turn: started - back, draw: end - started, size: told.size, points: told.points, coarse, levels: told.levels.length };
        performance.measure("slider-to-picture", { start: asked, end, detail });
      }
      if (!stage.moving) this.#next = null;
    }
    this.busy = false;
  }

  // WebGL draws the picture; the pixels that one of it stands for each way.
  async #byGraphics(started) {
    stage.coarse = this.#slow < 2 ? 1 : 2;
    stage.draw();
    await stage.painter.done();
    if (stage.coarse === 1) this.#slow = performance.now() - started > SLOW ? this.#slow + 1 : 0;
    return stage.coarse;
  }

  #inFull() {
    stage.coarse = 1;
    stage.draw();
  }

  // Once the hand is still, even if it holds on.
  #fineLater(does) {
    clearTimeout(this.#fine);
    if (does) this.#fine = setTimeout(() => { if (stage.moving) does(); }, 150);
  }

  // All points of a lattice; of one baked for a view the places come first, and points that it does not read stay as they were.
  #table(bytes, size, points) {
    if (points === size ** 3) return new Uint16Array(bytes);
    const places = new Uint32Array(bytes, 0, points), codes = new Uint16Array(bytes, 4 * points);
    if (!this.#tables.has(size)) this.#tables.set(size, new Uint16Array(3 * size ** 3));
    const whole = this.#tables.get(size);
    for (let i = 0; i < points; i += 1) {
      const to = 3 * places[i], from = 3 * i;
      whole[to] = codes[from];
      whole[to + 1] = codes[from + 1];
      whole[to + 2] = codes[from + 2];
    }
    return whole;
  }
}

// An answer that tells something and carries bytes: the length of its JSON (4 bytes), the JSON, the bytes.
function unpacked(bytes) {
  const length = new DataView(bytes).getUint32(0, true);
  const told = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  return { told, bytes: bytes.slice(4 + length) };
}

export const lattices = new Lattices();
bench.on("viewed", () => lattices.viewed());
