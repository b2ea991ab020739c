// Keys for everything, shown on demand. They act wherever nothing is being typed; who does not
// want them switches them off (WCAG 2.1.4).

import { h } from "./dom.js";
import { t } from "./words.js";

const KEPT = "fillwright-keys";

export class Keys {
  // actions: [{keys, words, views, run}]; views: where it acts, none: everywhere. view() names
  // the one that is shown.
  constructor(dialog, actions, view) {
    this.dialog = dialog;
    this.actions = actions;
    this.view = view;
    this.on = localStorage.getItem(KEPT) !== "off";
    document.addEventListener("keydown", (event) => this.#down(event));
  }

  #down(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || this.dialog.open) return;
    if (event.target.matches("input:not([type=radio], [type=checkbox], [type=range]), select, textarea")) return;
    const action = this.actions.find(({ keys, views }) => keys.includes(event.key) && (!views || views.includes(this.view())));
    if (!action || (!this.on && event.key.length === 1 && event.key !== "?")) return;
    // What has the focus keeps its own keys: a button its Enter, a list its arrows. The tab of what
    // is looked at has no use for the space bar.
    const at = event.target.closest("button, a, summary, [role=button]");
    if (at && (event.key === "Enter" || (event.key === " " && !at.matches("[role=tab][aria-selected=true]")))) return;
    if (event.key.startsWith("Arrow") && event.target.closest("[role=button], [role=tab], [role=spinbutton], [type=range], [type=radio], .editor")) return;
    event.preventDefault();
    action.run(event);
  }

  show() {
    const view = this.view();
    const switched = h("input", { type: "checkbox", checked: this.on, onchange: (event) => {
      this.on = event.target.checked;
      localStorage.setItem(KEPT, this.on ? "on" : "off");
    } });
    const rows = this.actions.filter(({ words, views }) => words && (!views || views.includes(view)));
    this.dialog.replaceChildren(
      h("h2", {}, t("keys.head")),
      h("dl", { class: "key-list" }, rows.map(({ keys, words }) => h("div", {},
        h("dt", {}, keys.filter((key) => key !== "Enter" || keys.length === 1).map((key) => h("kbd", {}, named(key)))), h("dd", {}, words)))),
      h("label", {}, switched, t("keys.on")),
      h("p", { class: "quiet" }, t("keys.ranks")),
      h("form", { method: "dialog" }, h("button", { autofocus: true }, t("keys.close"))));
    this.dialog.showModal();
  }
}

const SIGNS = { ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", Escape: "Esc", " ": "␣" };
const named = (key) => SIGNS[key] ?? key;
