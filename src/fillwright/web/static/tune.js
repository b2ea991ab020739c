// The page of a tune: where one is, and one state that the server keeps.

import { here, went } from "./address.js";
import { get, post, put } from "./api.js";
import { Bench } from "./bench.js";
import { Chorus } from "./chorus.js";
import { h } from "./dom.js";
import { follow } from "./events.js";
import { decided, nextUndecided } from "./gap.js";
import { HandOut } from "./handout.js";
import { Handouts } from "./handouts.js";
import { Keys } from "./keys.js";
import { keyActions } from "./keymap.js";
import { explain, notify } from "./notices.js";
import { offerPianos } from "./pianos.js";
import { player } from "./player.js";
import { narrow } from "./printing.js";
import { Settings } from "./settings.js";
import { Sheet } from "./sheet.js";
import { Takes } from "./takes.js";
import { Transport } from "./transport.js";
import { t } from "./words.js";

const id = document.body.dataset.tune;
const address = `/api/tunes/${id}`;
const part = (name) => document.getElementById(name);

let tune = null;
let place = here();
const settings = new Settings(part("drawer"), part("settings"), change);
const transport = new Transport(part("transport"));
const sheet = new Sheet(part("sheet"), transport, { choose: (gap) => go({ view: "gap", gap }), chord: (chord) => change({ chord }) });
const bench = new Bench(part("bench"), transport, {
  change, go: (gap) => go({ view: "gap", gap }, { anew: true, focus: true }),
  handOut: (from) => handOut.show(from),
  next: (after) => onward(after), chorus: () => go({ view: "chorus" }), went: (where, anew) => { place = where; went(where, anew); },
});
const chorus = new Chorus(part("view-chorus"), transport, { go: (gap) => go({ view: "gap", gap }), change });
const handOut = new HandOut(part("into"));
const handouts = new Handouts(part("view-hand"), chorus);
const takes = new Takes(part("view-take"), transport, {
  change, go: (gap) => go({ view: "gap", gap }), went: (take, anew) => { place = { ...place, take }; went(place, anew); },
});
const rooms = { chorus, hand: handouts, take: takes };
const tabs = [...document.querySelectorAll(".views [role=tab]")];

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
      const next = await send();
      if (next) take(next);
    } catch (error) {
      if (error.status === 409) {
        take(await get(address));
        notify(error.message, "error");
      } else throw error;
    }
  });
  waiting = done.catch(() => {});
  return done;
}

function take(next) {
  const before = tune;
  tune = next;
  for (const step of ["undo", "redo"]) {
    const button = part(step);
    button.disabled = !tune[step];
    button.title = tune[step] ? t(`tune.${step}_what`, { what: tune[step] }) : "";
  }
  settings.show(tune);
  part("hint").textContent = t(tune.gaps.length ? "tune.hint" : "tune.no_gap");
  part("warnings").replaceChildren(...tune.warnings.map((warning) => h("li", {}, warning)));
  for (const message of tune.lost ?? []) notify(message);
  showGoOn();
  if (!before) apply(place);
  else if (before.sheet === tune.sheet) {
    sheet.keep(tune);
    bench.refresh(tune);
  } else afresh(before);
  rooms[place.view]?.show(tune, place);
}

// Whether it is known what the program plays in each gap, and how many ideas there are.
const whole = ({ rest, gaps }) => Boolean(rest) && gaps.every((gap) => gap.ideas);

// Another player, another form or another chord: what is looked at is made anew. An open gap
// stays open where it still is.
function afresh(before) {
  if (bench.number !== null) {
    const gap = samePlace(before.gaps[bench.number - 1]);
    const inside = part("bench").contains(document.activeElement);
    if (gap === null) {
      bench.close();
      if (place.view === "gap") go({ view: "sheet" }, { anew: false });
    } else {
      const { kind } = place;
      place = { view: place.view, gap, kind, idea: null };
      if (place.view === "gap") went(place, false);
      bench.open(tune, { gap, kind }, inside); // these go on while the next change is made
    }
  }
  if (before.drawing === tune.drawing) sheet.keep(tune);
  else sheet.show(tune);
}

// The number that a gap has in the form as it is now, or null.
function samePlace(was) {
  const found = tune.gaps.find((gap) => gap.bar === was.bar && gap.pass === was.pass && gap.beat === was.beat);
  return found?.number ?? null;
}

// --- where one is -----------------------------------------------------------------------------

async function onward(after) {
  const next = nextUndecided(tune, after);
  if (next !== null) await go({ view: "gap", gap: next }, { quiet: true });
}

function showGoOn() {
  const next = nextUndecided(tune);
  const button = part("go-on");
  button.hidden = !tune.gaps.length;
  button.textContent = next === null ? t("tune.to_chorus") : t(decided(tune) ? "tune.go_on" : "tune.begin", { gap: next });
}

// Go somewhere. anew: a step that the way back undoes; focus: on what is new; quiet: nobody is
// waiting for the ideas to be there.
async function go(where, { anew = true, focus = true, quiet = false } = {}) {
  place = { gap: null, kind: null, idea: null, ladder: false, take: null, ...where };
  went(place, anew);
  const there = apply(place, focus);
  if (!quiet) await there;
}

function apply(where, focus = false) {
  const view = where.view === "gap" && !tune.gaps[(where.gap ?? 0) - 1] ? "sheet" : where.view;
  const moved = document.body.dataset.view !== view;
  document.body.dataset.view = view;
  part("drawer").open = false;
  for (const tab of tabs) {
    const own = tab.id === `tab-${view}`;
    tab.setAttribute("aria-selected", String(own));
    tab.tabIndex = own ? 0 : -1;
    part(tab.getAttribute("aria-controls")).hidden = !own;
  }
  if (moved) player.stop();
  if (view === "gap") {
    if (moved || bench.number !== where.gap) scrollTo(0, 0);
    sheet.mark(where.gap);
    return bench.open(tune, where, focus);
  }
  const last = bench.number;
  bench.close();
  if (view === "sheet") {
    const shown = sheet.tune?.drawing === tune.drawing ? sheet.keep(tune) : sheet.show(tune);
    sheet.offer();
    if (last) sheet.drawn.then(() => sheet.reveal(last, focus));
    return shown;
  }
  transport.offer(null);
  return rooms[view].show(tune, where);
}

function view(name) {
  if (name === "gap") {
    const gap = sheet.current ?? nextUndecided(tune) ?? 1;
    if (tune.gaps.length) go({ view: "gap", gap }, { focus: false });
  } else go({ view: name, take: name === "take" ? takes.open : null }, { focus: false });
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
addEventListener("popstate", () => {
  if (!tune) return;
  place = here();
  apply(place, true);
});

// A screen that is turned has room for more, or for less, in a line.
narrow.addEventListener("change", () => {
  if (!tune || matchMedia("print").matches) return;
  if (sheet.drawn) sheet.show(tune);
  if (place.view === "chorus") chorus.show(tune);
});

// --- keys and buttons -------------------------------------------------------------------------

const keys = new Keys(part("keys"), keyActions({
  bench, transport, view, undecided: () => { const next = nextUndecided(tune, bench.number ?? 0); if (next !== null) go({ view: "gap", gap: next }); },
  step: (by) => { const gap = (bench.number ?? 0) + by; if (tune.gaps[gap - 1]) go({ view: "gap", gap }); },
  back: () => { if (bench.playing) bench.stop(); else if (player.playing) player.stop(); else if (bench.ladder) bench.closeLadder(); else if (place.view !== "sheet") go({ view: "sheet" }); },
  help: () => keys.show(), record: () => takes.recorder.toggle(),
}), () => document.body.dataset.view);
part("show-keys").addEventListener("click", () => keys.show());
part("go-on").addEventListener("click", () => {
  const next = nextUndecided(tune);
  go(next === null ? { view: "chorus" } : { view: "gap", gap: next });
});
for (const step of ["undo", "redo"]) {
  part(step).addEventListener("click", () => turn(() => post(`${address}/${step}`, { version: tune.version })).catch(explain));
}
document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input:not([type=radio], [type=checkbox], [type=range]), textarea");
  if ((event.ctrlKey || event.metaKey) && !typing && event.key.toLowerCase() === "z") {
    event.preventDefault();
    part(event.shiftKey ? "redo" : "undo").click();
  }
});

// --- begin ------------------------------------------------------------------------------------

player.load().catch(() => {});
offerPianos(part("piano")).catch(explain);
get(address).then((now) => {
  take(now);
  follow(now.id, ({ version, chosen }) => turn(() => (version > tune.version || (chosen && !whole(tune)) ? get(address) : null)).catch(explain));
}).catch((error) => {
  part("sheet").replaceChildren(h("p", {}, error.message));
  explain(error);
});
