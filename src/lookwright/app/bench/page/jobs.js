// Tuning and delivery: asked for in a dialog, done beside the page, stopped at any time.

import { post } from "./api.js";
import { h, shown } from "./slider.js";

export class Jobs {
  constructor(dialog, { say, saveFirst, took }) {
    this.dialog = dialog;
    this.does = { say, saveFirst, took };
    dialog.addEventListener("close", () => { this.shown = ""; });
  }

  update(state) {
    this.state = state;
    this.job(state.job);
  }

  // News of the job at work.
  job(job) {
    this.now = job;
    if (this.shown === "tune" || this.shown === "deliver") this.#show(this.shown);
  }

  tune() {
    this.shown = "tune";
    this.#show("tune");
    this.#open();
  }

  deliver() {
    this.shown = "deliver";
    this.#show("deliver");
    this.#open();
  }

  // A question with answers: {label: function}.
  ask(head, words, answers) { this.tell(head, [h("p", {}, words)], answers); }

  // The same with any content.
  tell(head, content, answers) {
    this.shown = "ask";
    this.#fill(head, content, answers);
    this.#open();
  }

  #open() { if (!this.dialog.open) this.dialog.showModal(); }

  #fill(head, content, answers) {
    const buttons = Object.entries(answers).map(([label, act]) => h("button", { type: "button", onclick: act }, label));
    const title = h("h2", { id: "ask-head" }, head);
    this.dialog.setAttribute("aria-labelledby", "ask-head");
    this.dialog.replaceChildren(title, ...content, h("div", { class: "acts" }, ...buttons));
  }

  #close = () => this.dialog.close();

  async #do(path, body) {
    try {
      return await post(path, body);
    } catch (fault) {
      this.does.say(fault.message);
      return null;
    }
  }

  #show(kind) {
    // News of something else must not empty a form that is being filled in.
    const news = JSON.stringify([kind, this.now]);
    if (this.dialog.open && news === this.told) return;
    this.told = news;
    const job = this.now?.kind === kind ? this.now : { state: "none" };
    const head = kind === "tune" ? "Tune" : "Deliver";
    const stop = { Stop: () => this.#do("job/stop") };
    const close = { Close: this.#close };
    const again = { "Start again": async () => { await this.#do("job/clear"); } };
    if (this.now?.state === "working" && this.now.kind !== kind) {
      this.#fill(head, [h("p", {}, "Something else is at work: wait for it, or stop it.")], { ...stop, ...close });
    } else if (job.state === "working") {
      const cost = job.cost ? `, distance ${job.cost.toPrecision(3)}` : "";
      this.#fill(head, [h("p", { role: "status" }, `${job.progress}${cost}`), h("progress", { "aria-label": "at work" })], { ...stop, ...close });
    } else if (job.state === "failed") {
      this.#fill(head, [h("p", { role: "alert" }, job.fault)], { ...again, ...close });
    } else if (job.state === "stopped") {
      this.#fill(head, [h("p", {}, "Stopped. The recipe is as it was.")], { ...again, ...close });
    } else if (job.state === "done" && kind === "tune") {
      this.#tuned(job.result);
    } else if (job.state === "done") {
      const files = h("ul", { class: "files" }, ...job.result.files.map((f) => h("li", {}, f)));
      this.#fill(head, [h("p", {}, `Delivered into ${job.result.out}:`), files], { ...close, ...again });
    } else if (kind === "tune") {
      this.#goals();
    } else {
      this.#start();
    }
  }

  #goals() {
    const box = (id, label, on, able) => {
      const input = h("input", { type: "checkbox", id, checked: on && able, disabled: !able });
      return [input, h("p", { class: "choice" }, input, h("label", { htmlFor: id }, label))];
    };
    const [levels, one] = box("goal-levels", "Levels wanted at the marks", true, true);
    const count = this.state.references.length;
    const [reference, two] = box("goal-reference", count ? `Be like ${this.state.references.join(", ")}` : "Be like a finished picture (start the bench with --reference)", count > 0, count > 0);
    const [apart, three] = box("goal-apart", "Warm and cool parts at least so many degrees apart", false, true);
    const degrees = h("input", { type: "text", inputmode: "decimal", value: "150", "aria-label": "Degrees apart" });
    three.append(degrees);
    const start = async () => {
      const value = Number(degrees.value.replace(",", "."));
      const body = { levels: levels.checked, reference: reference.checked, separation: apart.checked ? value : null };
      await this.#do("tune", body);
    };
    const words = "Moves the parameters that are free, within their usual ranges and restraint. The recipe changes only when you take the result.";
    this.#fill("Tune", [h("p", {}, words), one, two, three], { Start: start, Close: this.#close });
  }

  #tuned(result) {
    const list = (items) => h("ul", {}, ...items.map((t) => h("li", {}, t)));
    const table = (head, rows) => h("table", {}, h("thead", {}, h("tr", {}, ...head.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, ...rows));
    const cells = (texts, kind = "") => h("tr", { class: kind }, ...texts.map((t) => h("td", {}, t)));
    const change = ({ name, before, after, unit }) => cells([unit ? `${name}, ${unit}` : name, shown(before), shown(after)]);
    const moves = result.changes.length ? table(["parameter", "from", "to"], result.changes.map(change)) : h("p", {}, "Nothing moved.");
    // "still: mark" of several stills: the still once, above its marks.
    let still = "";
    const target = (t) => {
      const [mark, of = ""] = t.name.split(": ").reverse();
      const head = of && of !== still ? [h("tr", {}, h("td", { colSpan: 5, class: "still" }, of))] : [];
      still = of;
      return [...head, cells([mark, t.before, t.after, t.wanted, t.met ? "met" : "not"], t.met ? "" : "not")];
    };
    const levels = result.targets.length ? [h("h3", {}, "Levels, % of signal"), table(["mark", "was", "is", "wanted", ""], result.targets.flatMap(target))] : [];
    const remarks = result.remarks.length ? [h("h3", {}, "To know"), list(result.remarks)] : [];
    const take = async () => {
      const state = await this.#do("tune/take");
      if (state) {
        this.#close();
        this.does.took(state);
      }
    };
    const leave = async () => { await this.#do("job/clear"); this.#close(); };
    const answers = result.changes.length ? { "Take it": take, "Leave it": leave } : { Close: leave };
    this.#fill("Tuned", [list(result.outcome), ...levels, h("h3", {}, "What would change"), moves, ...remarks], answers);
  }

  #start() {
    const words = `Makes the delivery folder \u201c${this.state.out}\u201d: the look as .cube in the usual sizes and in every other form, a sheet of the stills, the report, and a card that says what each file must be fed.`;
    const dirty = this.state.dirty;
    const plain = h("input", { type: "checkbox", id: "plain-sampling" });
    const how = h("p", { class: "choice" }, plain, h("label", { htmlFor: "plain-sampling" }, "Sample the lattices plainly: quicker, a little less exact"));
    const go = async () => {
      const body = { plain_sampling: plain.checked };
      if (!dirty || await this.does.saveFirst()) await this.#do("deliver", body);
    };
    const more = dirty ? [h("p", {}, "The recipe has changes that are not saved; they are saved first.")] : [];
    this.#fill("Deliver", [h("p", {}, words), how, ...more], { [dirty ? "Save and deliver" : "Deliver"]: go, Close: this.#close });
  }
}
