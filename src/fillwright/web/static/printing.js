// What a reader chooses of the printed page; kept in this browser, for all tunes.

import { h } from "./dom.js";
import { t } from "./words.js";

const KEPT = "fillwright.printing";
const SIZES = { usual: {}, large: { large: true }, saving: { saving: true } };
const LISTS = { paper: ["A4", "Letter"], size: Object.keys(SIZES), chords: ["written", "words", "signs"], fingering: ["auto", "all", "helpful", "fills", "none"] };
const MARKS = { counts: true, hands: false };
const OF_THE_CHORUS = ["fingering", "counts", "hands"];

function kept() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

function keep(name, value) {
  try {
    localStorage.setItem(KEPT, JSON.stringify({ ...kept(), [name]: value }));
  } catch { /* it holds until the page is left */ }
}

// The choices as the server takes them.
export function printing() {
  const found = kept();
  const { size, ...lists } = Object.fromEntries(Object.entries(LISTS).map(([name, values]) => [name, values.includes(found[name]) ? found[name] : values[0]]));
  const marks = Object.fromEntries(Object.entries(MARKS).map(([name, plain]) => [name, typeof found[name] === "boolean" ? found[name] : plain]));
  return { ...lists, ...SIZES[size], ...marks };
}

// Where a page of usual width would have to be pushed aside to be read.
export const narrow = matchMedia("(max-width: 42rem)");

// The same for what is looked at here: a narrow screen has two bars to a line.
export function onScreen() {
  const { large, saving, ...chosen } = printing();
  return narrow.matches ? { ...chosen, paper: "phone" } : printing();
}

// A row of controls; those that concern fills only where there are some.
export function printingRow(hasFills, onchange) {
  const found = kept();
  const changed = (name, value) => {
    keep(name, value);
    onchange();
  };
  const wanted = (name) => hasFills || !OF_THE_CHORUS.includes(name);
  const list = (name) => h("label", {}, t(`printing.${name}`), " ",
    h("select", { name, onchange: (event) => changed(name, event.target.value) },
      LISTS[name].map((value) => h("option", { value, selected: value === found[name] }, t(`printing.${name}_${value}`)))));
  const mark = (name) => h("label", {},
    h("input", { type: "checkbox", name, checked: found[name] ?? MARKS[name], onchange: (event) => changed(name, event.target.checked) }), " ", t(`printing.${name}`));
  return h("div", { class: "row printing", role: "group", "aria-label": t("printing.choices") },
    Object.keys(LISTS).filter(wanted).map(list), Object.keys(MARKS).filter(wanted).map(mark));
}
