// Files dropped on the page, or chosen: copies go to this machine's own server, which reads them and keeps them for as long
// as it runs. Stills join the strip, clips the player.

import { upload } from "./api.js";
import { bench } from "./core.js";
import { h, node } from "./dom.js";
import { refilter, stripTools } from "./many.js";
import { strip } from "./strip.js";

const MOST = 256_000_000; // bytes of one file; the server holds to it too

const veil = h("div", { id: "drop-veil", hidden: true }, h("p", {}, "Drop stills or clips: they are copied for this session only"));
document.body.append(veil);
const picker = h("input", { type: "file", multiple: true, hidden: true, id: "drop-files", "aria-label": "Stills or clips to add" });
picker.addEventListener("change", () => { take([...picker.files]); picker.value = ""; });
stripTools.append(h("button", { type: "button", id: "add-stills", title: "Add stills or clips from this machine, for this session", onclick: () => picker.click() }, "Add\u2026"), picker);

const files = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
let over = 0;
window.addEventListener("dragenter", (event) => { if (files(event)) { over += 1; veil.hidden = false; } });
window.addEventListener("dragleave", (event) => { if (files(event)) { over -= 1; veil.hidden = over > 0; } });
window.addEventListener("dragover", (event) => { if (files(event)) event.preventDefault(); });
window.addEventListener("drop", (event) => {
  if (!files(event)) return;
  event.preventDefault();
  over = 0;
  veil.hidden = true;
  take([...event.dataTransfer.files]);
});

async function take(several) {
  let last = -1;
  const refused = [];
  for (const [i, file] of several.entries()) {
    if (file.size > MOST) { refused.push(`${file.name} is larger than ${MOST / 1e6} MB`); continue; }
    bench.say(`Copying ${i + 1} of ${several.length}: ${file.name}`, true);
    try {
      const answer = await upload("drop", file);
      bench.take(answer.state);
      if (answer.still !== undefined) last = answer.still;
      if (answer.clip !== undefined) bench.tell("clip-added", answer.clip);
    } catch (fault) { refused.push(fault.message); }
  }
  node("message").hidden = true;
  if (refused.length) bench.say(refused.join("; "), true);
  if (last >= 0) strip.opened(last);
}

// The strip follows the list, also where another window added to it.
bench.on("state", (state, old) => {
  if (old && old.stills.length === state.stills.length) return;
  if (old) strip.fill(state.stills);
  refilter();
});
bench.on("server:stills", (total) => { if (bench.state && bench.state.stills.length !== total) bench.later(() => bench.refresh()); });
