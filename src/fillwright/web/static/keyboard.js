// Hand pictures: one drawn keyboard for each position of the hands, with the keys that are down,
// fingers and the chord's name. Left hand: squares. Right hand: circles. The melody's note: a ring.

import { h, s } from "./dom.js";
import { parts, t } from "./words.js";

const WHITE = 17;
const LONG = 70;
const SHORT = 38;
const BLACK = 11;
const BREAK = 16; // keys between far hands are left out, and the place is torn
const FAR = 17; // half steps
const STEPS = [0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6];
const isBlack = (midi) => [1, 3, 6, 8, 10].includes(midi % 12);
const white = (midi) => Math.floor(midi / 12) * 7 + STEPS[midi % 12];

// All positions of an idea, and what the signs mean; `figures` are what `light` lights.
export function handPictures(pictures, explained = true) {
  const figures = pictures.map((picture, index) => handPicture(picture, pictures.length > 1 ? index + 1 : null));
  return { figures, element: h("div", { class: "positions" }, h("div", { class: "row" }, figures), explained ? legend(pictures.some(ordered)) : "") };
}

// Whether not all of its keys are struck at once.
export const ordered = (picture) => picture.keys.some((key) => key.order > 1);

export function legend(withOrder = false) {
  const sign = (kind, hand) => s("svg", { viewBox: "0 0 18 18", class: "keys sign", "aria-hidden": "true" },
    s("g", { class: `finger ${hand} ${kind}` }, hand === "left" ? s("rect", { x: 1.5, y: 1.5, width: 15, height: 15 }) : s("circle", { cx: 9, cy: 9, r: 7.5 })));
  return h("p", { class: "legend quiet" }, parts("hands.legend", { left: sign("fill", "left"), right: sign("fill", "right"), melody: sign("melody", "right") }), withOrder ? ` ${t("hands.legend_order")}` : null);
}

export function handPicture(picture, place = null) {
  const pieces = split(picture.keys).map((keys) => keyboard(keys, picture));
  let x = 1;
  const drawn = [];
  pieces.forEach(([piece, width], index) => {
    if (index) {
      drawn.push(torn(x, BREAK));
      x += BREAK;
    }
    piece.setAttribute("transform", `translate(${x} 1)`);
    drawn.push(piece);
    x += width;
  });
  const svg = s("svg", { viewBox: `0 0 ${x + 1} ${LONG + 16}`, class: "keys", role: "img", "aria-label": spoken(picture) }, ...drawn);
  svg.style.width = `${x + 1}px`;
  const name = h("span", { lang: "en" }, picture.chord || t("hands.no_chord"));
  const figure = h("figure", { class: "hands" }, h("figcaption", {}, place ? h("span", { class: "position" }, String(place)) : null, name), svg);
  if (picture.rolled) figure.append(h("p", { class: "quiet" }, t("hands.rolled")));
  return figure;
}

function split(keys) {
  for (let i = 1; i < keys.length; i += 1) {
    if (keys[i].midi - keys[i - 1].midi > FAR) return [keys.slice(0, i), ...split(keys.slice(i))];
  }
  return [keys];
}

// Two lines with a wave between the pieces: the keyboard goes on there.
function torn(x, width) {
  const wave = (at) => s("path", { d: `M${at} 1 q3 ${LONG / 8} 0 ${LONG / 4} t0 ${LONG / 4} t0 ${LONG / 4} t0 ${LONG / 4}`, class: "torn" });
  return s("g", {}, wave(x + width / 2 - 3), wave(x + width / 2 + 3));
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
    const at = (white(midi) - first) * WHITE;
    const shape = isBlack(midi)
      ? s("rect", { x: at + WHITE - BLACK / 2, y: 0, width: BLACK, height: SHORT, class: "black" })
      : s("rect", { x: at, y: 0, width: WHITE, height: LONG, class: "white" });
    shape.dataset.midi = midi;
    if (keys.some((entry) => entry.midi === midi)) shape.classList.add("down");
    if (isBlack(midi)) blacks.push(shape);
    else group.append(shape);
    if (midi % 12 === 0 || (midi === low && high - low < 12)) { // a C, or what a short piece begins with
      group.append(s("text", { x: at + WHITE / 2, y: LONG + 12, class: "octave" }, `${midi % 12 ? "F" : "C"}${Math.floor(midi / 12) - 1}`));
    }
  }
  group.append(...blacks);
  for (const key of keys) group.append(mark(key, first, picture));
  return [group, (white(high) - first + 1) * WHITE];
}

function mark(key, first, picture) {
  const at = (white(key.midi) - first) * WHITE + (isBlack(key.midi) ? WHITE : WHITE / 2);
  const y = isBlack(key.midi) ? SHORT - 10 : LONG - 11;
  const group = s("g", { class: `finger ${key.hand} ${key.role}` });
  group.dataset.midi = key.midi;
  group.append(key.hand === "left"
    ? s("rect", { x: at - 7.4, y: y - 7.4, width: 14.8, height: 14.8 })
    : s("circle", { cx: at, cy: y, r: 8 }));
  group.append(s("text", { x: at, y: y + 4.6 }, key.finger ?? "·"));
  if (key.order && ordered(picture)) {
    group.append(s("text", { x: at, y: isBlack(key.midi) ? 11 : SHORT + 9, class: `order${isBlack(key.midi) ? " over" : ""}` }, key.order));
  }
  return group;
}

function spoken(picture) {
  const named = (key) => {
    const name = key.finger ? t("hands.key", { pitch: key.pitch, finger: key.finger }) : key.pitch;
    return key.role === "melody" ? t("hands.melody", { key: name }) : name;
  };
  const side = (hand) => picture.keys.filter((key) => key.hand === hand).map(named).join(", ");
  const words = [picture.chord];
  for (const hand of ["left", "right"]) if (side(hand)) words.push(`${t(`hands.${hand}`)}: ${side(hand)}`);
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
