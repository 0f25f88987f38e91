// A panel opened where it can be seen: the row of panels may be wider than the window.

import { node } from "./dom.js";
import { panels } from "./panels.js";

export function reveal(id) {
  panels.open(id);
  const row = node("panels"), panel = node(id);
  const from = panel.offsetLeft - row.offsetLeft;
  if (from < row.scrollLeft || from + panel.offsetWidth > row.scrollLeft + row.clientWidth) row.scrollLeft = from;
}

// The same for every panel that is opened by its name.
node("panel-names").addEventListener("click", (event) => {
  const panel = panels.list.find((p) => p.tab === event.target);
  if (panel?.isOpen) reveal(panel.id);
});
