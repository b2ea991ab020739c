// One gap, one screen: its phrase on top, three ideas side by side, and what is decided.

import { get, post } from "./api.js";
import { Card } from "./card.js";
import { Drafts } from "./drafts.js";
import { crop, engraved, h, measureRoom, toOneScale } from "./dom.js";
import { barren, decided, where, whyOpen } from "./gap.js";
import { choiceWord, rightEnd, showDecided, writeWord } from "./gapmark.js";
import { ideaLang, ideaName, inEnglish, spelled } from "./ideaname.js";
import { Ideas, IN_SIGHT } from "./ideas.js";
import { ideaOf, missingList, rungElement } from "./ladder.js";
import { player } from "./player.js";
import { shape } from "./shapes.js";
import { KINDS, libraryAddress } from "./address.js";
import { explain } from "./notices.js";
import { typedForm } from "./typed.js";
import { listed, parts, t } from "./words.js";

const LEAST_LEFT_SEC = 1.5; // common practice: less is no comparison

export class Bench {
  // handlers: change(change) -> promise, go(gap), next(after), chorus(), went(place, anew),
  // handOut(bench)
  constructor(element, transport, handlers) {
    this.element = element;
    this.transport = transport;
    this.handlers = handlers;
    this.number = null;
    this.playing = null;
    this.pair = [];
    this.saying = null;
    addEventListener("resize", () => this.row && this.#fit());
    this.source = { name: t("bench.play_phrase"), start: () => this.hearPhrase(), swap: () => this.swap(), again: () => this.#again(), alone: true, counted: false };
  }

  // Open a gap at a tab and an idea; what is left out is decided here. The families come one by
  // one, so that the first can be seen and heard before the last is worked out.
  async open(tune, { gap, kind, idea, ladder }, focus = false) {
    if (!tune.gaps[gap - 1]) return this.close();
    const stays = gap === this.number && tune.sheet === this.tune?.sheet;
    this.stop();
    this.tune = tune;
    this.number = gap;
    this.gap = tune.gaps[gap - 1];
    this.drafts = new Drafts(tune.id);
    const turn = (this.turn = {});
    this.element.hidden = false;
    this.element.setAttribute("aria-busy", "true");
    if (!stays) {
      this.pair = [];
      this.cards = new Map();
      this.ideas = new Ideas(this.#address());
      this.ownPick = null;
      this.#build();
    }
    this.transport.offer(this.source);
    this.kind = kind ?? KINDS[0];
    this.page = idea ? Math.floor((idea - 1) / IN_SIGHT) : 0;
    this.slot = idea ? (idea - 1) % IN_SIGHT : null;
    this.ladder = null;
    this.#render();
    if (focus) this.element.querySelector("h2").focus({ preventScroll: true });
    try {
      await this.#load(turn, !idea && !kind);
    } catch (error) {
      if (this.turn === turn) this.#failed(error);
      return;
    }
    if (this.turn !== turn) return;
    if (ladder && this.held) return this.openLadder(this.held, false);
    this.element.setAttribute("aria-busy", "false");
    this.#prepare();
  }

  // What is shown of each family; `find`: go to the idea that has been chosen.
  async #load(turn, find) {
    await this.#own(turn);
    for (const family of KINDS.slice(1)) {
      await this.ideas.need(family, IN_SIGHT);
      if (this.turn !== turn) return;
      this.#render();
    }
    const pick = this.tune.picks[this.number];
    if (find && pick && pick.fill !== "open") {
      const found = await this.ideas.find(ideaOf(pick.fill));
      if (this.turn !== turn) return;
      if (found) Object.assign(this, found);
    } else if (this.page) await this.ideas.page(this.kind, this.page);
    if (this.turn === turn) this.#render();
  }

  // A fill of the teacher's own, be it chosen or kept in this tab, stands among the ideas.
  async #own(turn) {
    const pick = this.tune.picks[this.number];
    const own = pick?.own ? pick : this.drafts.own(this.gap);
    if (!own || this.ideas.own?.id === own.fill) return;
    const fill = await post(`${this.#address()}/check`, { fill: own.fill, moves: [], own: own.own });
    if (this.turn !== turn) return;
    this.ideas.own = fill;
    this.ownPick = own;
  }

  close() {
    this.stop();
    this.turn = null;
    this.number = null;
    this.element.hidden = true;
  }

  #address() {
    return `/api/tunes/${this.tune.id}/gaps/${this.number}`;
  }

  #failed(error) {
    this.element.setAttribute("aria-busy", "false");
    const again = h("button", { type: "button", onclick: () => this.open(this.tune, { gap: this.number, kind: this.kind }, true) }, t("bench.try_again"));
    this.row.replaceChildren(h("div", { class: "nothing" }, h("p", {}, error.message), again));
    explain(error);
  }

  // --- what stands there ----------------------------------------------------------------------

  #build() {
    const { gap, tune } = this;
    const go = (to) => () => this.handlers.go(to);
    this.phrase = h("div", { class: "paper phrase", role: "group", "aria-label": t("bench.phrase"), "aria-busy": "true", tabindex: "0" });
    this.tabs = h("div", { class: "kinds", role: "tablist", "aria-label": t("bench.kinds") }, KINDS.map((kind) => h("button", {
      type: "button", role: "tab", id: `kind-${kind}`, "aria-controls": "ideas", class: kind, onclick: () => this.tab(kind), onkeydown: (event) => this.#tabKey(event, kind),
    }, kind === KINDS[0] ? null : shape(kind), t(`bench.kind_${kind}`))));
    this.row = h("div", { class: "ideas", id: "ideas", role: "tabpanel", "aria-labelledby": `kind-${KINDS[0]}` });
    this.row.addEventListener("scroll", () => this.#swiped(), { passive: true });
    this.pager = h("div", { class: "pager" });
    this.decide = h("div", { class: "row decide", role: "group", "aria-label": t("bench.decide") });
    this.progress = h("div", { class: "decided" });
    this.said = h("div", { class: "saying", role: "status" });
    this.typing = typedForm(this.#address(), (pick) => this.#typed(pick));
    this.element.replaceChildren(
      h("p", { class: "print-only name-line" }, t("bench.whose"), " ", h("span")),
      h("div", { class: "gap-head" },
        h("div", { class: "gap-title" },
          h("button", { type: "button", class: "step", "aria-label": t("bench.before"), disabled: gap.number <= 1, onclick: go(gap.number - 1) }, "‹"),
          h("h2", { tabindex: "-1" }, parts("bench.gap_of", { number: gap.number, total: h("span", { class: "quiet" }, t("bench.of", { total: tune.gaps.length })) })),
          h("button", { type: "button", class: "step", "aria-label": t("bench.next"), disabled: gap.number >= tune.gaps.length, onclick: go(gap.number + 1) }, "›")),
        h("p", { class: "where" }, where(gap), " ", h("a", { class: "elsewhere", href: libraryAddress(tune, gap.number) }, t("bench.where_else"))), this.progress),
      this.said, this.phrase,
      h("div", { class: "answers" }, this.tabs, this.pager, this.decide), this.row,
      h("p", { class: "legend quiet" }, t("bench.legend"), spelled()),
      this.typing.element, h("p", { class: "print-only caution" }, t("tune.caution")));
    this.#showDecided();
    this.#say();
    this.#drawPhrase();
  }

  // Notes that were typed are in their gap, and stand among the ideas.
  async #typed(pick) {
    const { number } = this;
    const { findings } = await post(`${this.#address()}/check`, pick);
    await this.handlers.change({ pick: { gap: number, ...pick } });
    if (this.number !== number) return;
    await this.open(this.tune, { gap: number });
    this.typing.say(findings);
  }

  async #drawPhrase() {
    const { turn } = this;
    try {
      const drawn = await get(`${this.#address()}/phrase`);
      if (this.turn !== turn && this.phrase.firstChild) return;
      const svg = engraved(drawn.svg);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", `${t("bench.phrase")}: ${where(this.gap)}`);
      this.phrase.replaceChildren(svg);
      this.#markPhrase();
      this.heads = drawn.heads.map((at, index) => [at, svg.querySelector(`#phrase-n${index}`)]).filter(([, head]) => head);
      for (const mark of svg.querySelectorAll(".gap-mark")) {
        const number = Number(mark.dataset.gap);
        if (number !== this.number) mark.addEventListener("click", () => this.handlers.go(number));
      }
      const own = svg.querySelector(".gap-mark.current")?.getBoundingClientRect();
      const paper = this.phrase.getBoundingClientRect();
      if (own) this.phrase.scrollLeft += own.left + own.width / 2 - paper.left - paper.width / 2;
    } catch (error) {
      this.phrase.replaceChildren(h("p", { class: "quiet" }, error.message));
    }
    this.phrase.setAttribute("aria-busy", "false");
  }

  // Which gap of the phrase is open, and which are decided.
  #markPhrase() {
    const marks = [...this.phrase.querySelectorAll(".gap-mark")];
    marks.forEach((mark, index) => {
      const number = Number(mark.dataset.gap);
      const pick = this.tune.picks[number];
      mark.classList.toggle("current", number === this.number);
      showDecided(mark, pick);
      const isFirst = marks.findIndex((other) => Number(other.dataset.gap) === number) === index;
      writeWord(mark, pick && isFirst ? [choiceWord(pick)] : [], pick, rightEnd(this.phrase));
    });
    const drawing = this.phrase.querySelector(".score");
    if (drawing) crop(drawing, 10, 0.62);
    this.#fit();
  }

  // The ideas in sight, as far as they are there.
  #render() {
    this.shown = this.ideas.inSight(this.kind, this.page).map((found) => (found.fill ? this.#card(found.fill) : found));
    if (this.row.classList.contains("ladder")) {
      this.row.classList.remove("ladder");
      this.row.replaceChildren();
    }
    // What is there already stays where it is, and keeps the focus, while the others come.
    this.shown.forEach((item, index) => {
      const there = this.row.children[index];
      const element = item instanceof Card ? item.element : this.#empty(item);
      if (item instanceof Card) item.place(index + 1);
      if (!there) this.row.append(element);
      else if (there !== element) there.replaceWith(element);
    });
    while (this.row.children.length > this.shown.length) this.row.lastChild.remove();
    toOneScale(this.row);
    this.#fit();
    this.row.setAttribute("aria-labelledby", `kind-${this.kind}`);
    for (const tab of this.tabs.children) {
      const own = tab.id === `kind-${this.kind}`;
      tab.setAttribute("aria-selected", String(own));
      tab.tabIndex = own ? 0 : -1;
    }
    this.pager.replaceChildren(
      h("button", { type: "button", class: "step", "aria-label": t("bench.fewer"), disabled: !this.page, onclick: () => this.more(-1) }, "‹"),
      h("button", { type: "button", class: "more", disabled: !this.ideas.maybeMore(this.kind, this.page), onclick: () => this.more(1) }, t("bench.more")));
    this.pager.hidden = !this.page && this.shown.every((item) => item.reason);
    const cards = this.shown.filter((item) => item instanceof Card);
    const held = this.shown[this.slot ?? -1];
    if (cards.length) this.#hold(held instanceof Card ? held : cards.find((card) => card.chosen) ?? cards[0]);
  }

  // After a frame: what is above may have become higher.
  #fit() {
    cancelAnimationFrame(this.fitting);
    this.fitting = requestAnimationFrame(() => measureRoom(this.row));
  }

  #card(fill) {
    const pick = this.tune.picks[this.number];
    if (!this.cards.has(fill.id)) {
      const chosen = pick?.fill === fill.id;
      const own = this.ownPick?.fill === fill.id ? this.ownPick : null;
      this.cards.set(fill.id, new Card(this, fill, this.drafts.get(this.gap, fill.id) ?? (chosen ? pick : own), chosen));
    }
    const card = this.cards.get(fill.id);
    card.setEasier(easierChosen(pick, fill.id));
    return card;
  }

  // --- step by step ---------------------------------------------------------------------------

  // The rungs of an idea stand where the ideas stood; `anew`: a step that the way back undoes.
  async openLadder(card = this.held, anew = true) {
    if (!card) return;
    if (this.ladder) return this.closeLadder();
    this.stop();
    const idea = ideaOf(card.fill.id);
    const turn = (this.turn = {});
    this.hold(card);
    this.element.setAttribute("aria-busy", "true");
    try {
      const found = await card.ladder();
      if (this.turn !== turn) return;
      this.ladder = { idea, place: { page: this.page, slot: this.slot } };
      this.shown = found.rungs.map(({ fill }) => this.#card(fill));
      this.shown.forEach((item, index) => item.place(index + 1));
      this.row.classList.add("ladder");
      this.row.style.setProperty("--rungs", String(Math.max(2, Math.min(4, this.shown.length))));
      this.row.replaceChildren(...found.rungs.map((rung, index) => rungElement(rung, this.shown[index], index + 1)), missingList(found.missing) ?? "");
      this.row.scrollLeft = 0;
      this.pager.replaceChildren(
        h("button", { type: "button", class: "more to-ideas", onclick: () => this.closeLadder() }, t("ladder.close")),
        h("a", { class: "study", href: `${this.#address()}/study?fill=${encodeURIComponent(idea)}`, download: "" }, t("ladder.print")));
      this.#hold(this.shown.find((item) => item.chosen) ?? this.shown[0]);
      this.#went(anew);
      this.#prepare();
    } catch (error) {
      explain(error);
    }
    this.element.setAttribute("aria-busy", "false");
  }

  closeLadder() {
    if (!this.ladder) return;
    this.stop();
    Object.assign(this, this.ladder.place);
    this.ladder = null;
    this.#render();
    this.#went(true);
  }

  #empty({ family, reason, working }) {
    if (working) return h("div", { class: `card working ${family}` }, h("p", { class: "quiet" }, t("bench.working")));
    const tempo = h("p", {});
    if (reason) this.#slower(family, tempo);
    const head = family ? [shape(family), t(reason ? "bench.none" : "bench.no_more", { family: t(`family.${family}`) })] : t("bench.none_at_all");
    return h("div", { class: `card nothing ${family ?? "whole"}` }, h("h3", {}, head),
      reason ? inEnglish() : null, reason ? h("p", { lang: "en" }, `${reason[0].toUpperCase()}${reason.slice(1)}.`) : null, tempo);
  }

  // At which tempo there are ideas, once that is found; what cannot be found is not said.
  async #slower(family, says) {
    const { ideas } = this;
    const found = await ideas.slower(family, () => this.ideas === ideas && this.number !== null).catch(() => undefined);
    if (found === null) says.textContent = t("bench.not_slower");
    else if (found) says.replaceChildren(t("bench.slower", { tempo: found }), " ", h("button", { type: "button", class: "small", onclick: () => this.#change({ settings: { tempo: found } }) }, t("bench.set_tempo", { tempo: found })));
  }

  // --- where one is ---------------------------------------------------------------------------

  tab(kind) {
    this.kind = kind;
    this.#turn(0, true);
  }

  #tabKey(event, kind) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const next = KINDS[(KINDS.indexOf(kind) + step + KINDS.length) % KINDS.length];
    this.tab(next);
    document.getElementById(`kind-${next}`).focus();
  }

  nextTab(by) {
    this.tab(KINDS[(KINDS.indexOf(this.kind) + by + KINDS.length) % KINDS.length]);
  }

  more(by) {
    if (this.ladder) return;
    if (this.page + by < 0 || (by > 0 && !this.ideas.maybeMore(this.kind, this.page))) return;
    this.#turn(this.page + by, false);
  }

  async #turn(page, anew) {
    this.stop();
    this.ladder = null;
    this.page = page;
    this.slot = 0;
    const turn = (this.turn = {});
    this.#went(anew);
    this.element.setAttribute("aria-busy", "true");
    try {
      await this.ideas.page(this.kind, page);
      if (this.turn !== turn) return;
      this.#render();
      this.row.scrollLeft = 0;
      this.#prepare();
    } catch (error) {
      explain(error);
    }
    this.element.setAttribute("aria-busy", "false");
  }

  #went(anew) {
    const { page, slot } = this.ladder?.place ?? this;
    this.handlers.went({ view: "gap", gap: this.number, kind: this.kind, idea: page * IN_SIGHT + (slot ?? 0) + 1, ladder: Boolean(this.ladder) }, anew);
  }

  // The idea in hand is the one that a key chooses; the address names it.
  hold(card) {
    this.#hold(card);
    this.#went(false);
  }

  #hold(card) {
    const slot = this.shown.indexOf(card);
    if (slot < 0) return;
    this.held?.setHeld(false);
    this.held = card;
    this.slot = slot;
    card.setHeld(true);
  }

  // On a small screen the ideas are swiped: the one in sight is in hand.
  #swiped() {
    if (this.row.scrollWidth <= this.row.clientWidth + 4) return;
    const middle = this.row.getBoundingClientRect().left + this.row.clientWidth / 2;
    const card = this.shown.find((item) => {
      const box = item.element?.getBoundingClientRect();
      return box && box.left < middle && middle < box.right;
    });
    if (card && card !== this.held) this.hold(card);
  }

  // Staves and sounds of the ideas in sight are fetched while nobody is waiting for them.
  async #prepare() {
    const { turn } = this;
    player.load().catch(() => {});
    const cards = this.shown.filter((item) => item instanceof Card);
    for (const work of ["draw", "restore", "sound", "offerSteps"]) {
      for (const card of cards) {
        if (this.turn !== turn) return;
        await card[work]().catch(work === "restore" ? explain : () => {});
      }
    }
  }

  // --- hearing --------------------------------------------------------------------------------

  hearAt(slot) {
    const card = this.shown?.[slot];
    if (card instanceof Card) this.hear(card);
  }

  // `from`: seconds in the score, to go on from there in another idea.
  async hear(card, from = null) {
    const same = this.playing === card;
    this.stop();
    if (same) return;
    this.hold(card);
    card.element.scrollIntoView({ block: "nearest", inline: "center", behavior: "instant" });
    this.#heard(card);
    this.playing = card;
    card.setPlaying(true);
    try {
      const score = await card.sound();
      if (this.playing === card) await this.#play(score, card, from);
    } catch (error) {
      this.stop();
      explain(error);
    }
  }

  // The last two that were heard are A and B.
  #heard(card) {
    if (!this.pair.includes(card)) {
      if (this.pair.length < 2) this.pair.push(card);
      else this.pair[this.pair[0] === this.last ? 1 : 0] = card;
    }
    this.last = card;
    const both = [...this.pair].sort((one, other) => this.#before(one) - this.#before(other));
    for (const item of this.cards.values()) item.setBadge(both.length > 1 && both.includes(item) ? "AB"[both.indexOf(item)] : "");
    this.transport.showSwap(this.pair.length > 1 ? t("bench.swap") : null);
  }

  // Where a card stands in the order of reading: A is before B.
  #before(card) {
    const shown = this.shown.indexOf(card);
    if (shown >= 0) return this.page * IN_SIGHT + shown;
    const found = this.ideas.where(card.fill.id, this.kind) ?? this.ideas.where(card.fill.id, card.fill.family);
    return found ? found.page * IN_SIGHT + found.slot : Infinity;
  }

  // Whether an idea is the first of its family.
  isFirst(fill) {
    return this.ideas.families[fill.family]?.fills[0]?.id === fill.id;
  }

  // From A to B and back, at the same place in the music.
  swap() {
    const other = this.pair.find((card) => card !== this.last);
    if (!other) return;
    const from = this.playing ? player.place : null;
    if (!this.shown.includes(other)) this.#show(other);
    this.hear(other, from);
  }

  #show(card) {
    const found = this.ideas.where(card.fill.id, this.kind);
    if (found) Object.assign(this, found);
    this.ladder = null;
    this.#render();
  }

  #play(score, card, from = null) {
    const heard = this.transport.alone.box.checked ? score.alone : score.context;
    // So near its end the other idea would be over before it is heard: it begins anew.
    if (from > heard.length - LEAST_LEFT_SEC) from = null;
    return this.transport.play(heard, {
      from, onnotes: (indices, notes) => {
        card?.lit(indices, notes);
        this.#litPhrase(notes);
      },
      onend: () => {
        card?.setPlaying(false);
        if (this.playing === (card ?? "phrase")) this.playing = null;
      },
    });
  }

  // The melody's notes on the phrase, by where they begin.
  #litPhrase(notes) {
    const now = new Set(notes.filter((note) => note.part === "melody").map((note) => note.at));
    for (const [at, head] of this.heads ?? []) head.classList.toggle("on", now.has(at));
  }

  // The phrase as written, or with what the program would play in the gap.
  async hearPhrase(pick = { fill: "open", moves: [] }) {
    if (this.playing) return this.stop();
    this.playing = "phrase";
    this.phrasePick = pick;
    try {
      const score = await post(`${this.#address()}/heard`, pick);
      if (this.playing === "phrase") await this.#play(score, null);
    } catch (error) {
      this.stop();
      explain(error);
    }
  }

  stop() {
    const card = this.playing;
    this.playing = null;
    player.stop();
    if (card instanceof Card) card.setPlaying(false);
  }

  #again() {
    const card = this.playing;
    if (!card) return;
    this.stop();
    if (card === "phrase") this.hearPhrase(this.phrasePick);
    else this.hear(card);
  }

  // --- deciding -------------------------------------------------------------------------------

  async choose(card = this.held) {
    if (!card || !this.shown.includes(card)) return;
    this.#keepOwn();
    if (card.chosen) {
      await this.#change({ unpick: this.number });
      return;
    }
    card.setChoosing(true);
    await this.#decided({ pick: { gap: this.number, ...card.pick } }, "bench.said_chosen", { device: card.fill.device });
    card.setChoosing(false);
  }

  // A fill of one's own that is chosen no more can be chosen again.
  #keepOwn() {
    const pick = this.tune.picks[this.number];
    if (pick?.own) this.drafts.set(this.gap, pick, true);
  }

  leaveOpen() {
    this.#keepOwn();
    if (this.tune.picks[this.number]?.fill === "open") return this.#change({ unpick: this.number });
    return this.#decided({ pick: { gap: this.number, fill: "open", moves: [] } }, "bench.said_open");
  }

  letGo() {
    this.#keepOwn();
    if (this.tune.picks[this.number]) this.#change({ unpick: this.number });
  }

  // What the program would play here becomes the teacher's choice.
  keep() {
    const rest = this.tune.rest?.[this.number];
    if (rest) return this.#decided({ lock: this.number }, rest.fill === "open" ? "bench.said_open" : "bench.said_chosen", { device: rest.device ?? t(`family.${rest.family}`) });
    return null;
  }

  // The program is to think of something else for this gap alone.
  another() {
    if (this.tune.rest?.[this.number]) this.#change({ again: { gap: this.number } });
  }

  // The same choice, or the same idea varied, wherever the phrase of a decided gap comes again.
  everywhere(how) {
    const gap = this.saying?.gap ?? (this.tune.picks[this.number] ? this.number : null);
    if (gap && this.tune.gaps[gap - 1]?.alike?.length) this.#change({ everywhere: { gap, how } }).then((done) => done && this.#say({ key: `bench.said_${how}`, gap, values: { gap, gaps: list(this.tune.gaps[gap - 1].alike) } }));
  }

  async #decided(change, key, values = {}) {
    const gap = this.number;
    if (!await this.#change(change)) return;
    this.saying = { key, values: { ...values, gap }, gap, offer: true };
    await this.handlers.next(gap);
    this.#say();
  }

  // What has just been decided, with what can be done about it.
  #say(saying = this.saying) {
    this.saying = saying;
    this.#fit();
    if (!saying) return this.said.replaceChildren();
    const alike = this.tune.gaps[saying.gap - 1]?.alike ?? [];
    const undecided = this.tune.gaps.length - decided(this.tune);
    const elsewhere = saying.gap !== this.number;
    const taken = alike.filter((gap) => this.tune.picks[gap]);
    this.said.replaceChildren(...[
      h("span", {}, parts(saying.key, { ...saying.values, device: h("strong", { lang: ideaLang(saying.values.device ?? "") }, ideaName(saying.values.device ?? "")) })),
      ...(saying.offer && alike.length ? [h("span", { class: "quiet" }, t("bench.comes_again", { gaps: list(alike) }), taken.length ? ` ${t("bench.replaces", { gaps: list(taken) })}` : ""),
        h("button", { type: "button", class: "small", onclick: () => this.everywhere("same") }, t("bench.same_there")),
        h("button", { type: "button", class: "small", onclick: () => this.everywhere("varied") }, t("bench.vary_there"))] : []),
      elsewhere ? h("button", { type: "button", class: "small plain", onclick: () => this.handlers.go(saying.gap) }, t("bench.back_to", { gap: saying.gap })) : null,
      undecided ? null : h("button", { type: "button", class: "small strong", onclick: () => this.handlers.chorus() }, t("bench.all_decided")),
    ].filter(Boolean));
  }

  async #change(change) {
    try {
      await this.handlers.change(change);
      return true;
    } catch (error) {
      explain(error);
      return false;
    }
  }

  #showDecided() {
    const { tune, number } = this;
    const pick = tune.picks[number];
    const undecided = pick ? null : tune.rest?.[number];
    const open = pick?.fill === "open";
    const button = (words, act, options = {}) => h("button", { type: "button", ...options, onclick: act }, words);
    this.decide.replaceChildren(...[
      undecided ? h("span", { class: "rest quiet" }, undecided.fill === "open" ? `${t("bench.would_open")} ${whyOpen(tune, number)}` : parts("bench.would", { device: undecided.device ? h("em", { lang: ideaLang(undecided.device) }, ideaName(undecided.device)) : t(`family.${undecided.family}`) })) : null,
      undecided && undecided.fill !== "open" ? button(`▶ ${t("bench.hear_rest")}`, () => this.hearPhrase({ fill: undecided.fill, moves: [] }), { class: "hear-rest", title: t("bench.hear_would") }) : null,
      undecided && undecided.fill !== "open" ? button(t("bench.keep"), () => this.keep(), { class: "keep" }) : null,
      button(t(open ? "bench.is_open" : "bench.leave_open"), () => this.leaveOpen(), { class: "open", "aria-pressed": String(open) }),
      pick ? button(t("bench.let_go"), () => this.letGo(), { class: "let-go" }) : null,
    ].filter(Boolean));
    const done = decided(tune);
    this.progress.replaceChildren(h("span", {}, t("bench.decided", { count: tune.gaps.length, done })),
      h("meter", { min: "0", max: String(tune.gaps.length), value: String(done), "aria-hidden": "true" }),
      button(t("bench.hand_out"), () => this.handlers.handOut(this), { class: "small hand-out" }));
  }

  // After a choice only the marks change; the ideas stay as they are.
  refresh(tune) {
    this.tune = tune;
    if (this.number === null) return;
    const pick = tune.picks[this.number];
    for (const card of this.cards.values()) {
      card.forget(); // it may sound between other choices now
      const chosen = pick?.fill === card.fill.id;
      if (chosen && !card.chosen) this.drafts.drop(this.gap, card.fill.id);
      card.setChosen(chosen);
      card.setEasier(easierChosen(pick, card.fill.id));
    }
    this.#showDecided();
    this.#markPhrase();
    this.#prepare();
  }

  // Own notes of an idea that is not chosen are kept in this tab until it is.
  kept(card) {
    if (!card.chosen) this.drafts.set(this.gap, card.pick, card.own.changed);
  }

  save(card) {
    return this.#change({ pick: { gap: this.number, ...card.pick } });
  }

  without(device) {
    this.#change(({ settings }) => ({ settings: { without: [...settings.without, device] } }));
  }
}

const easierChosen = (pick, id) => Boolean(pick) && pick.fill !== id && ideaOf(pick.fill) === id;

const list = (gaps) => listed(gaps.map((gap) => t("bench.gap_listed", { gap })));
