// A mark brought toward a level: dragged up or down on the picture, or typed. Which number of the look moves is chosen.

import { Newest, post } from "./api.js";
import { bench } from "./core.js";
import { h, node, shown, typed } from "./dom.js";
import { dragging, number } from "./dragging.js";
import { marks } from "./marks.js";
import { panels } from "./panels.js";
import { stage } from "./stage.js";
import { tools } from "./tools.js";

const PERCENT = 0.16; // of signal, a pixel of the screen: a hand's width is from black to white
let movers = [];
let held = null; // {mark, y, level, wanted}
let last = null;

const mover = h("select", { "aria-label": "What moves" });
const which = h("select", { "aria-label": "Mark" });
const field = h("input", { type: "text", inputmode: "decimal", "aria-label": "Level, percent of signal" });
const go = h("button", { type: "button", class: "main", onclick: () => bring() }, "Bring it there");
const words = h("p", { role: "status" });
const sign = h("div", { id: "level-sign", hidden: true });
node("stage").append(sign);

panels.add({ id: "level-panel", tab: "Level", title: "To a level", order: 7, width: 230, grow: 0.7, open: false, fill: (into) => {
  const line = (label, item) => h("label", { class: "line" }, h("span", {}, label), item);
  into.append(line("mark", which), line("to %", field), line("by", mover), go, words);
} });

async function refill() {
  const answer = await bench.trying(() => post("movers", {}));
  if (!answer) return;
  const chosen = mover.value;
  movers = answer.movers;
  mover.replaceChildren(...movers.map((m) => h("option", { value: JSON.stringify([m.step, m.path]) }, m.name)), ...(movers.some((m) => m.name.includes("exposure")) ? [] : [h("option", { value: "" }, "a new step, exposure")]));
  if ([...mover.options].some((o) => o.value === chosen)) mover.value = chosen;
}

function list() {
  const chosen = which.value;
  which.replaceChildren(...marks.list.map((m, i) => h("option", { value: m.name }, `${i + 1} ${m.name}`)));
  if (marks.list.some((m) => m.name === chosen)) which.value = chosen;
  if (document.activeElement !== field) offer();
  go.disabled = !marks.list.length;
}

function offer() {
  const mark = marks.list.find((m) => m.name === which.value);
  const level = mark?.level ?? marks.measured.get(mark?.name)?.level;
  field.value = level === undefined || level === null ? "" : shown(Number(level.toFixed(1)));
}
which.addEventListener("change", () => { offer(); marks.choose(marks.list.find((m) => m.name === which.value)); });

// The number that moves, made first where there is none.
async function moving() {
  if (mover.value === "") {
    await bench.edit("make", { kind: "exposure", values: [] });
    await refill();
  }
  const [step, path] = JSON.parse(mover.value || "[null, []]");
  const found = number(step, path);
  return found && { step, path, value: last && last.key === mover.value ? last.value : found.value };
}

const ask = new Newest(async (mark, wanted, done) => {
  const one = await moving();
  if (!one) return;
  const found = await bench.trying(() => post("toward", { still: stage.still, box: mark.box, do: "level", level: wanted, number: one }));
  if (!found) return;
  last = { key: mover.value, value: found.changes[0].value };
  done(found);
});

const said = (mark, found) => {
  const which_ = movers.find((m) => JSON.stringify([m.step, m.path]) === mover.value)?.name ?? "";
  words.textContent = `${mark.name}: ${found.reached.toFixed(1)} % by ${which_} ${shown(found.changes[0].value)}${found.met ? "" : "; it goes no further"}.`;
};

async function bring() {
  const mark = marks.list.find((m) => m.name === which.value);
  const wanted = typed(field.value);
  if (!mark) return;
  if (!(wanted >= 0 && wanted <= 100)) { bench.say("A level is 0 to 100 percent."); return; }
  last = null;
  await ask.ask(mark, wanted, async (found) => {
    said(mark, found);
    await bench.edit("edit", { do: "set", changes: found.changes });
  });
}
field.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); bring(); } });

function signed() {
  const { frame } = stage;
  sign.hidden = !held;
  if (!held) return;
  sign.style.setProperty("left", `${frame.x + (held.mark.box[0] + held.mark.box[2]) * frame.w + 6}px`);
  sign.style.setProperty("top", `${frame.y + held.mark.box[1] * frame.h}px`);
  sign.textContent = `${held.level.toFixed(1)} \u2192 ${held.wanted.toFixed(1)} %`;
}

tools.add({
  id: "level", label: "Level", title: "drag a mark up or down to the level it should have", key: "i",
  chosen: async (on) => {
    held = null;
    signed();
    panels.along("level-panel", on);
    if (!on) return;
    await refill();
    list();
    which.focus({ preventScroll: true });
  },
  down: (at, event) => {
    if (at.pane.still !== stage.still) return false;
    // Of several that lie over each other: the one that is chosen, one with a level wanted, the topmost.
    const under = [...marks.list].reverse().filter(({ box: [x, y, w, hh] }) => at.x >= x && at.x <= x + w && at.y >= y && at.y <= y + hh);
    const mark = under.find((m) => m === marks.chosen) ?? under.find((m) => (m.level ?? null) !== null) ?? under[0];
    const m = mark && marks.measured.get(mark.name);
    if (!m) { bench.say("Drag from inside a mark."); return false; }
    marks.choose(mark);
    which.value = mark.name;
    last = null;
    held = { mark, y: event.clientY, level: m.level, wanted: m.level };
    signed();
    return true;
  },
  move: (_, event) => {
    held.wanted = Math.min(100, Math.max(0, held.level + (held.y - event.clientY) * PERCENT));
    signed();
    const { mark } = held;
    ask.ask(mark, held.wanted, (found) => {
      if (!held) return;
      said(mark, found);
      dragging.move(found.changes);
    });
  },
  up: async () => {
    ask.drop();
    held = null;
    signed();
    if (dragging.held) await dragging.keep();
    offer();
  },
});
marks.hear.push(() => { if (tools.now?.id === "level" && !held) list(); });
bench.on("state", (state, old) => { if (tools.now?.id === "level" && old?.looks !== state.looks && !dragging.held) { last = null; refill(); } });
