// Questions: a dialog that lies on the recipe, so that the picture stays in sight.

import { h, node } from "./dom.js";

const dialog = node("ask");

/**
 * A question with answers: {label: function}; the first is the main one.
 * @param {string} head
 * @param {string | any[]} content
 * @param {Record<string, () => unknown>} answers
 */
export function ask(head, content, answers) {
  const words = typeof content === "string" ? [h("p", {}, content)] : content;
  const buttons = Object.entries(answers).map(([label, act], i) => h("button", { type: "button", class: i ? "" : "main", onclick: act }, label));
  dialog.setAttribute("aria-labelledby", "ask-head");
  dialog.replaceChildren(h("h2", { id: "ask-head" }, head), ...words, h("div", { class: "acts" }, ...buttons));
  if (!dialog.open) dialog.showModal();
}

export const close = () => dialog.close();
