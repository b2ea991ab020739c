// Hand pictures: a drawn keyboard with the keys that are down, fingers and the chord's name.
// Left hand: squares. Right hand: circles. The melody's note: a ring.

import { h, s } from "./dom.js";

const WHITE = 14;
const LONG = 58;
const SHORT = 32;
const BLACK = 9;
const STEPS = [0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6];
const isBlack = (midi) => [1, 3, 6, 8, 10].includes(midi % 12);
const white = (midi) => Math.floor(midi / 12) * 7 + STEPS[midi % 12];

export function handPicture(picture) {
  const parts = split(picture.keys);
  let x = 1;
  const drawn = [];
  for (const keys of parts) {
    const [part, width] = keyboard(keys, picture);
    part.setAttribute("transform", `translate(${x} 1)`);
    drawn.push(part);
    x += width + 12;
  }
  const width = x - 10;
  const svg = s("svg", { viewBox: `0 0 ${width} ${LONG + 14}`, class: "keys", role: "img", "aria-label": spoken(picture) }, ...drawn);
  svg.style.width = `${width * 1.05}px`;
  const figure = h("figure", { class: "hands" }, h("figcaption", {}, picture.chord || "no chord"), svg);
  if (picture.rolled) figure.append(h("p", { class: "quiet" }, "rolled"));
  return figure;
}

// Hands far apart are drawn on two pieces of keyboard.
function split(keys) {
  for (let i = 1; i < keys.length; i += 1) {
    if (keys[i].midi - keys[i - 1].midi > 14) return [keys.slice(0, i), ...split(keys.slice(i))];
  }
  return [keys];
}

function keyboard(keys, picture) {
  let low = keys[0].midi - 1;
  let high = keys[keys.length - 1].midi + 1;
  while (isBlack(low) || ![0, 5].includes(low % 12)) low -= 1;
  while (isBlack(high) || ![4, 11].includes(high % 12)) high += 1;
  const first = white(low);
  const group = s("g");
  const blacks = [];
  for (let midi = low; midi <= high; midi += 1) {
    const key = keys.find((entry) => entry.midi === midi);
    const at = (white(midi) - first) * WHITE;
    const shape = isBlack(midi)
      ? s("rect", { x: at + WHITE - BLACK / 2, y: 0, width: BLACK, height: SHORT, class: "black" })
      : s("rect", { x: at, y: 0, width: WHITE, height: LONG, class: "white" });
    shape.dataset.midi = midi;
    if (key) shape.classList.add("down");
    (isBlack(midi) ? blacks : { push: (item) => group.append(item) }).push(shape);
    if (midi % 12 === 0 || (midi === low && high - low < 12)) { // a C, or what a short piece begins with
      group.append(s("text", { x: at + WHITE / 2, y: LONG + 10, class: "octave" }, `${midi % 12 ? "F" : "C"}${Math.floor(midi / 12) - 1}`));
    }
  }
  group.append(...blacks);
  for (const key of keys) group.append(mark(key, first, picture));
  return [group, (white(high) - first + 1) * WHITE];
}

function mark(key, first, picture) {
  const at = (white(key.midi) - first) * WHITE + (isBlack(key.midi) ? WHITE : WHITE / 2);
  const y = isBlack(key.midi) ? SHORT - 9 : LONG - 10;
  const group = s("g", { class: `finger ${key.hand} ${key.role}` });
  group.dataset.midi = key.midi;
  group.append(key.hand === "left"
    ? s("rect", { x: at - 6, y: y - 6, width: 12, height: 12 })
    : s("circle", { cx: at, cy: y, r: 6.6 }));
  group.append(s("text", { x: at, y: y + 3.6 }, key.finger ?? "·"));
  if (key.order && picture.keys.some((other) => other.order > 1)) {
    group.append(s("text", { x: at, y: isBlack(key.midi) ? 9 : SHORT + 8.5, class: isBlack(key.midi) ? "order over" : "order" }, key.order));
  }
  return group;
}

function spoken(picture) {
  const side = (hand) => picture.keys.filter((key) => key.hand === hand)
    .map((key) => `${key.pitch}${key.finger ? ` finger ${key.finger}` : ""}${key.role === "melody" ? " (melody)" : ""}`).join(", ");
  const words = [picture.chord];
  if (side("left")) words.push(`left hand ${side("left")}`);
  if (side("right")) words.push(`right hand ${side("right")}`);
  return words.join("; ");
}

// Light the keys that sound: `notes` are the played notes that are down now.
export function light(figures, pictures, notes) {
  figures.forEach((figure, index) => {
    const picture = pictures[index];
    const on = new Set(notes.filter((note) => note.at >= picture.from - 1e-6 && note.at < picture.to - 1e-6).map((note) => String(note.midi)));
    figure.classList.toggle("sounding", on.size > 0);
    for (const element of figure.querySelectorAll("[data-midi]")) {
      element.classList.toggle("on", on.has(element.dataset.midi));
    }
  });
}
