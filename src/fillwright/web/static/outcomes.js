// What comes out of a part of the room of lessons in which there is nothing yet.

import { h } from "./dom.js";
import { t } from "./words.js";

const PARTS = ["first", "second", "third"];

export function outcomes(view) {
  return h("section", { class: "outcomes" }, h("h2", {}, t(`lessons.out_${view}`)),
    h("ul", {}, PARTS.map((part) => h("li", {}, h("h3", {}, t(`lessons.out_${view}_${part}`)), h("p", {}, t(`lessons.out_${view}_${part}_what`))))));
}
