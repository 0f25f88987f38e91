// What the look does, in order of harm: sentences, each with a sign that does not need colour.

import { h } from "./slider.js";

const SIGNS = { fail: ["\u25cf", "fails"], watch: ["\u25d0", "watch"], ok: ["\u25cb", "fine"] };

export class Notes {
  constructor(summary, list) {
    this.summary = summary;
    this.list = list;
  }

  waiting() { this.list.classList.add("old"); }

  update(report) {
    this.list.classList.remove("old");
    this.summary.textContent = report.fault || `${report.summary[0].toUpperCase()}${report.summary.slice(1)}.`;
    const items = report.findings.map((f) => {
      const [sign, word] = SIGNS[f.state];
      const item = h("li", { class: f.state, title: f.reason }, h("span", { class: "sign", "aria-hidden": "true" }, sign));
      item.append(h("span", {}, h("b", {}, `${f.title}, ${word}`), f.state === "ok" ? "" : ` ${f.sentence}`));
      if (f.state === "ok") item.title = `${f.sentence} ${f.reason}.`;
      return item;
    });
    const gained = (report.separation || []).filter((s) => s.before || s.after);
    if (gained.length) {
      const mean = gained.reduce((sum, s) => sum + s.after - s.before, 0) / gained.length;
      const words = `Warm and cool parts of the stills lie ${Math.abs(mean).toFixed(1)} ${mean >= 0 ? "further apart" : "nearer together"} than plainly rendered`;
      items.unshift(h("li", { class: "gain", title: "Distance in Oklab times 100, mean of the stills" }, h("span", { class: "sign", "aria-hidden": "true" }, "\u2194"), h("span", {}, `${words}.`)));
    }
    // What a person reads first: doubts about the stills, the verdict, what the look does.
    const words = (text, kind) => h("li", { class: kind }, h("span", { class: "sign", "aria-hidden": "true" }, ""), h("span", {}, text));
    const first = (report.doubts || []).map((text) => words(`Doubt: ${text}.`, "doubt"));
    first.push(...(report.verdict || []).map((text) => words(text, "said")));
    if (report.effect) first.push(words(report.effect, "said"));
    this.list.replaceChildren(...first, ...items);
  }
}
