// Pages as they are read on a screen: the lines of music stand close, whatever room the paper has.
// On paper they stand as they were engraved.

import { crop } from "./dom.js";

const BETWEEN = 600; // between the ink of two lines, in the engraver's measure: two staves of four spaces
const MARGIN = 80; // tenths of a millimetre
const drawn = new Set();

export function closer(svg) {
  svg.classList.add("closer");
  svg.classList.add("measured"); // without the signs of the music font, whose boxes are far too high
  const lines = [...svg.querySelectorAll(".system")].map((line) => ({ line, box: line.getBBox() }));
  svg.classList.remove("measured");
  let up = 0;
  lines.forEach(({ line, box }, index) => {
    const above = lines[index - 1]?.box;
    if (above) up += Math.max(0, box.y - above.y - above.height - BETWEEN);
    line.style.setProperty("--up", `${Math.round(-up)}px`);
  });
  crop(svg);
  for (const old of drawn) if (!old.isConnected) drawn.delete(old);
  drawn.add(svg);
}

// A printer leaves the margins of the page itself white (@page of page.css): they are cut off.
addEventListener("beforeprint", () => {
  for (const svg of drawn) {
    if (!svg.dataset.page) continue;
    svg.classList.remove("closer");
    const [x, y, wide, tall] = svg.dataset.page.split(" ").map(Number);
    svg.setAttribute("viewBox", [x + MARGIN, y + MARGIN, wide - 2 * MARGIN, tall - 2 * MARGIN].join(" "));
  }
});
addEventListener("afterprint", () => {
  for (const svg of drawn) closer(svg);
});
