// What is known of a gap and of what is decided, in words and figures.

import { fraction, number, pretty } from "./dom.js";
import { t } from "./words.js";

// Whether it is known that there is no idea for a gap.
export const barren = (gap) => Boolean(gap.ideas) && Object.values(gap.ideas).every((count) => count === 0);

export const decided = (tune) => tune.decided ?? Object.keys(tune.picks).length;

// A beat of a bar as a player says it.
export function beatName(text) {
  const whole = Math.floor(number(text));
  return number(text) - whole === 0.5 && whole ? t("place.off", { beat: whole }) : t("place.beat", { beat: fraction(text) });
}

// Where a gap is, in a sentence or two.
export function where(gap) {
  const chords = gap.chords.map((chord) => pretty(chord.symbol)).join(", ") || t("bench.no_chord");
  const place = t("bench.where", { bar: gap.sheet_bar, beat: beatName(gap.beat), beats: fraction(gap.beats) });
  const held = gap.held ? t("bench.held", { pitch: pretty(gap.held.pitch), chords }) : t("bench.rests", { chords });
  const back = gap.landing ? t(gap.landing.chord ? "bench.back_over" : "bench.back", { pitch: pretty(gap.landing.pitch), chord: pretty(gap.landing.chord?.symbol) }) : "";
  // "N.C." ends with a point of its own.
  return [place, held, back].filter(Boolean).map((words) => words.replace(/\.\.$/, ".")).join(" ");
}
