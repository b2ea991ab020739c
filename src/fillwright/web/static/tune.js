// The page of a tune: settings, views, and one state that the server keeps.

import { get, post, put } from "./api.js";
import { Bench } from "./bench.js";
import { Chorus } from "./chorus.js";
import { explain, h, notify, pretty } from "./dom.js";
import { Handouts } from "./handouts.js";
import { offerPianos } from "./pianos.js";
import { player } from "./player.js";
import { Sheet } from "./sheet.js";

const id = document.body.dataset.tune;
const address = `/api/tunes/${id}`;
const settings = document.getElementById("settings");
const COUNTED = ["choruses", "introduction", "ending"];
const FAMILIES = ["comp", "reharm", "line"];
const MAJOR = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
const MINOR = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"];

let tune = null;
const sheet = new Sheet(document.getElementById("sheet"), { choose: (gap) => go(gap, true), chord: (chord) => change({ chord }) });
const bench = new Bench(document.getElementById("bench"), { change: (what) => change(what), go: (gap) => go(gap, true) });
const chorus = new Chorus(document.getElementById("view-chorus"), (gap) => { view("sheet"); go(gap, true); });
const handouts = new Handouts(document.getElementById("view-hand"), chorus);
const views = { sheet, chorus, hand: handouts };
let shown = "sheet";

// --- the state --------------------------------------------------------------------------------

let waiting = Promise.resolve();

// Changes are made one after the other, each from the version the last one left. What depends
// on the state before it is a function of the tune.
function change(what) {
  return turn(() => put(address, { version: tune.version, change: typeof what === "function" ? what(tune) : what }));
}

function turn(send) {
  const done = waiting.then(async () => {
    try {
      take(await send());
    } catch (error) {
      if (error.status === 409) {
        take(await get(address));
        notify("The tune was changed in another tab. Here is its newest state; your last change was not saved.", "error");
      } else throw error;
    }
  });
  waiting = done.catch(() => {});
  return done;
}

function take(next) {
  const before = tune;
  tune = next;
  document.getElementById("undo").disabled = !tune.undo;
  document.getElementById("redo").disabled = !tune.redo;
  document.getElementById("undo").title = tune.undo ? `Undo: ${tune.undo}` : "";
  document.getElementById("redo").title = tune.redo ? `Redo: ${tune.redo}` : "";
  showSettings();
  document.getElementById("bench-hint").textContent = tune.gaps.length
    ? "Choose a bracket on the sheet to see what could be played there. Choose a chord symbol to correct it."
    : "There is no gap in this tune: the melody never holds still for two beats. The chorus can be played all the same.";
  document.getElementById("warnings").replaceChildren(...tune.warnings.map((warning) => h("li", {}, warning)));
  for (const message of tune.lost ?? []) notify(message);
  if (before?.sheet === tune.sheet) {
    sheet.tune = tune;
    sheet.mark(bench.number);
    bench.refresh(tune);
  } else {
    const gap = bench.number === null ? null : samePlace(before.gaps[bench.number - 1]);
    const inside = document.getElementById("bench").contains(document.activeElement);
    if (gap !== null) bench.open(tune, gap, inside); // these go on while the next change is made
    else bench.close();
    sheet.current = bench.number;
    if (before?.drawing === tune.drawing) sheet.keep(tune);
    else sheet.show(tune);
    document.getElementById("view-sheet").classList.toggle("open", bench.number !== null);
  }
  if (shown !== "sheet") views[shown].show(tune);
}

// The number that a gap has in the form as it is now, or null.
function samePlace(was) {
  const found = tune.gaps.find((gap) => gap.bar === was.bar && gap.pass === was.pass && gap.beat === was.beat);
  return found?.number ?? null;
}

function showSettings() {
  const { settings: set, tune: facts } = tune;
  const names = facts.key.endsWith("minor") ? MINOR : MAJOR;
  const mode = facts.key.split(" ")[1];
  const key = settings.elements.key;
  key.replaceChildren(h("option", { value: "" }, `as written (${pretty(tune.sheet_key)})`), ...names.map((name) => h("option", { value: `${name} ${mode}` }, `${pretty(name)} ${mode}`)));
  const values = { level: set.level, hand: set.hand, octave: set.octave, tempo: String(facts.tempo), feel: facts.feel, key: set.key ?? "" };
  for (const [name, value] of Object.entries(values)) {
    if (document.activeElement !== settings.elements[name] || name !== "tempo") settings.elements[name].value = value;
  }
  if (key.value !== values.key) {
    key.append(h("option", { value: values.key }, pretty(values.key)));
    key.value = values.key;
  }
  showForm(set);
  const without = document.getElementById("without");
  without.hidden = !set.without.length;
  without.replaceChildren("Switched off: ", ...set.without.map((device) => h("button", { type: "button", class: "chip", "aria-label": `Switch ${device} on again`, onclick: () => change((now) => ({ settings: { without: now.settings.without.filter((name) => name !== device) } })).catch(explain) }, `${device} ×`)));
}

// How often the chorus goes round, what is added to it, and how much of each family it has.
function showForm(set) {
  const { elements } = settings;
  for (const name of COUNTED) elements[name].value = String(set[name]);
  const shares = FAMILIES.map((family) => set.mix[family] ?? 0);
  const total = shares.reduce((sum, share) => sum + share, 0);
  FAMILIES.forEach((family, index) => {
    const select = elements[`mix-${family}`];
    const value = String(shares[index]);
    if (![...select.options].some((option) => option.value === value)) select.append(h("option", { value }, `${value} parts`));
    select.value = value;
  });
  const added = [["introduction", "before"], ["ending", "after"]].filter(([name]) => set[name]).map(([name, where]) => `${set[name]} bars ${where}`);
  const even = shares.every((share) => share === shares[0]);
  const mix = even ? "families even" : FAMILIES.map((family, index) => `${family} ${Math.round((100 * shares[index]) / total)} %`).join(", ");
  document.getElementById("form-says").textContent = [set.choruses === 2 ? "two choruses" : "one chorus", ...added, mix].join(", ");
}

// A control's name and value as a setting.
function setting(name, value, now) {
  if (name.startsWith("mix-")) return { mix: { ...now.mix, [name.slice(4)]: Number(value) } };
  return { [name]: COUNTED.includes(name) ? Number(value) : value || null };
}

settings.addEventListener("change", async (event) => {
  const { name, value } = event.target;
  if (!name) return; // the piano, which is no setting of the tune
  try {
    await change(({ settings: now }) => ({ settings: setting(name, value, now) }));
  } catch (error) {
    explain(error);
    showSettings();
    if (name === "tempo") settings.elements.tempo.value = String(tune.tune.tempo);
  }
});
settings.addEventListener("submit", (event) => event.preventDefault());
for (const step of ["undo", "redo"]) {
  document.getElementById(step).addEventListener("click", () => turn(() => post(`${address}/${step}`, { version: tune.version })).catch(explain));
}
document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input:not([type=radio], [type=checkbox], [type=range]), textarea");
  if ((event.ctrlKey || event.metaKey) && !typing && event.key.toLowerCase() === "z") {
    event.preventDefault();
    document.getElementById(event.shiftKey ? "redo" : "undo").click();
  }
  if (event.key === "Escape" && !typing) player.stop();
});

// --- views ------------------------------------------------------------------------------------

const tabs = [...document.querySelectorAll("[role=tab]")];

function view(name) {
  shown = name;
  player.stop();
  for (const tab of tabs) {
    const own = tab.id === `tab-${name}`;
    tab.setAttribute("aria-selected", String(own));
    tab.tabIndex = own ? 0 : -1;
    document.getElementById(tab.getAttribute("aria-controls")).hidden = !own;
  }
  if (name !== "sheet" && tune) views[name].show(tune);
}

tabs.forEach((tab, index) => {
  tab.addEventListener("click", () => view(tab.id.slice(4)));
  tab.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = tabs[(index + step + tabs.length) % tabs.length];
    next.focus();
    view(next.id.slice(4));
  });
});

async function go(gap, focus = false) {
  if (gap === null) {
    const last = bench.number;
    bench.close();
    document.getElementById("view-sheet").classList.remove("open");
    sheet.mark(null);
    sheet.focusGap(last);
    return;
  }
  sheet.mark(gap);
  document.getElementById("bench-hint").hidden = true;
  document.getElementById("view-sheet").classList.add("open");
  const opened = bench.open(tune, gap, focus);
  sheet.reveal(gap);
  const paper = document.getElementById("sheet").getBoundingClientRect();
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  scrollTo({ top: scrollY + paper.top - 8, behavior: calm ? "auto" : "smooth" });
  await opened;
}

// --- begin ------------------------------------------------------------------------------------

player.load().catch(() => {});
offerPianos(document.getElementById("piano")).catch(explain);
get(address).then(take).catch((error) => {
  document.getElementById("sheet").replaceChildren(h("p", {}, error.message));
  explain(error);
});
