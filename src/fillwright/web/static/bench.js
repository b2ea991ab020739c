// The bench: one gap, its options side by side, and how they sound.

import { get, post } from "./api.js";
import { Card } from "./card.js";
import { explain, fraction, h, pretty } from "./dom.js";
import { player } from "./player.js";

const FAMILIES = {
  comp: "Chords in rhythm",
  reharm: "Passing chords",
  line: "A line in the right hand",
};
const WHY = { held: "held", tied: "tied over", rest: "the melody rests", pickup: "before the melody begins", ending: "the tune ends" };
const SHOWN = 3; // options of a family until more are asked for
const MOST = 24;

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

  // The families come one by one, so that the first can be seen and heard before the last is
  // worked out. A gap that stays open while something else changes keeps its old options until
  // the new ones are there.
  async open(tune, number, focus = false) {
    if (!tune.gaps[number - 1]) return this.close();
    const stays = number === this.number && this.columns;
    if (!stays) this.counts = {};
    this.stop();
    this.tune = tune;
    this.number = number;
    this.gap = tune.gaps[number - 1];
    const turn = (this.turn = {});
    this.element.hidden = false;
    this.element.setAttribute("aria-busy", "true");
    let built = !stays;
    const build = () => {
      built = true;
      this.#build();
      if (focus) this.element.querySelector("h2").focus({ preventScroll: true });
    };
    if (!stays) build();
    for (const family of Object.keys(FAMILIES)) {
      let page;
      try {
        page = await this.#ask(family);
      } catch (error) {
        if (this.turn === turn) this.#failed(error);
        return;
      }
      if (this.turn !== turn) return;
      if (!built) build();
      this.#show(family, page);
    }
    this.element.setAttribute("aria-busy", "false");
    this.#prepare();
  }

  close() {
    this.stop();
    this.turn = null;
    this.number = null;
    this.columns = null;
    this.element.hidden = true;
  }

  #address() {
    return `/api/tunes/${this.tune.id}/gaps/${this.number}`;
  }

  async #ask(family) {
    const page = await get(`${this.#address()}?${family}=${this.counts[family] ?? SHOWN}`);
    return page.families[family];
  }

  #failed(error) {
    this.element.setAttribute("aria-busy", "false");
    const again = h("button", { type: "button", onclick: () => this.open(this.tune, this.number, true) }, "Try again");
    for (const column of Object.values(this.columns)) {
      if (column.cards.length) continue;
      column.element.querySelector(".working")?.replaceWith(h("div", { class: "nothing" }, h("p", {}, error.message), again));
    }
    explain(error);
  }

  get cards() {
    return Object.values(this.columns ?? {}).flatMap((column) => column.cards);
  }

  #build() {
    const { gap, tune } = this;
    const pick = tune.picks[gap.number];
    this.columns = {};
    const families = Object.entries(FAMILIES).map(([name, what]) => {
      const element = h("section", { class: `family ${name}`, "aria-label": name },
        h("h3", {}, h("span", { class: "family-name" }, name), " ", h("span", { class: "quiet" }, what)),
        h("p", { class: "working quiet" }, "Working it out …"));
      this.columns[name] = { element, cards: [] };
      return element;
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
      h("div", { class: "tools" }, this.#controls(),
        h("div", { class: "row decide" },
          h("button", { type: "button", class: "choose", "aria-pressed": String(open), onclick: () => this.#pick({ fill: "open", moves: [] }) }, open ? "Left open" : "Leave it open"),
          h("button", { type: "button", disabled: !pick, onclick: () => this.#change({ unpick: gap.number }) }, "Let the program choose"),
          h("button", { type: "button", class: "hear", onclick: () => this.#hearOpen() }, "Hear the gap empty"))),
      h("div", { class: "families" }, families));
  }

  // The options of one family in their column.
  #show(name, { fills, reason, count }) {
    const column = this.columns[name];
    const pick = this.tune.picks[this.number];
    column.cards = fills.map((fill, index) => new Card(this, fill, index + 1, pick));
    column.cards[0]?.sound().catch(() => {}); // the one that is heard first
    const more = !reason && fills.length >= count && count < MOST;
    column.element.replaceChildren(column.element.querySelector("h3"), ...[
      reason ? h("p", { class: "nothing" }, `Nothing here: ${reason}.`) : null,
      ...column.cards.map((card) => card.element),
      more ? h("button", { type: "button", class: "more", onclick: () => this.#more(name, count + SHOWN) }, `Other ${name} ideas`) : null,
      fills.length && count > fills.length ? h("p", { class: "quiet" }, "That is all that fits here.") : null,
    ].filter(Boolean));
  }

  #controls() {
    const radio = (value, text) => h("label", {}, h("input", { type: "radio", name: "how", checked: this.inContext === value, onchange: () => { this.inContext = value; this.#again(); } }), text);
    const speed = h("select", { "aria-label": "Speed", onchange: (event) => { this.speed = Number(event.target.value); player.setSpeed(this.speed); } },
      [1, 0.9, 0.8, 0.7, 0.6, 0.5].map((value) => h("option", { value: String(value), selected: value === this.speed }, value === 1 ? "at tempo" : `${value * 100} %`)));
    return h("div", { class: "row listening", role: "group", "aria-label": "Listening" },
      radio(true, "with the bars around it"), radio(false, "alone"), speed,
      h("label", {}, h("input", { type: "checkbox", checked: this.loop, onchange: (event) => { this.loop = event.target.checked; this.#again(); } }), "over and over"));
  }

  // Staves and sounds of all options are fetched while nobody is waiting for them.
  async #prepare() {
    const { turn } = this;
    player.load().catch(() => {});
    for (const work of ["restore", "draw", "sound"]) {
      for (const card of this.cards) {
        if (this.turn !== turn) return;
        await card[work]().catch(work === "restore" ? explain : () => {});
      }
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
      const score = await post(`${this.#address()}/heard`, { fill: "open", moves: [] });
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
    for (const card of this.cards) {
      card.forget(); // it may sound between other choices now
      card.setChosen(pick?.fill === card.fill.id && JSON.stringify(pick.moves) === JSON.stringify(card.pick.moves));
    }
    const [open, program] = this.element.querySelectorAll(".decide button");
    if (open) {
      open.setAttribute("aria-pressed", String(pick?.fill === "open"));
      open.textContent = pick?.fill === "open" ? "Left open" : "Leave it open";
      program.disabled = !pick;
    }
  }

  without(device) {
    this.#change(({ settings }) => ({ settings: { without: [...settings.without, device] } }));
  }

  async #more(family, count) {
    this.counts[family] = count;
    this.stop();
    const turn = (this.turn = {});
    this.element.setAttribute("aria-busy", "true");
    try {
      const page = await this.#ask(family);
      if (this.turn !== turn) return;
      this.#show(family, page);
      const { cards } = this.columns[family];
      cards[Math.min(cards.length - 1, count - SHOWN)]?.hear.focus();
      this.#prepare();
    } catch (error) {
      explain(error);
    }
    this.element.setAttribute("aria-busy", "false");
  }
}

function place(gap) {
  const chords = gap.chords.map((chord) => pretty(chord.symbol)).join(", ");
  const words = [`Bar ${gap.bar}${gap.pass > 1 ? `, pass ${gap.pass}` : ""}, beat ${fraction(gap.beat)}: ${fraction(gap.beats)} beats, ${gap.seconds.toFixed(1)} seconds.`];
  words.push(gap.held ? `${pretty(gap.held.pitch)} over ${chords || "no chord"}` : `Rest over ${chords || "no chord"}`);
  words[1] += ` (${gap.why.map((why) => WHY[why]).join(", ")}).`;
  if (gap.landing) words.push(`Back on ${pretty(gap.landing.pitch)}${gap.landing.chord ? ` over ${pretty(gap.landing.chord.symbol)}` : ""}.`);
  return words.join(" ").replace("..", ".");
}
