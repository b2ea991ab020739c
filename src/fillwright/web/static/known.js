// What is known in which key, as a picture: a table of devices and keys, in each cell a circle that
// is filled as far as it is known, and the number of hundredths beside it.

import { h, pretty, s } from "./dom.js";
import { t } from "./words.js";

const RADIUS = 8;

// A ring where it is given and new; filled clockwise from above; a square round what is sure.
function pie(known) {
  const share = known / 100;
  const svg = s("svg", { viewBox: "0 0 20 20", class: `pie ${known >= 90 ? "sure" : known >= 60 ? "fair" : known ? "shaky" : "fresh"}`, "aria-hidden": "true" }, s("circle", { cx: 10, cy: 10, r: RADIUS, class: "ring" }));
  if (share >= 0.995) svg.append(s("circle", { cx: 10, cy: 10, r: RADIUS, class: "part" }));
  else if (share > 0) {
    const angle = 2 * Math.PI * share;
    const [x, y] = [10 + RADIUS * Math.sin(angle), 10 - RADIUS * Math.cos(angle)];
    svg.append(s("path", { d: `M10 10V${10 - RADIUS}A${RADIUS} ${RADIUS} 0 ${share > 0.5 ? 1 : 0} 1 ${x.toFixed(2)} ${y.toFixed(2)}Z`, class: "part" }));
  }
  if (known >= 90) svg.append(s("rect", { x: 1, y: 1, width: 18, height: 18, class: "frame" }));
  return svg;
}

export function knownTable(keys, rows) {
  return h("table", { class: "known" }, h("caption", {}, t("students.known")),
    h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("students.what")), keys.map((key) => h("th", { scope: "col" }, pretty(key))))),
    h("tbody", {}, rows.map(({ what, row }) => h("tr", {}, h("th", { scope: "row", lang: "en" }, what), row.map((known) => h("td", {},
      known === null ? h("span", { class: "unseen-head" }, t("students.not_given")) : [pie(known), h("span", { class: "share" }, known ? String(known) : t("students.fresh"))]))))));
}

export const knownLegend = () => h("p", { class: "quiet known-legend" }, [["new", 0], ["shaky", 40], ["fair", 75], ["sure", 95]].flatMap(([word, known]) => [h("span", {}, pie(known), t(`students.legend_${word}`)), " "]));
