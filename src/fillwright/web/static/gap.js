// What is known of a gap and of what is decided, in words and figures.

import { fraction, number, pretty } from "./dom.js";
import { t } from "./words.js";

// Whether it is known that there is no idea for a gap.
export const barren = (gap) => Boolean(gap.ideas) && Object.values(gap.ideas).every((count) => count === 0);

// Why the program leaves a gap open that nobody has decided.
export function whyOpen(tune, number) {
  const gap = tune.gaps[number - 1];
  const filled = (near) => {
    const fill = (tune.picks[near] ?? tune.rest?.[near])?.fill;
    return Boolean(fill) && fill !== "open";
  };
  const [before, after] = [number - 1, number + 1];
  if (barren(gap)) return t("open.barren");
  if (!gap.breathes) return t("open.dearer");
  if (filled(before) && filled(after)) return t("open.between", { before, after });
  if (filled(before)) return t("open.behind", { before });
  return filled(after) ? t("open.ahead", { after }) : t("open.tune");
}

export const decided = (tune) => tune.decided ?? Object.keys(tune.picks).length;

// The next gap after one that is not decided; null where all are, but for the one itself.
export function nextUndecided(tune, after = 0) {
  const free = tune.gaps.map((gap) => gap.number).filter((number) => number !== after && !tune.picks[number]);
  return free.find((number) => number > after) ?? free[0] ?? null;
}

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
