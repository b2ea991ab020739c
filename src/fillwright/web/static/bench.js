// The bench: one gap, its options side by side, and how they sound.

import { get, post } from "./api.js";
import { Card, explain } from "./card.js";
import { fraction, h, pretty } from "./dom.js";
import { player } from "./player.js";

const FAMILIES = {
  comp: "Chords in rhythm",
  reharm: "Passing chords",
  line: "A line in the right hand",
};
const WHY = { held: "the note is held", tied: "the note is tied over", rest: "the melody rests", pickup: "before the melody begins", ending: "the tune ends" };

export class Bench {
  // handlers: change(change) -> promise, go(gap)
  constructor(element, handlers) {
    this.element = element;
    this.handlers = handlers;
    this.number = null;
    this.counts = {};
    this.speed = 1;
    this.loop = false;
    this.inContext = true;
    this.playing = null;
  }

  async open(tune, number, focus = false) {
    if (number !== this.number) this.counts = {};
    this.stop();
    this.tune = tune;
    this.number = number;
    this.element.hidden = false;
    this.element.setAttribute("aria-busy", "true");
    const query = new URLSearchParams({ sheet: tune.sheet, ...this.counts });
    let page;
    try {
      page = await get(`/api/tunes/${tune.id}/gaps/${number}?${query}`);
    } catch (error) {
      explain(error);
      return;
    }
    if (this.tune !== tune || this.number !== number) return;
    this.gap = page.gap;
    this.#build(page);
    this.element.setAttribute("aria-busy", "false");
    if (focus) this.element.querySelector("h2").focus({ preventScroll: true });
    this.#prepare();
  }

  close() {
    this.stop();
    this.number = null;
    this.element.hidden = true;
  }

  #build(page) {
    const { gap, tune } = this;
    const pick = tune.picks[gap.number];
    this.cards = [];
    const families = Object.entries(FAMILIES).map(([name, what]) => {
      const { fills, reason, count } = page.families[name];
      const cards = fills.map((fill, index) => new Card(this, fill, index + 1, pick));
      this.cards.push(...cards);
      return h("section", { class: `family ${name}`, "aria-label": name },
        h("h3", {}, h("span", { class: "family-name" }, name), " ", h("span", { class: "quiet" }, what)),
        reason ? h("p", { class: "nothing" }, `Nothing here: ${reason}.`) : null,
        cards.map((card) => card.element),
        !reason && fills.length >= count && count < 24
          ? h("button", { type: "button", class: "more", onclick: () => this.#more(name, count + 3) }, `Other ${name} ideas`)
          : fills.length && count > fills.length ? h("p", { class: "quiet" }, "That is all that fits here.") : null);
    });
    const open = pick?.fill === "open";
    this.element.replaceChildren(
      h("div", { class: "bench-head" },
        h("h2", { tabindex: "-1" }, `Gap ${gap.number}`, h("span", { class: "quiet" }, ` of ${tune.gaps.length}`)),
        h("p", { class: "where" }, place(gap)),
        h("div", { class: "row" },
          h("button", { type: "button", disabled: gap.number <= 1, onclick: () => this.handlers.go(gap.number - 1) }, "Gap before"),
          h("button", { type: "button", disabled: gap.number >= tune.gaps.length, onclick: () => this.handlers.go(gap.number + 1) }, "Next gap"),
          h("button", { type: "button", class: "plain", onclick: () => this.handlers.go(null) }, "Close"))),
      this.#controls(),
      h("div", { class: "row decide" },
        h("button", { type: "button", class: "choose", "aria-pressed": String(open), onclick: () => this.#pick({ fill: "open", moves: [] }) }, open ? "Left open" : "Leave it open"),
        h("button", { type: "button", disabled: !pick, onclick: () => this.#change({ unpick: gap.number }) }, "Let the program choose"),
        h("button", { type: "button", class: "hear", onclick: (event) => this.#hearOpen(event.target) }, "Hear the gap empty")),
      h("div", { class: "families" }, families));
  }

  #controls() {
    const radio = (value, text) => h("label", {}, h("input", { type: "radio", name: "how", checked: this.inContext === value, onchange: () => { this.inContext = value; this.#again(); } }), text);
    const speed = h("select", { "aria-label": "Speed", onchange: (event) => { this.speed = Number(event.target.value); player.setSpeed(this.speed); } },
      [1, 0.9, 0.8, 0.7, 0.6, 0.5].map((value) => h("option", { value: String(value), selected: value === this.speed }, value === 1 ? "at tempo" : `${value * 100} % of the tempo`)));
    return h("fieldset", { class: "row listening" }, h("legend", {}, "Listening"),
      radio(true, "with the bars around it"), radio(false, "alone"), h("label", {}, "Speed", speed),
      h("label", {}, h("input", { type: "checkbox", checked: this.loop, onchange: (event) => { this.loop = event.target.checked; this.#again(); } }), "over and over"));
  }

  // Staves and sounds of all options are fetched while nobody is waiting for them.
  async #prepare() {
    const { cards } = this;
    player.load().catch(() => {});
    for (const card of cards) {
      if (this.cards !== cards) return;
      await card.restore().catch(explain);
      await card.sound().catch(() => {});
    }
    for (const card of cards) {
      if (this.cards !== cards) return;
      await card.draw();
    }
  }

  async hear(card) {
    const same = this.playing === card;
    this.stop();
    if (same) return;
    this.playing = card;
    card.setPlaying(true);
    try {
      const score = await card.sound();
      if (this.playing === card) await this.#play(score, card);
    } catch (error) {
      this.stop();
      explain(error);
    }
  }

  #play(score, card) {
    return player.play(this.inContext ? score.context : score.alone, {
      speed: this.speed, loop: this.loop,
      onnotes: (indices, notes) => card?.lit(indices, notes),
      onend: () => { card?.setPlaying(false); this.playing = null; },
    });
  }

  async #hearOpen() {
    this.stop();
    try {
      const score = await post(`/api/tunes/${this.tune.id}/gaps/${this.number}/heard`, { fill: "open", moves: [] });
      await this.#play({ context: score.context, alone: score.alone }, null);
    } catch (error) {
      explain(error);
    }
  }

  stop() {
    player.stop();
    this.playing?.setPlaying(false);
    this.playing = null;
  }

  #again() {
    const card = this.playing;
    if (card) {
      this.stop();
      this.hear(card);
    }
  }

  choose(card) {
    const chosen = card.choose.getAttribute("aria-pressed") === "true";
    return chosen ? this.#change({ unpick: this.number }) : this.#pick(card.pick);
  }

  #pick(pick) {
    return this.#change({ pick: { gap: this.number, ...pick } });
  }

  async #change(change) {
    try {
      await this.handlers.change(change);
    } catch (error) {
      explain(error);
    }
  }

  // After a choice only the marks change; the options stay as they are.
  refresh(tune) {
    this.tune = tune;
    const pick = tune.picks[this.number];
    for (const card of this.cards ?? []) card.setChosen(pick?.fill === card.fill.id && JSON.stringify(pick.moves) === JSON.stringify(card.pick.moves));
    const [open, program] = this.element.querySelectorAll(".decide button");
    if (open) {
      open.setAttribute("aria-pressed", String(pick?.fill === "open"));
      open.textContent = pick?.fill === "open" ? "Left open" : "Leave it open";
      program.disabled = !pick;
    }
  }

  without(device) {
    const names = this.tune.settings.without;
    if (!names.includes(device)) this.#change({ settings: { without: [...names, device] } });
  }

  async #more(family, count) {
    this.counts[family] = count;
    await this.open(this.tune, this.number);
    const cards = this.element.querySelectorAll(`.family.${family} .card`);
    cards[Math.min(cards.length - 1, count - 3)]?.querySelector(".hear")?.focus();
  }
}

function place(gap) {
  const chords = gap.chords.map((chord) => pretty(chord.symbol)).join(", ");
  const words = [`Bar ${gap.bar}${gap.pass > 1 ? `, pass ${gap.pass}` : ""}, beat ${fraction(gap.beat)}: ${fraction(gap.beats)} beats, ${gap.seconds.toFixed(1)} seconds.`];
  words.push(gap.held ? `${pretty(gap.held.pitch)} over ${chords || "no chord"}` : `Rest over ${chords || "no chord"}`);
  words[1] += ` (${gap.why.map((why) => WHY[why]).join(", ")}).`;
  if (gap.landing) words.push(`Back on ${pretty(gap.landing.pitch)}${gap.landing.chord ? ` over ${pretty(gap.landing.chord.symbol)}` : ""}.`);
  return words.join(" ");
}
