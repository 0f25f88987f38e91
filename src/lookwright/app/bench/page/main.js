// The bench: what the hand does, what the server says, and the picture between them. Each part stands in its own file and
// puts itself in its place: shows.js (what is shown), layers.js (what lies over it), tools.js (what the pointer does),
// panels.js (what stands under the picture), keys.js.

import { get, listen } from "./api.js";
import { bench } from "./core.js";
import { ask, close } from "./dialog.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { lattices } from "./lattices.js";
import { ended, offerUnsaved } from "./saving.js";
import { stage } from "./stage.js";
import { strip } from "./strip.js";
import { marks } from "./marks.js";
import { fillLists } from "./compare.js";
import "./hand.js";
import "./recipe.js";
import "./notes.js";
import "./mark-table.js";
import "./versions.js";
import "./tune.js";
import "./deliver.js";
import "./exposure.js";
import "./probe.js";
import "./scopes.js";
import "./warnings.js";
import "./findings.js";
import "./acting.js";
import "./pick.js";
import "./grey.js";
import "./level.js";
import "./way.js";
import "./many.js";
import "./drop.js";
import "./clip.js";
import "./room.js";

let warned = false;

async function open(index) {
  await bench.trying(async () => {
    strip.waiting(index, true);
    try {
      const about = await stage.open(index);
      if (!about) return; // another was asked for meanwhile
      strip.choose(index);
      marks.open(index, about);
      sessionStorage.setItem("still", String(index));
      if (about.doubts.length) bench.say(`Doubt about ${bench.state.stills[index].name}: ${about.doubts[0]}.`);
      bench.tell("still", index, about);
    } finally {
      strip.waiting(index, false);
    }
  });
}
strip.opened = open;
bench.openStill = open;

bench.on("state", (next, old) => {
  if (next.not_kept && !warned) { warned = true; bench.say(`What is not saved cannot be kept: ${next.not_kept}`); }
  atWork(next.job);
  const same = old && old.looks === next.looks;
  if (old && !same) stage.move();
  if (old && (!same || stage.moving)) lattices.settle();
});
bench.on("shows", fillLists);

// It comes as news and within states, and either may be overtaken.
function atWork(job) {
  if (!bench.job || job.count >= bench.job.count) bench.job = job;
  bench.tell("job");
}

function heard(topic, content) {
  if (topic === "revision" && bench.state && content > bench.state.revision && !lattices.held()) bench.later(() => bench.refresh());
  if (topic === "state") bench.later(() => bench.refresh());
  if (topic === "job") atWork(content);
  bench.tell(`server:${topic}`, content);
}

keys.add(
  { keys: ["]"], words: "the next still", group: "Stills", act: () => open(Math.min(bench.state.stills.length - 1, stage.still + 1)) },
  { keys: ["["], words: "the still before", group: "Stills", act: () => open(Math.max(0, stage.still - 1)) },
  { keys: ["?"], words: "this list", group: "The page", act: () => help() },
);

function help() {
  const groups = new Map();
  for (const { keys: several, words, group } of keys.list) {
    if (!groups.has(group)) groups.set(group, []);
    groups.get(group).push(h("dt", {}, h("kbd", {}, several[0])), h("dd", {}, words));
  }
  const more = h("p", {}, "On a ruler: arrows a hundredth of it, with Shift a thousandth, Page keys a tenth, Delete where it does nothing. On a mark: arrows move it, with Shift size it, Delete takes it out, Page keys go to the next. On a step's name: Alt and arrows move the step. On the picture: wheel or two fingers for size, drag or arrows to move.");
  ask("Keys", [...[...groups].flatMap(([group, list]) => [h("h3", {}, group), h("dl", {}, ...list)]), more], { Close: close });
}
node("help").addEventListener("click", help);

async function start() {
  try {
    bench.take(await get("state"));
  } catch (fault) {
    node("about").textContent = fault.message;
    return;
  }
  strip.fill(bench.state.stills);
  stage.resize();
  const last = Number(sessionStorage.getItem("still") || 0);
  await Promise.all([open(last < bench.state.stills.length ? last : 0), lattices.settle()]);
  document.body.dataset.ready = "true";
  offerUnsaved(() => open(stage.still));
  listen(heard, (text) => {
    if (!text) ended();
    else bench.say(text, true);
  });
}

start();
