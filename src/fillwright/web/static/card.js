// One idea: what it is, its staff, how it sounds; hands, reasons and its notes are folded away.

import { libraryAddress } from "./address.js";
import { get, post } from "./api.js";
import { showGap } from "./around.js";
import { crop, engraved, h, number, toOneScale } from "./dom.js";
import { Editor } from "./editor.js";
import { emptyStaff } from "./emptystaff.js";
import { nextUndecided } from "./gap.js";
import { ideaLang, ideaName, inEnglish } from "./ideaname.js";
import { handPictures, light } from "./keyboard.js";
import { ideaOf } from "./ladder.js";
import { Own } from "./own.js";
import { shape } from "./shapes.js";
import { t } from "./words.js";

const FOLDS = ["hands", "why", "notes"];
const HARD = 4; // the last of the degrees of `ease`

export class Card {
  // bench: {tune, gap, hear(card), choose(card), hold(card), kept(card), save(card),
  // without(device), openLadder(card)}; `pick`: what is chosen for the gap, or a draft of the teacher's own notes
  constructor(bench, fill, pick, chosen) {
    this.bench = bench;
    this.fill = fill;
    this.shown = fill;
    this.own = new Own(fill, bench.gap, pick?.fill === fill.id ? pick : {}, bench.tune.tune.melody_octave);
    this.chosen = chosen;
    this.address = `/api/tunes/${bench.tune.id}/gaps/${fill.gap}`;
    this.#build();
    this.setChosen(chosen);
  }

  get pick() {
    return this.own.pick;
  }

  #build() {
    const { fill } = this;
    this.rank = h("span", { class: "rank", "aria-hidden": "true", title: t("keys.ranks") });
    this.badge = h("span", { class: "badge", hidden: true });
    this.proposed = h("span", { class: "proposal quiet", hidden: true }, t("card.proposed"));
    this.named = h("span");
    this.title = h("h3", {}, this.rank, shape(fill.family), this.named);
    this.staff = h("div", { class: "staff", "aria-busy": "true" });
    this.counts = h("p", { class: "counts unseen" }, h("span", { class: "label" }, t("card.count")), " ", h("span", { class: "said" }, fill.counts));
    this.meta = h("p", { class: "meta" });
    this.hear = h("button", { type: "button", class: "hear", onclick: () => this.bench.hear(this) }, t("card.hear"));
    this.choose = h("button", { type: "button", class: "choose", onclick: () => this.bench.choose(this) }, t("card.choose"));
    this.bodies = {
      hands: h("div", { class: "pictures" }),
      why: h("div", { class: "why-body" }),
      notes: h("div", { class: "notes-body" }),
    };
    this.toggles = {};
    for (const name of FOLDS) {
      const body = this.bodies[name];
      body.hidden = true;
      this.toggles[name] = h("button", { type: "button", class: "fold", "aria-expanded": "false", onclick: () => this.toggle(name) }, t(`card.fold_${name}`));
    }
    this.steps = h("button", { type: "button", class: "fold steps", hidden: true, title: t("card.ladder_what"), onclick: () => this.bench.openLadder(this) }, t("card.ladder"));
    this.element = h("article", { class: `card ${fill.family}`, "data-fill": fill.id, onfocusin: () => this.bench.hold(this) },
      h("header", {}, this.title, h("span", { class: "family-name" }, t(`family.${fill.family}`)), this.proposed, this.badge), this.counts, this.staff, h("div", { class: "print-only to-write" }, emptyStaff()), this.meta,
      h("div", { class: "row acts" }, this.hear, this.choose),
      h("div", { class: "row folds" }, Object.values(this.toggles), this.steps),
      FOLDS.map((name) => this.bodies[name]));
    this.#describe(fill);
  }

  place(rank) {
    this.rank.textContent = String(rank);
    this.element.setAttribute("aria-label", t("card.name", { family: t(`family.${this.fill.family}`), device: ideaName(this.fill.device), rank }));
  }

  #describe(fill) {
    this.shown = fill;
    this.named.lang = ideaLang(fill.device) ?? document.documentElement.lang;
    this.named.textContent = ideaName(fill.device);
    const { gap } = this.bench;
    const player = t(`card.player_${fill.level}`);
    const ease = h("span", { class: "ease" }, fill.ease === HARD && this.bench.isFirst(this.fill) ? t("card.ease_first", { player }) : t(`card.ease_${fill.ease}`, { player }));
    const words = [];
    if (this.own.base) words.push(t("card.own"));
    if (fill.notes.length && gap.held) words.push(t(fill.melody_kept === "released" && fill.ends_as_written ? "card.kept_written" : `card.kept_${fill.melody_kept}`));
    if (fill.shift) words.push(t(number(fill.shift.landing_quarter) < number(gap.landing.onset_quarter) ? "card.early" : "card.late"));
    this.meta.replaceChildren(ease, " ", words.join(" "));
    const added = fill.chords.filter((chord) => chord.added).length;
    this.bodies.why.replaceChildren(
      inEnglish(),
      h("ul", { class: "reasons", lang: "en" }, fill.reasons.map((reason) => h("li", {}, reason))),
      h("p", { class: "quiet" }, added ? `${t("card.added", { count: added })} ` : "", t("card.difficulty", { difficulty: fill.difficulty, most: fill.most_difficulty, player })),
      h("p", { class: "row" },
        h("button", { type: "button", class: "plain small", onclick: () => this.bench.without(fill.device) }, t("card.without")),
        h("a", { class: "small", href: libraryAddress(this.bench.tune, fill.gap, fill.device) }, t("card.elsewhere"))));
    const { element, figures } = handPictures(fill.pictures);
    this.figures = figures;
    this.spans = fill.pictures.map((picture) => ({ from: number(picture.onset_quarter), to: number(picture.end_quarter) }));
    this.bodies.hands.replaceChildren(element);
  }

  // Own notes made earlier: the hand pictures are those of these notes.
  async restore() {
    if (this.own.changed) await this.check();
  }

  toggle(name, open = this.bodies[name].hidden) {
    this.bodies[name].hidden = !open;
    this.toggles[name].setAttribute("aria-expanded", String(open));
    if (open && name !== "notes") this.bodies[name].scrollIntoView({ block: "nearest" });
    if (name === "notes") {
      if (open && !this.editor) {
        this.editor = new Editor(this);
        this.bodies.notes.replaceChildren(this.editor.element);
      }
      if (open) this.editor.open();
      else this.editor.close();
      if (!open) return;
      this.editor.element.focus({ preventScroll: true });
      this.element.scrollIntoView({ block: "nearest" });
    }
  }

  // Engrave the small staff; a drawing that comes too late for a newer one is dropped.
  async draw() {
    const asked = JSON.stringify(this.pick);
    if (this.asked === asked) return;
    this.asked = asked;
    try {
      const drawn = await post(`${this.address}/staff`, this.pick);
      if (this.asked !== asked) return;
      const svg = engraved(drawn.svg);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", t("card.staff", { device: ideaName(this.fill.device) }));
      this.staff.replaceChildren(svg);
      this.elements = new Map();
      this.keys = drawn.keys;
      const byId = new Map([...svg.querySelectorAll("[id]")].map((element) => [element.id, element]));
      for (const [index, id] of Object.entries(drawn.elements)) this.elements.set(Number(index), byId.get(id));
      showGap(svg, this.elements, this.keys, this.own.start, this.#end);
      crop(svg, 8, 0.78);
      toOneScale(this.element.parentElement);
      this.editor?.show();
    } catch (error) {
      this.asked = null;
      this.staff.replaceChildren(h("p", { class: "quiet" }, error.message));
    }
    this.staff.setAttribute("aria-busy", "false");
  }

  // Where its gap ends: at the landing as it is played.
  get #end() {
    const { shift } = this.shown;
    return shift ? number(shift.landing_quarter) : this.own.start + number(this.bench.gap.duration_quarter);
  }

  async sound() {
    const asked = JSON.stringify(this.pick);
    if (this.soundOf !== asked) {
      this.soundOf = asked;
      this.score = post(`${this.address}/heard`, this.pick);
      this.score.catch(() => { this.soundOf = null; });
    }
    return this.score;
  }

  // What has been fetched of its sound may be out of date.
  forget() {
    this.soundOf = null;
  }

  // What sounds now, on the staff and on the hand pictures.
  lit(indices, notes) {
    for (const element of this.litNow ?? []) element.classList.remove("on");
    this.litNow = indices.map((index) => this.elements?.get(index)).filter(Boolean);
    for (const element of this.litNow) element.classList.add("on");
    light(this.figures, this.spans, notes);
  }

  setPlaying(playing) {
    this.hear.textContent = playing ? t("card.stop") : t("card.hear");
    this.hear.setAttribute("aria-pressed", String(playing));
    this.element.classList.toggle("playing", playing);
  }

  // The idea in hand is the one that a key chooses; its number is marked.
  setHeld(held) {
    this.element.classList.toggle("held", held);
  }

  setBadge(text) {
    this.badge.textContent = text;
    this.badge.hidden = !text;
  }

  // Its rungs, from its own level down to a beginner's.
  ladder() {
    if (!this.rungs) {
      this.rungs = get(`${this.address}/ladder?fill=${encodeURIComponent(ideaOf(this.fill.id))}`);
      this.rungs.catch(() => { this.rungs = null; });
    }
    return this.rungs;
  }

  // Easier is offered where something on the ladder is noticeably so.
  async offerSteps() {
    if (this.own.base) return;
    const { easier } = await this.ladder();
    if (easier) this.steps.hidden = false;
  }

  // The server is keeping the choice.
  setChoosing(choosing) {
    this.element.classList.toggle("choosing", choosing);
    this.choose.setAttribute("aria-busy", String(choosing));
  }

  // Whether a rung of its ladder is what has been chosen.
  setEasier(easier) {
    if (easier) this.steps.hidden = false;
    this.steps.textContent = t(easier ? "card.ladder_chosen" : "card.ladder");
    this.steps.classList.toggle("chosen", easier);
  }

  setChosen(chosen) {
    this.chosen = chosen;
    this.element.classList.toggle("chosen", chosen);
    const { tune, number: gap } = this.bench;
    this.proposed.hidden = Boolean(tune.picks[gap]) || tune.rest?.[gap]?.fill !== this.fill.id;
    this.choose.setAttribute("aria-pressed", String(chosen));
    const next = chosen ? null : nextUndecided(this.bench.tune, this.bench.number);
    this.choose.replaceChildren(t(chosen ? "card.chosen" : "card.choose"), ...(next ? [" ", h("span", { class: "then" }, t("card.then", { gap: next }))] : []));
  }

  // --- own notes ------------------------------------------------------------------------------

  // A change of a chosen idea is a change of the choice, which undo takes back; of another it is
  // kept until it is chosen.
  async changed() {
    const asked = JSON.stringify(this.pick);
    this.bench.kept(this);
    if (!await this.check() || asked !== JSON.stringify(this.pick)) return;
    this.draw();
    if (this.chosen) this.bench.save(this);
  }

  // What the rules say of the notes as they are; says whether they can stand.
  async check() {
    const asked = JSON.stringify(this.pick);
    this.checking = asked;
    try {
      const fill = await post(`${this.address}/check`, this.pick);
      if (this.checking !== asked) return false;
      this.refused = null;
      this.findings = fill.findings;
      this.#describe(fill);
    } catch (error) {
      if (this.checking !== asked) return false;
      this.refused = error.message;
    }
    this.editor?.show();
    return !this.refused;
  }
}
