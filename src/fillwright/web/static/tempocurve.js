// The tempo over the bars of a take, as a drawing and as words.

import { h, s } from "./dom.js";
import { t } from "./words.js";

const [WIDE, HIGH, LEFT, LOW, TOP] = [720, 190, 46, 26, 12];

// tempo: {mean, is_steady, curve: [[place in quarters, beats a minute]]}; bars: [{number, onset}]
export function tempoCurve({ mean, curve, is_steady: steady }, bars) {
  const points = curve.map(([place, bpm]) => ({ place: quarters(place), bpm }));
  const name = (place) => bars.findLast((bar) => bar.onset <= place + 1e-6)?.number ?? "";
  const tempos = points.map(({ bpm }) => bpm);
  const [slow, fast] = [Math.min(...tempos), Math.max(...tempos)];
  const words = steady ? t("take.tempo_steady", { mean: Math.round(mean) }) : t("take.tempo_says", {
    mean: Math.round(mean), slow: Math.round(slow), slow_bar: name(points[tempos.indexOf(slow)].place),
    fast: Math.round(fast), fast_bar: name(points[tempos.indexOf(fast)].place),
  });
  const table = h("details", {}, h("summary", {}, t("take.tempo_table")), h("div", { class: "take-table", tabindex: "0", role: "group", "aria-label": t("take.tempo_table") }, h("table", {},
    h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("take.bar")), h("th", { scope: "col" }, t("take.tempo_unit")))),
    h("tbody", {}, points.map(({ place, bpm }) => h("tr", {}, h("td", {}, name(place)), h("td", {}, String(Math.round(bpm)))))))));
  return h("div", { class: "tempo" }, h("p", {}, words), steady ? "" : drawn(points, mean, name), table);
}

const quarters = (text) => {
  const [top, bottom = 1] = String(text).split("/").map(Number);
  return top / bottom;
};

// Steps where the form jumps, a line between: x counts bar lines in the order they were played.
function drawn(points, mean, name) {
  const low = Math.min(mean * 0.85, ...points.map(({ bpm }) => bpm));
  const high = Math.max(mean * 1.15, ...points.map(({ bpm }) => bpm));
  const x = (index) => LEFT + (index * (WIDE - LEFT - 12)) / Math.max(1, points.length - 1);
  const y = (bpm) => TOP + ((high - bpm) / (high - low)) * (HIGH - TOP - LOW);
  const path = points.map(({ bpm, place }, index) => `${index && place > points[index - 1].place ? "L" : "M"}${x(index).toFixed(1)} ${y(bpm).toFixed(1)}`).join("");
  const text = (attributes, content) => {
    const element = s("text", attributes);
    element.textContent = content;
    return element;
  };
  const every = Math.ceil(points.length / 12);
  return s("svg", { class: "tempo-curve", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": t("take.tempo") },
    s("path", { d: `M${LEFT} ${y(mean)}H${WIDE - 12}`, class: "mean" }),
    text({ x: 0, y: y(mean) + 5, class: "mean-says" }, String(Math.round(mean))),
    s("path", { d: path, class: "played" }),
    ...points.flatMap(({ place, bpm }, index) => [s("circle", { cx: x(index), cy: y(bpm), r: 3.2 }),
      ...(index % every === 0 ? [text({ x: x(index), y: HIGH - 6, class: "bar-says" }, name(place))] : [])]));
}
