// Tuning: on the sheet beside the steps, which can be worked on meanwhile. What it proposes is seen on the picture before
// it is taken, and can be taken in part.

import { post } from "./api.js";
import { bench } from "./core.js";
import { look } from "./compare.js";
import { capital, h, node, shown, typed } from "./dom.js";
import { keys } from "./keys.js";
import { ofServer, shows } from "./shows.js";
import { stage } from "./stage.js";

const box = node("tuning");
let open = false;
let told = "";
let trace = []; // [seconds, distance] of the tuning at work
let since = 0; // when the tuning at work began
const PARTS = [["reading", "reading the stills"], ["solving", "moving the numbers"], ["finding", "what cannot be met together"]]; // as the job tells them
const goals = { levels: true, reference: true, apart: false, degrees: "150" };

const send = (path, body) => bench.trying(() => post(path, body));
const button = (label, act, kind = "") => h("button", { type: "button", class: kind, onclick: act }, label);

function toggle(on = !open) {
  open = on;
  box.hidden = !on;
  document.body.classList.toggle("tuning", on);
  node("tune").setAttribute("aria-expanded", String(on));
  told = "";
  show();
  if (on) { box.scrollIntoView({ block: "nearest" }); /** @type {HTMLElement} */ (box.querySelector("input, button"))?.focus(); }
}

const job = () => (bench.job?.kind === "tune" ? bench.job : { state: "none" });

function show() {
  propose();
  const now = job();
  if (now.state === "working") note(now);
  else trace = [];
  if (!open) return;
  const news = JSON.stringify([bench.job?.state, bench.job?.kind, now.result, now.standing, now.fault, bench.state?.references]);
  if (news === told) { progress(now); return; }
  told = news;
  const focused = box.contains(document.activeElement) ? document.activeElement?.id : "";
  if (bench.job?.state === "working" && bench.job.kind !== "tune") fill("Tune", [h("p", {}, "A delivery is at work: wait for it, or stop it.")], [button("Stop it", () => send("job/stop"))]);
  else if (now.state === "working") working(now);
  else if (now.state === "failed") fill("Tune", [h("p", { role: "alert" }, now.fault)], [button("Start again", () => send("job/clear"), "main")]);
  else if (now.state === "stopped") fill("Tune", [h("p", {}, "Stopped. The recipe is as it was.")], [button("Start again", () => send("job/clear"), "main")]);
  else if (now.state === "done") tuned(now);
  else start();
  if (focused) document.getElementById(focused)?.focus();
}

function fill(head, content, buttons) {
  const close = button("Close", () => { toggle(false); node("tune").focus(); });
  box.replaceChildren(h("h2", { id: "tuning-head" }, head), ...content, h("div", { class: "acts" }, ...buttons, close));
}

// -- asking ------------------------------------------------------------------------------------------------------------

function start() {
  const { references } = bench.state;
  const tick = (id, label, name, able = true) => {
    const input = h("input", { type: "checkbox", id, checked: goals[name] && able, disabled: !able, onchange: () => { goals[name] = input.checked; judge(); } });
    return h("p", { class: "choice" }, input, h("label", { htmlFor: id }, label));
  };
  const apart = tick("goal-apart", "Warm and cool parts at least so many degrees apart", "apart");
  const degrees = h("input", { type: "text", inputmode: "decimal", value: goals.degrees, "aria-label": "Degrees apart", oninput: () => judge(), onchange: () => { goals.degrees = degrees.value; judge(); } });
  const wrong = h("p", { id: "degrees-wrong", class: "wrong", role: "alert", hidden: true });
  degrees.setAttribute("aria-describedby", "degrees-wrong");
  apart.append(degrees, wrong);
  // What is no angle is said beside it, and nothing is begun with it.
  const judge = () => {
    const value = typed(degrees.value), right = !goals.apart || (value >= 0 && value <= 180);
    if (right) degrees.removeAttribute("aria-invalid");
    else degrees.setAttribute("aria-invalid", "true");
    const words = right ? "" : `\u201c${degrees.value.trim()}\u201d is no angle: a number from 0 to 180.`;
    if (wrong.textContent !== words) wrong.textContent = words;
    wrong.hidden = right;
    return right;
  };
  const reference = tick("goal-reference", references.length ? `Be like ${references.join(", ")}` : "Be like a finished picture (start the bench with --reference)", "reference", references.length > 0);
  const see = references.length ? [h("p", {}, button("See the reference beside", () => look({ against: "reference:0", way: "beside" })))] : [];
  const go = () => {
    if (!judge()) { degrees.focus(); return; }
    send("tune", { levels: goals.levels, reference: goals.reference && references.length > 0, separation: goals.apart ? typed(degrees.value) : null });
  };
  const words = "Moves the numbers that are free, within their usual ranges and restraint; lock what it must leave alone. You can go on working meanwhile; the recipe changes only when you take what it proposes.";
  fill("Tune", [h("p", {}, words), tick("goal-levels", "Levels wanted at the marks", "levels"), reference, ...see, apart], [button("Start", go, "main")]);
}

// -- at work -----------------------------------------------------------------------------------------------------------

function note({ cost, seconds }) {
  if (!(cost > 0)) return;
  const last = trace[trace.length - 1];
  if (last && last[0] >= seconds) return;
  trace.push([seconds, cost]);
  if (trace.length > 400) trace = trace.filter((_, i) => i % 2 === 0 || i === trace.length - 1);
}

function working(now) {
  const canvas = h("canvas", { role: "img", "aria-label": "How the distance from the goals falls" });
  const parts = h("ol", { class: "parts" }, ...PARTS.map(([, words]) => h("li", {}, words)));
  fill("Tuning", [parts, h("p", { id: "tuning-says", role: "status" }), h("p", { id: "tuning-time", "aria-live": "off" }), canvas], [button("Stop", () => send("job/stop"))]);
  progress(now);
}

// The seconds go on between two pieces of news.
setInterval(() => {
  const time = document.getElementById("tuning-time");
  if (time && since) time.textContent = `${Math.round((performance.now() - since) / 1000)} s so far; on two cores often one to three minutes.`;
}, 1000);

function progress({ state, progress: doing, cost, seconds }) {
  const says = document.getElementById("tuning-says");
  if (state !== "working" || !says) return;
  const far = cost > 0 ? ` Distance from the goals ${shown(Number(cost.toPrecision(3)))}; it rises for a while where restraint is tightened.` : "";
  const text = `${capital(doing)}.${far}`;
  if (says.textContent !== text) says.textContent = text;
  since = performance.now() - 1000 * seconds;
  const at = PARTS.findIndex(([begins]) => doing.startsWith(begins));
  [...box.querySelectorAll(".parts li")].forEach((part, i) => part.classList.toggle("now", i === at));
  const canvas = box.querySelector("canvas");
  const pen = canvas.getContext("2d");
  const ratio = window.devicePixelRatio || 1;
  const w = canvas.width = Math.round(canvas.clientWidth * ratio), tall = canvas.height = Math.round(canvas.clientHeight * ratio);
  if (trace.length < 2) return;
  const most = Math.max(...trace.map(([, d]) => d)), end = trace[trace.length - 1][0] || 1;
  pen.strokeStyle = "#e6e6e6";
  pen.lineWidth = ratio;
  pen.beginPath();
  trace.forEach(([t, d], i) => pen[i ? "lineTo" : "moveTo"]((t / end) * (w - 2) + 1, tall - 2 - (d / most) * (tall - 6)));
  pen.stroke();
}

// -- proposed ----------------------------------------------------------------------------------------------------------

function propose() {
  const now = job();
  const there = now.state === "done" && now.result.changes.length > 0;
  const group = "Tuning";
  const had = Boolean(shows.get("proposal"));
  if (there !== had) {
    shows.replace(group, there ? [{ id: "proposal", label: "what tuning proposes", group, stamp: () => `${bench.job?.choices} ${bench.state.looks}`, fetch: ofServer("proposal") }] : []);
    if (!there && [stage.compare.show, stage.compare.against].includes("proposal")) look({ show: "now", against: "plain", way: "one" });
    bench.tell("shows");
  } else if (there) stage.again();
}

function tuned({ result, standing, chosen }) {
  const list = (items) => h("ul", {}, ...items.map((t) => h("li", {}, t)));
  const table = (head, rows) => h("table", {}, h("thead", {}, h("tr", {}, ...head.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, ...rows));
  const ticks = result.changes.map(({ name, index, before, after, unit }, i) => {
    const gone = standing[i] === "gone";
    const input = h("input", { type: "checkbox", id: `tuned-${i}`, checked: chosen.includes(i) && !gone, disabled: gone });
    input.addEventListener("change", () => choose(ticks.flatMap((t, j) => (t.input.checked ? [j] : []))));
    const note = { edited: ", edited since", gone: ", its step is gone" }[standing[i]] ?? "";
    const called = name.slice(name.indexOf(" ") + 1).replaceAll(".", " ");
    const label = h("label", { htmlFor: input.id }, `${called}${unit && !called.endsWith(unit) ? `, ${unit}` : ""}${note}`);
    return { input, index, kind: name.split(" ")[0], row: h("tr", {}, h("td", {}, input, label), h("td", {}, shown(before)), h("td", {}, shown(after))) };
  });
  const choose = async (which) => {
    const state = await send("tune/choose", { chosen: which });
    if (state) bench.take(state);
  };
  // The numbers of one step under its name, which takes or leaves them together.
  const stepped = ticks.flatMap((tick, i) => {
    if (i && ticks[i - 1].index === tick.index) return [tick.row];
    const own = ticks.filter((t) => t.index === tick.index && !t.input.disabled);
    const taken = own.filter((t) => t.input.checked).length;
    const all = h("input", { type: "checkbox", id: `tuned-step-${tick.index}`, checked: taken > 0, indeterminate: taken > 0 && taken < own.length, disabled: !own.length });
    all.addEventListener("change", () => {
      for (const t of own) t.input.checked = all.checked;
      choose(ticks.flatMap((t, j) => (t.input.checked ? [j] : [])));
    });
    return [h("tr", { class: "step" }, h("td", { colSpan: 3 }, all, h("label", { htmlFor: all.id }, `${tick.index + 1}. ${tick.kind}`))), tick.row];
  });
  // "still: mark" of several stills: the still once, above its marks.
  let still = "";
  const target = (t) => {
    const [mark, of = ""] = t.name.split(": ").reverse();
    const head = of && of !== still ? [h("tr", {}, h("td", { colSpan: 5, class: "still" }, of))] : [];
    still = of;
    return [...head, h("tr", { class: t.met ? "" : "not" }, ...[mark, t.before, t.after, t.wanted, t.met ? "yes" : "no"].map((text) => h("td", {}, text)))];
  };
  const levels = result.targets.length ? [h("h3", {}, "Levels, % of signal"), table(["mark", "was", "would be", "wanted", "met"], result.targets.flatMap(target))] : [];
  const moves = ticks.length ? [h("h3", {}, "What would change"), table(["number", "from", "to"], stepped)] : [h("p", {}, "Nothing moved.")];
  const remarks = result.remarks.length ? [h("h3", {}, "To know"), list(result.remarks)] : [];
  const take = async () => {
    const state = await send("tune/take");
    if (!state) return;
    look({ show: "now" });
    bench.take(state);
    toggle(false);
  };
  const leave = async () => { await send("job/clear"); toggle(false); };
  const see = (way) => look({ show: "proposal", against: "now", way });
  const seeing = ticks.length ? [h("p", { class: "acts" }, button("See it", () => see("one")), button("Wipe with now", () => see("wipe")), button("Beside now", () => see("beside")))] : [];
  const acts = ticks.length ? [button("Take it", take, "main"), button("Leave it", leave)] : [button("Leave it", leave)];
  fill("Proposed", [list(result.outcome), ...seeing, ...levels, ...moves, ...remarks], acts);
}

node("tune").addEventListener("click", () => toggle());
keys.add({ keys: ["t"], words: "tune", group: "The recipe", act: () => toggle() });
bench.on("job", show);
bench.on("state", show);
