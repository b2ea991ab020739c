// One idea from its own level down to a beginner's: its rungs side by side.

import { h } from "./dom.js";
import { t } from "./words.js";

// The id of the idea that a rung is of; of an idea its own.
export const ideaOf = (id) => id.replace(/-rung\d+$/, "");

// A rung: for whom it is, how hard, up to which tempo, what is gone; then its card.
export function rungElement({ level, difficulty, highest_tempo: tempo, left_out: gone }, card, step) {
  return h("section", { class: "rung", "aria-label": t("ladder.step", { step, level: t(`tune.level_${level}`) }) },
    h("p", { class: "rung-head" }, h("strong", {}, t(`tune.level_${level}`)), h("span", {}, t("ladder.figures", { difficulty, tempo }))),
    step === 1 ? h("p", { class: "quiet" }, t("ladder.whole")) : h("p", {}, t("ladder.without"), " ", h("span", { lang: "en" }, gone.join(", "))),
    card.element);
}

// The levels that have no rung, and why.
export function missingList(missing) {
  if (!missing.length) return null;
  return h("ul", { class: "no-rung" }, missing.map(({ level, reason }) => h("li", {},
    h("strong", {}, t("ladder.none", { level: t(`tune.level_${level}`) })), " ", h("span", { lang: "en" }, `${reason[0].toUpperCase()}${reason.slice(1)}.`))));
}
