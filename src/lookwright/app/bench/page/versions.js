// Versions: the recipe kept under names, everything that was done, other looks and references to compare with.

import { binary, post } from "./api.js";
import { bench } from "./core.js";
import { look } from "./compare.js";
import { ask, close } from "./dialog.js";
import { h } from "./dom.js";
import { keys } from "./keys.js";
import { panels } from "./panels.js";
import { ofServer, shows } from "./shows.js";
import { stage } from "./stage.js";

let name = null, kept = null, others = null, past = null;
let told = "";
const button = (label, act, about) => h("button", { type: "button", onclick: act, ...(about ? { "aria-label": about, title: about } : {}) }, label);
const send = async (path, body) => {
  const state = await bench.trying(() => post(path, body));
  if (state) bench.take(state);
  return state;
};

panels.add({
  id: "versions", title: "Versions", order: 40, width: 260, grow: 1.1, large: true, open: false,
  fill: (body) => {
    name = h("input", { type: "text", maxLength: 80, placeholder: "name", "aria-label": "Name of a new version" });
    name.addEventListener("keydown", (event) => { if (event.key === "Enter") keep(); });
    const file = h("input", { type: "file", accept: ".toml", hidden: true, "aria-label": "Another look" });
    file.addEventListener("change", () => opened(file));
    kept = h("ul", {});
    others = h("ul", {});
    past = h("ul", { id: "history" });
    body.append(
      h("div", { class: "acts" }, name, button("Keep a version", keep), button("Save as\u2026", saveAs), button("Open another look\u2026", () => file.click()), file),
      kept, others, h("h3", {}, "What was done"), past,
    );
  },
});

async function keep() {
  const state = await send("versions", { name: name.value });
  if (!state) return;
  bench.say(`Kept as a version${name.value ? `, \u201c${name.value}\u201d` : ""}. It lies beside the look and outlives the bench.`);
  name.value = "";
}

const against = (id) => look({ show: "now", against: id, way: stage.compare.way === "one" || stage.compare.way === "other" ? "wipe" : stage.compare.way });

function version({ id, name: called, when }) {
  const rename = () => {
    const field = h("input", { type: "text", value: called, maxLength: 80, "aria-label": "Name" });
    ask("Rename", [field], { Rename: async () => { close(); await send("version", { id, do: "rename", name: field.value }); }, Leave: close });
    field.select();
  };
  const take = () => send("version", { id, do: "take" });
  const drop = () => ask(`Take \u201c${called}\u201d out?`, "Its text is gone then; the recipe stays as it is.", { "Take it out": async () => { close(); await send("version", { id, do: "drop" }); }, Keep: close });
  const head = h("span", {}, called, " ", h("small", {}, time(when)));
  const acts = h("span", {}, button("Compare", () => against(`version:${id}`), `Compare with ${called}`), " ", button("Go back to it", take, `Go back to it: ${called}; undo brings back what is here`));
  const more = h("span", {}, button("Rename", rename, `Rename ${called}`), " ", button("×", drop, `Take ${called} out`));
  return h("li", {}, head, acts, more);
}

const time = (when) => {
  const date = new Date(when);
  return Number.isNaN(date.getTime()) ? when : date.toLocaleString(undefined, { dateStyle: "short", timeStyle: "short" });
};

async function opened(file) {
  const one = file.files[0];
  file.value = "";
  if (!one) return;
  if (one.size > 200000) { bench.say(`${one.name} is no look: it is larger than any.`); return; }
  const state = await send("guest", { name: one.name.slice(0, 80), text: await one.text() });
  const guest = state?.guests.find((g) => g.name === one.name.slice(0, 80));
  if (guest) against(`guest:${guest.id}`);
}

function saveAs() {
  const field = h("input", { type: "text", maxLength: 80, value: `${bench.state.file.replace(/\.toml$/, "")} 2`, "aria-label": "Name of the new file" });
  const write = async () => {
    const answer = await bench.trying(() => post("save-as", { name: field.value }));
    if (!answer) return;
    close();
    bench.say(`Written as ${answer.file}, beside ${bench.state.file}. The bench stays with ${bench.state.file}.`);
  };
  ask("Save as", [h("p", {}, "Writes the recipe as it stands under another name, beside the look. Nothing is written over."), field], { Write: write, Leave: close });
  field.select();
}

// -- lists -------------------------------------------------------------------------------------------------------------

function fill(state) {
  const news = JSON.stringify([state.versions, state.guests, state.references, state.history, state.place, state.versions_fault]);
  if (news === told) return;
  told = news;
  const nothing = h("li", {}, h("small", {}, state.versions_fault || "Nothing kept yet. A version holds the recipe as it is at that moment."));
  kept.replaceChildren(...(state.versions.length ? [...state.versions].reverse().map(version) : [nothing]));
  const beside = [
    ...state.guests.map((g) => [g.name, `guest:${g.id}`]),
    ...state.references.map((r, i) => [`${r} (reference)`, `reference:${i}`]),
  ];
  others.replaceChildren(...beside.map(([label, id]) => h("li", {}, h("span", {}, label), button("Compare", () => against(id), `Compare with ${label}`))));
  history(state);
  declare(state);
}

function history({ history: done, place }) {
  const first = Math.max(0, done.length - 60);
  const items = done.slice(first).map((did, i) => {
    const at = first + i;
    const one = button(did || "as it was opened", () => bench.edit("history", { place: at }));
    if (at === place) one.setAttribute("aria-current", "true");
    return h("li", { class: at > place ? "ahead" : "" }, one);
  });
  const focused = past.contains(document.activeElement);
  past.replaceChildren(...items.reverse());
  const now = /** @type {?HTMLElement} */ (past.querySelector("[aria-current]"));
  if (focused) now?.focus();
}

function declare(state) {
  shows.replace("Versions", state.versions.map((v) => ({ id: `version:${v.id}`, label: v.name, group: "Versions", stamp: () => v.id, fetch: ofServer(`version:${v.id}`) })));
  shows.replace("Other looks", state.guests.map((g) => ({ id: `guest:${g.id}`, label: g.name, group: "Other looks", stamp: () => JSON.stringify(state.guests), fetch: ofServer(`guest:${g.id}`) })));
  shows.replace("References", state.references.map((r, i) => ({
    id: `reference:${i}`, label: r, group: "References", whole: true, stamp: () => `${bench.state.output} ${stage.width} ${stage.height}`,
    fetch: async (region, painter, old) => {
      const found = await binary("reference", { index: i, width: Math.max(16, Math.min(4096, stage.width)), height: Math.max(16, Math.min(4096, stage.height)) });
      const width = Number(found.headers.get("x-width")), height = Number(found.headers.get("x-height"));
      return { kind: "flat", picture: painter.picture(found.bytes, width, height, 3, old?.picture) };
    },
  })));
  bench.tell("shows");
}

bench.on("state", fill);
keys.add({ keys: ["v"], words: "keep a version", group: "The recipe", act: () => { panels.open("versions"); name.focus(); } });
keys.add({ keys: ["ctrl+shift+s"], words: "save as", group: "The recipe", typing: true, act: saveAs });
