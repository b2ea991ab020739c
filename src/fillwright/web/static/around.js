// What of a small staff is the fill: its gap is tinted as on the phrase, and what stands around it
// is paler, so that ideas are compared by what they put into the gap.

import { s } from "./dom.js";

const AIR = 130; // before a note head, in the lengths of the drawing: room for an accidental

// elements: index -> drawn note; keys: index -> {at, role}; from, to: the gap, in quarters
export function showGap(svg, elements, keys, from, to) {
  const system = svg.querySelector(".system");
  const boxes = [];
  for (const [index, element] of elements) {
    const key = keys[index];
    const inside = key.at >= from - 1e-6 && key.at < to - 1e-6;
    element?.classList.toggle("around", !inside);
    const head = element?.querySelector(".notehead");
    if (head) boxes.push({ inside, late: key.at >= to - 1e-6, box: head.getBBox() });
  }
  for (const chord of svg.querySelectorAll(".chord")) {
    const heads = [...chord.querySelectorAll(".note")];
    chord.classList.toggle("all-around", heads.length > 0 && heads.every((head) => head.classList.contains("around")));
  }
  const within = boxes.filter(({ inside }) => inside).map(({ box }) => box.x);
  const lines = [...svg.querySelectorAll(".staff > path")].map((line) => line.getBBox());
  if (!system || !within.length || !lines.length) return;
  const late = boxes.filter(({ late: after }) => after).map(({ box }) => box.x);
  const left = Math.min(...within) - AIR;
  const right = late.length ? Math.min(...late) - AIR : Math.max(...lines.map((line) => line.x + line.width));
  const top = Math.min(...lines.map((line) => line.y));
  const bottom = Math.max(...lines.map((line) => line.y + line.height));
  if (right > left) system.prepend(s("rect", { x: left, y: top, width: right - left, height: bottom - top, class: "gap-tint" }));
}
