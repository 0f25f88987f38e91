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
  #next = null;
  #slow = 0;
  #fine = 0;
  #wanted = null;
  #whole = new Newest(() => this.#fetchWhole());
  #preview = new Newest((changes, asked) => this.#fetchMoving(changes, asked));

  /** Whether a hand moves the look. */
  held() { return this.hands.some((holds) => holds()); }

  get(side) { return this.#made.get(side) ?? null; }

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

  #put(side, codes, size) { this.#made.set(side, stage.painter.lattice(codes, size, this.#made.get(side))); }

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
      this.#draw({ ...unpacked(found.bytes), asked, sent, back: performance.now() });
    } catch (fault) { bench.say(fault.message); }
  }

  // One drawing at a time, of the newest lattice: a slow machine then falls behind by one picture, never by more.
  async #draw(one) {
    this.#next = one;
    if (this.busy) return;
    this.busy = true;
    clearTimeout(this.#fine);
    while (this.#next) {
      const { told, bytes, asked, sent, back } = this.#next;
      this.#next = null;
      const started = performance.now();
      bench.tell("told", told);
      if (measuring !== "bake") {
        stage.coarse = this.#slow < 2 ? 1 : 2;
        this.#put("now", this.#table(bytes, told.size, told.points), told.size);
        this.#of.delete("now");
        stage.draw();
        await stage.painter.done();
        if (stage.coarse === 1) this.#slow = performance.now() - started > SLOW ? this.#slow + 1 : 0;
      }
      if (measuring) {
        const end = performance.now(), bake = told.ms;
        const detail = { wait: sent - asked, bake, way: back - sent - bake, turn: started - back, draw: end - started, size: told.size, points: told.points, coarse: stage.coarse, levels: told.levels.length };
        performance.measure("slider-to-picture", { start: asked, end, detail });
      }
      if (!stage.moving) this.#next = null;
    }
    this.busy = false;
    if (stage.coarse > 1) this.#fine = setTimeout(() => { stage.coarse = 1; stage.draw(); }, 150); // the hand is still
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
