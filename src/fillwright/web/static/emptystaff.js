// A grand staff with nothing on it, to write on when a page is printed.

import { s } from "./dom.js";

const [WIDE, SPACE, BETWEEN] = [920, 17.5, 110]; // tenths of a millimetre

export function emptyStaff() {
  const upper = [0, 1, 2, 3, 4].map((line) => 2 + SPACE * line);
  const low = upper[4] + BETWEEN;
  const lines = [...upper, ...upper.map((line) => line + low - 2)];
  const high = lines[9];
  const drawn = [...lines.map((y) => `M0 ${y}H${WIDE}`), `M2 2V${high}`, `M${WIDE - 2} 2V${high}`];
  return s("svg", { viewBox: `0 0 ${WIDE} ${high + 2}`, class: "empty-staff", "aria-hidden": "true" }, s("path", { d: drawn.join(""), fill: "none", stroke: "currentColor", "stroke-width": 2.5 }));
}
