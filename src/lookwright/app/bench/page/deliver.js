// Delivery: asked for in a dialog, made beside the page, stopped at any time.

import { post } from "./api.js";
import { bench } from "./core.js";
import { ask, close } from "./dialog.js";
import { h, node } from "./dom.js";
import { keys } from "./keys.js";
import { save } from "./saving.js";

let open = false;
let told = "";
const send = (path, body) => bench.trying(() => post(path, body));

node("ask").addEventListener("close", () => { open = false; told = ""; });

function show() {
  if (!open) return;
  const job = bench.job ?? { state: "none" };
  // News of something else must not empty a form that is being filled in.
  const news = JSON.stringify([job.kind, job.state, job.progress, job.result, job.fault]);
  if (news === told) return;
  told = news;
  const stop = { Stop: () => send("job/stop") };
  const shut = { Close: close };
  const again = { "Start again": () => send("job/clear") };
  if (job.state === "working" && job.kind !== "deliver") {
    ask("Deliver", "Tuning is at work: wait for it, or stop it.", { ...stop, ...shut });
  } else if (job.kind !== "deliver" || job.state === "none") {
    start();
  } else if (job.state === "working") {
    ask("Deliver", [h("p", { role: "status" }, job.progress), h("progress", { "aria-label": "at work" })], { ...stop, ...shut });
  } else if (job.state === "failed") {
    ask("Deliver", [h("p", { role: "alert" }, job.fault)], { ...again, ...shut });
  } else if (job.state === "stopped") {
    ask("Deliver", "Stopped. Nothing was left half-written.", { ...again, ...shut });
  } else {
    const files = h("ul", { class: "files" }, ...job.result.files.map((f) => h("li", {}, f)));
    ask("Deliver", [h("p", {}, `Delivered into ${job.result.out}:`), files], { ...shut, ...again });
  }
}

function start() {
  const { state } = bench;
  const words = `Makes the delivery folder \u201c${state.out}\u201d: the look as .cube in the usual sizes and in every other form, a sheet of the stills, the report, and a card that says what each file must be fed.`;
  const plain = h("input", { type: "checkbox", id: "plain-sampling" });
  const how = h("p", { class: "choice" }, plain, h("label", { htmlFor: "plain-sampling" }, "Sample the lattices plainly: quicker, a little less exact"));
  const unsaved = state.dirty || state.marks_dirty;
  const go = async () => {
    const body = { plain_sampling: plain.checked };
    if (!unsaved || await save()) await send("deliver", body);
  };
  const more = unsaved ? [h("p", {}, "The recipe or its marks have changes that are not saved; they are saved first.")] : [];
  ask("Deliver", [h("p", {}, words), how, ...more], { [unsaved ? "Save and deliver" : "Deliver"]: go, Close: close });
}

function deliver() {
  open = true;
  told = "";
  show();
}
node("deliver").addEventListener("click", deliver);
keys.add({ keys: ["ctrl+d"], words: "deliver", group: "The recipe", act: deliver });
bench.on("job", show);
