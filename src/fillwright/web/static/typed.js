// Notes typed as text for a gap: a fill of one's own, chosen at once; what the rules say stands
// beside it.

import { post } from "./api.js";
import { h } from "./dom.js";
import { beatName } from "./gap.js";
import { explain } from "./notices.js";
import { t } from "./words.js";

// chosen(pick) -> promise: the fill is put into its gap. Returns {element, say(findings)}.
export function typedForm(address, chosen) {
  const text = h("textarea", { id: "typed-notes", rows: "2", spellcheck: "false", autocomplete: "off", "aria-describedby": "typed-how", maxlength: "4000" });
  const says = h("div", { class: "told", role: "alert" });
  const form = h("form", { class: "typed" }, h("label", { for: "typed-notes" }, t("typed.label")), text, h("p", { id: "typed-how", class: "quiet" }, t("typed.how")),
    h("button", { type: "submit" }, t("typed.choose")), says);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    says.replaceChildren();
    try {
      const { pick } = await post(`${address}/typed`, { text: text.value });
      await chosen(pick);
    } catch (error) {
      if (error.status === 422) says.replaceChildren(h("p", {}, error.message));
      else explain(error);
    }
  });
  const element = h("details", { class: "typed-notes" }, h("summary", {}, t("typed.head")), form);
  return {
    element,
    say(findings) {
      element.open = true;
      says.replaceChildren(findings.length
        ? h("ul", { class: "findings", lang: "en" }, findings.map((finding) => h("li", {}, `${t("editor.finding", { beat: beatName(finding.beat), bar: finding.sheet_bar })} ${finding.message}.`)))
        : h("p", { class: "fine" }, t("editor.fine")));
    },
  };
}
