// What the look does, in order of harm: sentences, each with a sign that does not need colour.

import { bench } from "./core.js";
import { capital, h } from "./dom.js";
import { panels } from "./panels.js";
import { lattices } from "./lattices.js";

const SIGNS = { fail: ["\u25cf", "fails"], watch: ["\u25d0", "watch"], ok: ["\u25cb", "fine"] };

let summary = null;
let list = null;
let due = 0; // the revision that is being measured
let told = false; // whether the hand has moved the look since

panels.add({
  id: "restraint", title: "What it does", order: 10, width: 180, grow: 1.2, large: true,
  fill: (body) => {
    summary = h("p", { id: "restraint-summary", role: "status" }, "measuring");
    list = h("ul", { id: "findings", tabIndex: 0, "aria-label": "Findings" });
    body.append(summary, list);
  },
});

// What is shown is of an earlier look.
function stale(on) {
  summary.classList.toggle("old", on);
  list.classList.toggle("old", on);
}

function item(finding) {
  const [sign, word] = SIGNS[finding.state];
  const made = h("li", { class: finding.state, title: finding.reason }, h("span", { class: "sign", "aria-hidden": "true" }, sign));
  made.append(h("span", {}, h("b", {}, `${finding.title}, ${word}`), finding.state === "ok" ? "" : ` ${finding.sentence}`));
  made.dataset.title = finding.title;
  if (finding.state === "ok") made.title = `${finding.sentence} ${finding.reason}.`;
  return made;
}

function update(report, moving) {
  // A report on the recipe may come late, when the hand has long moved on.
  stale(!moving && (report.revision < due || (told && lattices.held())));
  summary.textContent = report.fault || `${moving ? "Under the hand, on this still: " : ""}${moving ? report.summary : capital(report.summary)}.`;
  const items = report.findings.map(item);
  const gained = (report.separation || []).filter((s) => s.before || s.after);
  if (gained.length) {
    const mean = gained.reduce((sum, s) => sum + s.after - s.before, 0) / gained.length;
    const words = `Warm and cool parts of the stills lie ${Math.abs(mean).toFixed(1)} ${mean >= 0 ? "further apart" : "nearer together"} than plainly rendered`;
    items.unshift(h("li", { class: "gain", title: "Distance in Oklab times 100, mean of the stills" }, h("span", { class: "sign", "aria-hidden": "true" }, "\u2194"), h("span", {}, `${words}.`)));
  }
  // What a person reads first: doubts about the stills, the verdict, what the look does.
  const words = (text, kind) => h("li", { class: kind }, h("span", { class: "sign", "aria-hidden": "true" }, kind === "doubt" ? "?" : ""), h("span", {}, text));
  const first = (report.doubts || []).map((text) => words(`Doubt: ${text}.`, "doubt"));
  first.push(...(report.unread || []).map((text) => words(`Left out: ${text}`, "doubt")));
  first.push(...(report.verdict || []).map((text) => words(text, "said")));
  if (report.effect) first.push(words(report.effect, "said"));
  list.replaceChildren(...first, ...items);
  bench.tell("restraint", report);
}

// Of the recipe; and of the look under the hand, once it let go of no more interest: on a busy machine it comes late.
bench.on("server:restraint", (report) => update(report, false));
bench.on("server:verdict", (report) => { if (lattices.held()) update(report, true); });
bench.on("server:checking", ({ revision }) => {
  due = revision;
  told = false;
  stale(true);
});
bench.on("told", () => {
  told = true;
  stale(true);
});
