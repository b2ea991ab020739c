// The engraved lead sheet: gaps to choose, chord symbols to correct, and how it sounds as it is.

import { get, post } from "./api.js";
import { chordForm } from "./chordform.js";
import { calm, crop, engraved, fraction, h, number, pretty, s, toTheTop } from "./dom.js";
import { barren, beatName } from "./gap.js";
import { choiceWord, rightEnd, showDecided, writeWord } from "./gapmark.js";
import { explain } from "./notices.js";
import { narrow } from "./printing.js";
import { familyOf } from "./shapes.js";
import { slowerTempo } from "./slower.js";
import { t } from "./words.js";

const FIELD = 60; // around a symbol, in the engraver's measure
const LEAST_PX = 26; // a finger's target (WCAG 2.5.8 asks for 24)
const NARROW = `?printing=${encodeURIComponent(JSON.stringify({ paper: "phone" }))}`;

export class Sheet {
  // handlers: choose(gap number), chord({bar, onset, text}) -> promise
  constructor(paper, transport, handlers) {
    this.paper = paper;
    this.transport = transport;
    this.handlers = handlers;
    this.current = null;
    this.broken = new Map();
    this.tempos = new Map();
    paper.addEventListener("click", (event) => this.#from(event));
  }

  // The promise says when it is drawn.
  show(tune) {
    this.drawn = this.#draw(tune);
    return this.drawn;
  }

  async #draw(tune) {
    const turn = (this.turn = {});
    this.tune = tune;
    this.plain = this.fetched = null;
    this.paper.setAttribute("aria-busy", "true");
    let pages;
    try {
      ({ pages } = await get(`/api/tunes/${tune.id}/lead${narrow.matches ? NARROW : ""}`));
    } catch (error) {
      if (this.turn !== turn) return;
      this.paper.setAttribute("aria-busy", "false");
      this.paper.replaceChildren(h("p", {}, error.message), h("button", { type: "button", onclick: () => this.show(this.tune) }, t("sheet.draw_again")));
      return;
    }
    if (this.turn !== turn) return; // another is drawn meanwhile
    const drawings = pages.map(engraved);
    const adding = h("p", { class: "adding" }, h("button", { type: "button", class: "plain", onclick: (event) => this.edit(event.target) }, t("sheet.add_chord")));
    this.paper.replaceChildren(...drawings, adding);
    drawings.forEach((drawing, index) => {
      drawing.setAttribute("role", "group");
      drawing.setAttribute("aria-label", t("sheet.page", { title: tune.title, page: index + 1, pages: drawings.length }));
      crop(drawing);
    });
    this.gaps = this.#wire(".gap-mark", (mark) => this.#gapName(mark), (mark) => this.handlers.choose(Number(mark.dataset.gap)), "gap");
    this.chords = this.#wire(".chord-symbol", (symbol) => t("sheet.chord", { chord: pretty(symbol.dataset.text), bar: this.#barName(symbol.dataset.bar) }), (symbol) => this.edit(symbol), null);
    this.mark(this.current);
    this.paper.setAttribute("aria-busy", "false");
    this.#hearing().catch(() => {}); // whoever wants to hear it is told
  }

  // The drawing is the same for another player: only what is known of the tune changes. Nothing
  // is kept of a sheet that was never shown: it is still to be drawn when it is.
  keep(tune) {
    if (!this.drawn) return;
    this.tune = tune;
    if (this.gaps) this.mark(this.current);
  }

  // Make drawn things into buttons; one of a kind is in the tab order, arrows reach the others.
  #wire(selector, name, act, group) {
    const all = [...this.paper.querySelectorAll(selector)].filter((element) => !(Number(element.dataset.bar) < 0)); // added bars are not on the sheet
    const seen = new Set();
    const buttons = [];
    // A wide invisible field makes small symbols easy to hit. All are measured before any is
    // given one: measuring what has just been changed lays the whole page out anew.
    const drawings = [...this.paper.querySelectorAll(".score")];
    for (const drawing of drawings) drawing.classList.add("measured"); // a flat's box is far too high
    const boxes = group ? [] : all.map((element) => element.getBBox());
    for (const drawing of drawings) drawing.classList.remove("measured");
    const least = LEAST_PX / (all[0]?.getScreenCTM()?.a || 1);
    boxes.forEach(({ x, y, width, height }, index) => {
      const [beside, above] = [width, height].map((size) => Math.max(FIELD, (least - size) / 2));
      all[index].prepend(s("rect", { x: x - beside, y: y - above, width: width + 2 * beside, height: height + 2 * above, class: "field" }));
    });
    for (const element of all) {
      element.addEventListener("click", () => act(element));
      const key = group ? element.dataset[group] : element;
      if (seen.has(key)) continue;
      seen.add(key);
      element.setAttribute("role", "button");
      element.setAttribute("aria-label", name(element));
      element.setAttribute("tabindex", buttons.length ? "-1" : "0");
      buttons.push(element);
      element.addEventListener("keydown", (event) => {
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (event.key === "Enter" || event.key === " ") act(element);
        else if (event.key === "Home") focusOn(buttons, 0);
        else if (event.key === "End") focusOn(buttons, buttons.length - 1);
        else if (step) focusOn(buttons, buttons.indexOf(element) + step);
        else return;
        event.preventDefault();
      });
    }
    return buttons;
  }

  #gapName(mark) {
    const gap = this.tune.gaps[Number(mark.dataset.gap) - 1];
    const words = [t("sheet.gap", { number: gap.number, bar: gap.sheet_bar, beat: beatName(gap.beat), beats: fraction(gap.beats) }),
      gap.held ? t("sheet.held", { pitch: pretty(gap.held.pitch) }) : t("sheet.rest")];
    const pick = this.tune.picks[gap.number];
    if (pick) words.push(pick.fill === "open" ? t("sheet.stays_open") : t("sheet.your_choice", { family: t(`family.${familyOf(pick.fill)}`) }));
    else if (barren(gap)) {
      const tempo = this.#tempo(gap);
      words.push(t("sheet.barren"), ...(tempo ? [t("sheet.barren_slower", { tempo })] : []));
    }
    if (this.#isBroken(gap.number)) words.push(t("sheet.broken"));
    return words.join(", ");
  }

  #barName(index) {
    return this.tune.bars.find((bar) => bar.bar === Number(index))?.number ?? "";
  }

  // Show which gap was opened last, what has been chosen, where there is no idea, and where own
  // notes break a rule.
  mark(current) {
    this.current = current;
    if (!this.tune) return;
    for (const mark of this.paper.querySelectorAll(".gap-mark")) {
      const number = Number(mark.dataset.gap);
      const gap = this.tune.gaps[number - 1];
      if (!gap) continue;
      const pick = this.tune.picks[number];
      mark.classList.toggle("current", number === current);
      showDecided(mark, pick);
      mark.classList.toggle("barren", !pick && barren(gap));
      mark.classList.toggle("broken", this.#isBroken(number));
      mark.querySelector(".gap-word")?.remove(); // the first part of a gap over two lines has the words
      if (!mark.hasAttribute("aria-label")) continue;
      mark.setAttribute("aria-label", this.#gapName(mark));
      mark.setAttribute("aria-pressed", String(number === current));
      this.#word(mark, pick, gap);
    }
    this.#ask();
    this.#askTempos();
  }

  #word(mark, pick, gap) {
    const words = pick ? [choiceWord(pick)] : barren(gap) ? this.#barrenWords(gap) : [];
    if (this.#isBroken(gap.number)) words.push(`– ${t("sheet.word_broken")}`);
    writeWord(mark, words, pick, rightEnd(this.paper));
  }

  // --- gaps without ideas -----------------------------------------------------------------------

  // The tempo at which there are some; null: at none; undefined: not yet known.
  #tempo(gap) {
    return this.tempos.get(`${this.tune.sheet} ${gap.number}`);
  }

  #barrenWords(gap) {
    const tempo = this.#tempo(gap);
    return [tempo ? t("sheet.word_slower", { tempo }) : t("sheet.word_barren")];
  }

  // One after the other: whoever wants something else meanwhile waits for one question at most.
  async #askTempos() {
    const { tune } = this;
    if (this.asking === tune.sheet) return;
    this.asking = tune.sheet;
    for (const gap of tune.gaps) {
      if (this.tune.sheet !== tune.sheet || this.paper.closest("[hidden]")) break;
      if (!barren(this.tune.gaps[gap.number - 1] ?? gap) || this.#tempo(gap) !== undefined) continue;
      const wanted = () => this.tune.sheet === tune.sheet && !this.paper.closest("[hidden]");
      const found = await slowerTempo(`/api/tunes/${tune.id}/gaps/${gap.number}`, null, wanted).catch(() => undefined);
      if (found === undefined) break;
      this.tempos.set(`${tune.sheet} ${gap.number}`, found);
      if (this.tune.sheet === tune.sheet) this.mark(this.current);
    }
    this.asking = null;
  }

  // --- own notes that break a rule --------------------------------------------------------------

  #isBroken(gap) {
    return Boolean(this.broken.get(`${this.tune.sheet} ${gap} ${JSON.stringify(this.tune.picks[gap])}`));
  }

  // Choices with own notes are asked about once.
  async #ask() {
    const { tune } = this;
    for (const [gap, pick] of Object.entries(tune.picks)) {
      const key = `${tune.sheet} ${gap} ${JSON.stringify(pick)}`;
      if (this.broken.has(key) || !(pick.moves?.length || pick.lengths?.length || pick.added?.length)) continue;
      this.broken.set(key, false);
      try {
        const { findings } = await post(`/api/tunes/${tune.id}/gaps/${gap}/check`, pick);
        this.broken.set(key, findings.length > 0);
        if (findings.length && this.tune === tune) this.mark(this.current);
      } catch {
        this.broken.delete(key);
      }
    }
  }

  // --- hearing it as it is ----------------------------------------------------------------------

  offer() {
    this.transport.offer({ name: t("sheet.play"), start: () => this.play(), again: () => this.play(), bars: this.plain?.play.bars ?? null });
  }

  // How it sounds, and which drawn head is which note; fetched once, as soon as it is drawn.
  async #hearing() {
    const asked = this.fetched ??= get(`/api/tunes/${this.tune.id}/plain`);
    let found;
    try {
      found = await asked;
    } catch (error) {
      if (this.fetched === asked) this.fetched = null;
      throw error;
    }
    if (this.fetched !== asked) return this.#hearing(); // another sheet has been drawn
    if (this.plain === found) return;
    this.plain = found;
    this.heads = this.plain.heads.map((at, index) => [at, this.paper.querySelector(`[id$="-n${index}"]`)]).filter(([, head]) => head);
    if (document.body.dataset.view === "sheet") this.offer();
  }

  async play(from = null) {
    try {
      await this.#hearing();
      await this.transport.play(this.plain.play, { from, onnotes: (_, notes) => this.#lit(notes) });
    } catch (error) {
      explain(error);
    }
  }

  #lit(notes) {
    const now = new Set(notes.filter((note) => note.part === "melody").map((note) => note.at));
    let system = null;
    for (const [at, head] of this.heads) {
      head.classList.toggle("on", now.has(at));
      if (now.has(at)) system = head.closest(".system");
    }
    if (system && system !== this.system) {
      this.system = system;
      toTheTop(system);
    }
  }

  // A click on the music, beside gaps and chords, plays from there.
  async #from(event) {
    if (event.target.closest(".gap-mark, .chord-symbol, .chord-form, button") || !this.gaps) return;
    const system = event.target.closest(".system") ?? systemAt(this.paper, event.clientY);
    if (!system) return;
    try {
      await this.#hearing();
    } catch (error) {
      return explain(error);
    }
    const here = this.heads.filter(([, head]) => system.contains(head)).map(([at, head]) => [at, head.getBoundingClientRect()]);
    const found = here.findLast(([, box]) => box.left <= event.clientX) ?? here[0];
    const note = found && this.plain.play.notes.find((played) => played.at === found[0]);
    if (note) this.play(note.sec);
  }

  // Bring a gap into sight, and the focus to it.
  reveal(gap, focus) {
    const mark = this.gaps?.find((entry) => Number(entry.dataset.gap) === gap);
    if (!mark) return;
    mark.closest(".system").scrollIntoView({ block: "center", behavior: calm() ? "auto" : "smooth" });
    if (focus) focusOn(this.gaps, this.gaps.indexOf(mark));
  }

  // --- chords -----------------------------------------------------------------------------------

  send(chord) {
    return this.handlers.chord(chord);
  }

  edit(from) {
    chordForm(this, from);
  }

  // The symbol at a place, or the next one after it.
  focusChord(bar, onset) {
    const now = this.chords.findIndex((symbol) => Number(symbol.dataset.bar) >= bar && (Number(symbol.dataset.bar) > bar || number(symbol.dataset.onset) >= onset));
    focusOn(this.chords, now < 0 ? this.chords.length - 1 : now);
  }
}

export function systemAt(paper, y) {
  return [...paper.querySelectorAll(".system")].find((system) => {
    const { top, bottom } = system.getBoundingClientRect();
    return top <= y && y <= bottom;
  });
}

function focusOn(buttons, index) {
  const target = buttons[Math.max(0, Math.min(buttons.length - 1, index))];
  if (!target) return;
  for (const button of buttons) button.setAttribute("tabindex", button === target ? "0" : "-1");
  target.focus({ preventScroll: false });
}
