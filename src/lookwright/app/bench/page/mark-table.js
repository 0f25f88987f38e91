// The panel of marks: name, part, level now and wanted, and the light behind it.

import { bench } from "./core.js";
import { h, node, shown, typed } from "./dom.js";
import { markInMiddle, marks, stops } from "./marks.js";
import { panels } from "./panels.js";

const ROLES = ["", "skin", "grey", "white", "black", "ambient", "key", "fill", "lamp", "silhouette", "wall", "sky", "highlight", "shade"];
let rows = null;
let drawn = null; // the list as the table shows it

panels.add({
  id: "marks", title: "Marks", order: 20, width: 340, grow: 1, large: true,
  fill: (body, head) => {
    head.insertBefore(h("button", { type: "button", title: "A mark in the middle of what is seen, for arrow keys", onclick: markInMiddle }, "Add"), head.children[1] ?? null);
    const column = (text, kind = "") => h("th", { scope: "col", class: kind }, text);
    rows = h("tbody", { id: "mark-rows" });
    body.append(h("table", {}, h("thead", {}, h("tr", {}, column("name"), column("part"), column("level", "n"), column("wanted", "n"), column("stops", "n"), h("td", {}))), rows));
  },
});

function row(mark, i) {
  const name = h("input", { type: "text", value: mark.name, maxLength: 80, "aria-label": `Name of mark ${i + 1}` });
  name.addEventListener("change", () => {
    const text = name.value.trim();
    if (!text || marks.list.some((m) => m !== mark && m.name === text)) {
      name.value = mark.name;
      bench.say(text ? "Another mark has this name." : "A mark needs a name.");
      return;
    }
    mark.name = text;
    marks.changed();
  });
  const roles = mark.role && !ROLES.includes(mark.role) ? [...ROLES, mark.role] : ROLES;
  const role = h("select", { "aria-label": `Part that ${mark.name} plays` }, ...roles.map((r) => h("option", { value: r }, r || "\u2013")));
  role.value = mark.role || "";
  role.addEventListener("change", () => { mark.role = role.value; marks.changed(); });
  const wanted = h("input", { type: "text", inputmode: "decimal", value: level(mark), "aria-label": `Level wanted at ${mark.name}, percent` });
  wanted.addEventListener("change", () => {
    const value = wanted.value.trim() === "" ? null : typed(wanted.value);
    if (value !== null && !(value >= 0 && value <= 100)) {
      wanted.value = level(mark);
      bench.say("A level is 0 to 100 percent.");
      return;
    }
    mark.level = value;
    marks.changed();
  });
  const out = h("button", { type: "button", "aria-label": `Take ${mark.name} out`, title: "Take it out", onclick: () => marks.remove(mark) }, "×");
  const first = h("td", {}, h("div", {}, h("span", { class: "number" }, `${i + 1}`), name));
  const made = h("tr", {}, first, h("td", {}, role), h("td", { class: "n level" }), h("td", { class: "n" }, wanted), h("td", { class: "n stops" }), h("td", {}, out));
  made.addEventListener("pointerdown", () => marks.choose(mark));
  made.addEventListener("focusin", () => marks.choose(mark));
  return made;
}

// The same text again would be laid out again.
function put(cell, text) { if (cell.textContent !== text) cell.textContent = text; }

const level = (mark) => (mark.level === null || mark.level === undefined ? "" : shown(mark.level));

function figures() {
  marks.list.forEach((mark, i) => {
    const m = marks.measured.get(mark.name), line = rows.children[i];
    if (!line) return;
    put(line.querySelector(".level"), m ? `${m.level.toFixed(1)} %` : "");
    put(line.querySelector(".stops"), m ? stops(m) : "");
    if (!m?.moving) line.title = m ? `${mark.name}: middle 90 % of it from ${m.low.toFixed(1)} to ${m.high.toFixed(1)} %; red ${m.rgb[0].toFixed(1)}, green ${m.rgb[1].toFixed(1)}, blue ${m.rgb[2].toFixed(1)} %` : "";
    line.classList.toggle("chosen", marks.chosen === mark);
    if (marks.chosen === mark && chosen !== mark) line.scrollIntoView({ block: "nearest" });
  });
  chosen = marks.chosen;
}
let chosen = null;

marks.hear.push(() => {
  const now = JSON.stringify(marks.list.map(({ name, role, level: wanted }) => [name, role, wanted]));
  if (now !== drawn || rows.children.length !== marks.list.length) {
    const at = /** @type {HTMLElement} */ (document.activeElement);
    const place = rows.contains(at) ? [[...rows.children].indexOf(at.closest("tr")), [...at.closest("tr").querySelectorAll("input, select, button")].indexOf(at)] : null;
    drawn = now;
    rows.replaceChildren(...marks.list.map(row));
    if (place) /** @type {HTMLElement} */ (rows.children[place[0]]?.querySelectorAll("input, select, button")[place[1]])?.focus();
  }
  figures();
});
bench.on("state", () => node("marks")?.classList.toggle("unsaved", Boolean(bench.state.marks_dirty)));
