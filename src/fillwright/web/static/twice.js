// What does not come back is asked for twice: the button gives way to one that keeps everything,
// which has the focus, and one that acts.

import { h } from "./dom.js";
import { explain } from "./notices.js";

export function askedTwice(button, keep, lose, act) {
  const both = h("span", { class: "row" },
    h("button", { type: "button", onclick: () => { both.replaceWith(button); button.focus(); } }, keep),
    h("button", { type: "button", class: "danger", onclick: async () => {
      try {
        await act();
      } catch (error) {
        explain(error);
      }
    } }, lose));
  button.replaceWith(both);
  both.firstChild.focus();
}
