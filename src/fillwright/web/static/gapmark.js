// How a gap stands on drawn music: undecided it is tinted, decided it has a check, its family's
// shape, word and colour.

import { s } from "./dom.js";
import { drawnShape, familyOf } from "./shapes.js";
import { t } from "./words.js";

export const choiceWord = (pick) => `✓ ${t(`family.${familyOf(pick.fill)}`)}`;

export function showDecided(mark, pick) {
  mark.classList.toggle("left-open", pick?.fill === "open");
  mark.classList.toggle("picked", Boolean(pick) && pick.fill !== "open");
  if (pick) mark.dataset.family = familyOf(pick.fill);
  else delete mark.dataset.family;
}

// Words below the bracket; `right` is where the music ends.
export function writeWord(mark, words, pick, right) {
  mark.querySelector(".gap-word")?.remove();
  if (!words.length) return;
  const field = mark.querySelector(".gap-field");
  const [x, y, width, height] = ["x", "y", "width", "height"].map((name) => Number(field.getAttribute(name)));
  const [left, top] = [x + 40, y + height + 80];
  const text = s("text", { x: left + (pick ? 260 : 0), y: top + 190 });
  text.textContent = words.join(" ");
  const word = s("g", { class: `gap-word ${pick ? familyOf(pick.fill) : "barren"}` }, ...(pick ? [drawnShape(familyOf(pick.fill), left, top, 210)] : []), text);
  mark.append(word);
  // What would run out of the music ends where its gap does.
  const drawn = word.getBBox().width;
  if (left + drawn > right) word.setAttribute("transform", `translate(${width - drawn - 40} 0)`);
}

// Where the last of all gaps ends.
export const rightEnd = (paper) => Math.max(...[...paper.querySelectorAll(".gap-field")].map((field) => Number(field.getAttribute("x")) + Number(field.getAttribute("width"))));
