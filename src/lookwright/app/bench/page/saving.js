// Saving the recipe and its marks, and what else became of their files.

import { post } from "./api.js";
import { bench } from "./core.js";
import { ask, close } from "./dialog.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";

/** The look, and the marks where they were changed; whether both are on the disk. */
export async function save(overwrite = false) {
  const { state } = bench;
  if (state.dirty || state.changed_on_disk) {
    const answer = await bench.trying(() => post("save", { overwrite }));
    if (!answer) return false;
    bench.take(answer.state);
    if (!answer.saved) { onDisk(); return false; }
  }
  return saveMarks();
}

async function saveMarks(overwrite = false) {
  const { state } = bench;
  if (!state.marks_dirty || !state.marks_file) return true;
  const answer = await bench.trying(() => post("marks/save", { overwrite }));
  if (!answer) return false;
  bench.take(answer.state);
  if (answer.saved) return true;
  ask(`${state.marks_file} was changed elsewhere`, "Something else wrote the file since it was read here. Marks of stills that were not touched here stay as the file has them; those of the others would become what is drawn here.", {
    "Neither, now": close,
    "Write mine into it": async () => { close(); await saveMarks(true); },
  });
  return false;
}

function onDisk() {
  ask(`${bench.state.file} was changed elsewhere`, "Something else wrote the file since it was opened here. Which text should hold? The other one stays within reach: this one by undo, the file's not.", {
    "Neither, now": close,
    "Read the file again": async () => { close(); await bench.trying(async () => bench.take(await post("reload", {}))); },
    "Write mine over it": async () => { close(); await save(true); },
  });
}

const unsaved = (state) => state.dirty || (state.marks_dirty && Boolean(state.marks_file));

bench.on("state", (state) => {
  const { undo, redo } = state;
  node("undo").disabled = !undo;
  node("undo").title = undo ? `Undo: ${undo} (Ctrl Z)` : "";
  node("redo").disabled = !redo;
  node("redo").title = redo ? `Do again: ${redo} (Ctrl Shift Z)` : "";
  const what = [state.dirty ? state.file : "", state.marks_dirty && state.marks_file ? state.marks_file : ""].filter(Boolean).join(" and ");
  node("save").textContent = unsaved(state) ? "Save" : "Saved";
  node("save").title = what ? `Write ${what} (Ctrl S)` : "";
  node("save").disabled = !unsaved(state) && !state.changed_on_disk;
  document.title = `${unsaved(state) ? "* " : ""}${state.title || state.file} \u2013 lookwright bench`;
});
node("save").addEventListener("click", () => save());
keys.add({ keys: ["ctrl+s"], words: "save the recipe and its marks", group: "The recipe", typing: true, act: () => { const at = /** @type {any} */ (document.activeElement); at?.blur?.(); at?.focus?.(); bench.later(() => save()); } });
window.addEventListener("beforeunload", (event) => { if (bench.state && unsaved(bench.state)) event.preventDefault(); });

bench.on("server:disk", (content) => {
  if (!bench.state) return;
  bench.take({ ...bench.state, changed_on_disk: content.changed });
  if (content.changed) bench.say(`${bench.state.file} was changed by something else. Saving will ask which text should hold.`);
});

/** Work of an earlier session that was not saved. */
export function offerUnsaved(reopened) {
  const { state } = bench;
  if (!state.unsaved.length) return;
  const answer = (what) => async () => { close(); await bench.edit("unsaved", { do: what }); if (what === "take") reopened(); };
  ask("Unsaved work", `An earlier session ended before its work was saved. It is kept in ${state.unsaved.join(" and ")}. Taken up, it can be undone and is saved when you say so.`, {
    "Take it up": answer("take"),
    "Not now": answer("later"),
    "Throw it away": answer("drop"),
  });
}

/** The server is gone: its last text is still here. */
export function ended() {
  const { state } = bench;
  document.body.dataset.ended = "true";
  const text = h("textarea", { readOnly: true, rows: 14, cols: 60, "aria-label": "The recipe as it stands", spellcheck: false });
  text.value = state.text;
  const words = !state.dirty
    ? "The bench was ended. The recipe is saved as it stands below."
    : state.not_kept
      ? "The bench was ended, and the recipe below was not saved: copy it."
      : "The bench was ended. The recipe below was not saved; it is kept on the disk as well, and offered at the next start.";
  const copy = async () => {
    text.select();
    try { await navigator.clipboard.writeText(text.value); } catch { document.execCommand("copy"); }
  };
  ask("The bench has ended", [h("p", {}, words), text], { "Copy the recipe": copy, Close: close });
}
