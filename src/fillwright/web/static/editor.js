// Changing the notes of an idea on its staff: a click takes a note in hand, a click on an empty
// place adds one; keys and buttons move, lengthen and remove it. What the rules say stands beside.

import { post } from "./api.js";
import { h, number } from "./dom.js";
import { beatName } from "./gap.js";
import { inEnglish } from "./ideaname.js";
import { explain } from "./notices.js";
import { t } from "./words.js";

// White keys above C: how many half steps.
const WHITE = [0, 2, 4, 5, 7, 9, 11];
const TOP_LINE = [38, 26]; // the upper line of either staff in white keys above C0: F5, A3

export class Editor {
  // card: {own, staff, elements, keys, changed(), shown}
  constructor(card) {
    this.card = card;
    this.at = null;
    this.says = h("div", { class: "says", role: "status", lang: "en" });
    this.name = h("output", { class: "note-name" });
    const button = (name, sign, act) => h("button", { type: "button", title: t(`editor.${name}_what`), onclick: () => act() }, h("span", { class: "sign", "aria-hidden": "true" }, sign), h("span", {}, t(`editor.${name}`)));
    this.tools = h("div", { class: "note-tools", role: "group", "aria-label": t("editor.tools") },
      h("div", { class: "note-in-hand" }, this.name, button("before", "‹", () => this.step(-1)), button("after", "›", () => this.step(1))),
      button("up", "↑", () => this.change((own) => card.own.move(own, 1))),
      button("down", "↓", () => this.change((own) => card.own.move(own, -1))),
      button("shorter", "−", () => this.change((own) => card.own.stretch(own, -1))),
      button("longer", "+", () => this.change((own) => card.own.stretch(own, 1))),
      button("remove", "×", () => this.remove()),
      button("add", "♪", () => this.addAbove()));
    this.back = h("button", { type: "button", class: "plain small", onclick: () => { card.own.clear(); this.at = card.own.notes[0]?.own ?? null; this.changed(); } }, t("editor.back"));
    this.ask = h("button", { type: "button", class: "small why-not", onclick: () => this.whyNot() }, t("editor.why_not"));
    this.answer = h("div", { class: "why-not-says", role: "status" });
    this.element = h("div", { class: "editor", tabindex: "0", "aria-label": t("editor.head"), role: "group", onkeydown: (event) => this.#key(event) },
      h("p", { class: "quiet" }, t("editor.how")), this.tools, this.says, this.ask, this.answer, this.back);
    card.staff.addEventListener("click", (event) => this.#click(event));
  }

  open() {
    this.on = true;
    this.card.element.classList.add("editing");
    this.at ??= this.card.own.notes[0]?.own ?? null;
    this.card.check().then(() => this.show());
    this.show();
  }

  close() {
    this.on = false;
    this.card.element.classList.remove("editing");
    this.show();
  }

  #key(event) {
    const keys = {
      ArrowLeft: () => this.step(-1), ArrowRight: () => this.step(1),
      ArrowUp: () => this.change((own) => this.card.own.move(own, event.shiftKey ? 12 : 1)),
      ArrowDown: () => this.change((own) => this.card.own.move(own, event.shiftKey ? -12 : -1)),
      "+": () => this.change((own) => this.card.own.stretch(own, 1)),
      "-": () => this.change((own) => this.card.own.stretch(own, -1)),
      ...(this.card.bench.playing ? {} : { Escape: () => this.#leave() }),
      Delete: () => this.remove(), Backspace: () => this.remove(), Insert: () => this.addAbove(),
    };
    if (!keys[event.key]) return;
    event.preventDefault();
    event.stopPropagation();
    keys[event.key]();
  }

  #leave() {
    this.card.toggle("notes", false);
    this.card.toggles.notes.focus();
  }

  step(by) {
    const notes = this.card.own.notes;
    if (!notes.length) return;
    const now = notes.findIndex((note) => note.own === this.at);
    this.at = notes[(now + by + notes.length) % notes.length].own;
    this.show();
  }

  change(act) {
    if (this.at === null) return;
    act(this.at);
    this.changed();
  }

  remove() {
    if (this.at === null) return;
    const notes = this.card.own.notes;
    const now = notes.findIndex((note) => note.own === this.at);
    const next = notes[now + 1] ?? notes[now - 1];
    const shifted = this.at < 0 && next?.own < this.at ? next.own + 1 : next?.own;
    this.card.own.remove(this.at);
    this.at = shifted ?? null;
    this.changed();
  }

  // A third above the note in hand, for its hand: from there it goes wherever it is wanted.
  addAbove() {
    const note = this.card.own.notes.find(({ own }) => own === this.at);
    if (note) this.#add(note.at, note.midi + 3, note.hand);
  }

  #add(at, midi, hand) {
    this.at = this.card.own.add(at, midi, hand);
    this.changed();
  }

  // What stands against the notes, what they cost, and the smallest change that mends them.
  async whyNot() {
    const { card } = this;
    const asked = JSON.stringify(card.pick);
    this.ask.disabled = true;
    try {
      const { rules, cost, mended } = await post(`${card.address}/why-not`, card.pick);
      if (JSON.stringify(card.pick) !== asked) return;
      const mend = () => {
        card.own.load(mended.pick);
        this.at = card.own.notes[0]?.own ?? null;
        this.element.focus({ preventScroll: true });
        this.changed();
      };
      this.answer.replaceChildren(...[
        inEnglish(),
        rules.length ? h("ul", { class: "findings", lang: "en" }, rules.map((rule) => h("li", {}, rule))) : h("p", { class: "fine" }, t("editor.no_rule")),
        h("p", { lang: "en" }, cost),
        mended ? h("p", { lang: "en" }, mended.sentences.join(" ")) : null,
        mended ? h("button", { type: "button", class: "small", onclick: mend }, t(mended.left ? "editor.mend_some" : "editor.mend", { count: mended.left })) : null,
        rules.length && !mended ? h("p", { class: "quiet" }, t("editor.no_mend")) : null,
      ].filter(Boolean));
    } catch (error) {
      explain(error);
    } finally {
      this.ask.disabled = false;
    }
  }

  changed() {
    this.answer.replaceChildren();
    this.show();
    this.card.changed();
  }

  // The drawn note that shows a note: the same place and key.
  #element(note) {
    const found = Object.entries(this.card.keys ?? {}).find(([, key]) => Math.abs(key.at - note.at) < 1e-6 && key.midi === note.midi && key.role === "fill");
    return found ? this.card.elements.get(Number(found[0])) : null;
  }

  // Which note is in hand, on the staff and in words; what the rules say.
  show() {
    const { card } = this;
    const note = card.own.notes.find(({ own }) => own === this.at);
    for (const element of card.staff.querySelectorAll(".in-hand")) element.classList.remove("in-hand");
    if (!this.on) return;
    if (note) this.#element(note)?.classList.add("in-hand");
    const known = note && card.shown.notes.find((other) => other.midi === note.midi && other.hand === note.hand && Math.abs(number(other.onset_quarter) - note.at) < 1e-6);
    this.name.textContent = note ? t("editor.note", { name: known?.name ?? "…", beat: known ? beatName(known.beat) : "", hand: t(`hands.${note.hand}`) }) : t("editor.none");
    this.back.hidden = !card.own.changed;
    this.ask.hidden = !card.own.changed && !card.own.base;
    const findings = card.findings ?? [];
    const state = card.own.changed ? h("p", { class: "quiet", lang: document.documentElement.lang }, card.chosen ? t("editor.saved") : t("editor.kept")) : null;
    this.says.replaceChildren(...[card.refused ? h("p", { class: "broken" }, card.refused)
      : findings.length ? h("ul", { class: "findings" }, findings.map((finding) => h("li", {}, `${t("editor.finding", { beat: beatName(finding.beat), bar: finding.sheet_bar })} ${finding.message}.`)))
        : h("p", { class: "fine", lang: document.documentElement.lang }, t("editor.fine")), state].filter(Boolean));
  }

  // On the staff: a note is taken in hand, an empty place gets one.
  #click(event) {
    if (!this.on) return;
    const hit = event.target.closest(".note");
    const element = hit ?? this.#near(event);
    if (element) {
      const played = [...this.card.elements].find(([, drawn]) => drawn === element || drawn?.contains(element));
      const key = played && this.card.keys[played[0]];
      const note = key && this.card.own.notes.find((other) => other.midi === key.midi && Math.abs(other.at - key.at) < 1e-6);
      if (note) {
        this.at = note.own;
        this.show();
      } else this.says.replaceChildren(h("p", { class: "quiet", lang: document.documentElement.lang }, t("editor.not_own")));
      this.element.focus({ preventScroll: true });
      return;
    }
    const place = this.#place(event);
    if (place) this.#add(place.at, place.midi, place.hand);
  }

  // A finger is wider than a note head.
  #near(event) {
    const reach = event.pointerType === "touch" ? 14 : 7;
    return [...this.card.elements.values()].find((drawn) => {
      const head = drawn?.querySelector(".notehead")?.getBoundingClientRect();
      return head && Math.hypot(head.left + head.width / 2 - event.clientX, head.top + head.height / 2 - event.clientY) < reach;
    });
  }

  // The place in time and the key that a point of the staff stands for.
  #place(event) {
    const staves = [...this.card.staff.querySelectorAll(".staff")].map((staff) => {
      const lines = [...staff.children].filter((child) => child.tagName === "path").map((line) => line.getBoundingClientRect().top);
      return { top: Math.min(...lines), bottom: Math.max(...lines) };
    }).filter(({ top, bottom }) => bottom > top);
    if (!staves.length) return null;
    const off = (staff) => Math.max(staff.top - event.clientY, event.clientY - staff.bottom, 0);
    const nearest = staves.reduce((best, staff) => (off(staff) < off(best) ? staff : best));
    const step = (nearest.bottom - nearest.top) / 8;
    if (off(nearest) > 8 * step) return null;
    const tops = [...new Set(staves.map(({ top }) => Math.round(top)))].sort((a, b) => a - b);
    const upper = Math.round(nearest.top) === tops[0];
    const white = TOP_LINE[upper ? 0 : 1] - Math.round((event.clientY - nearest.top) / step);
    const midi = 12 * (Math.floor(white / 7) + 1) + WHITE[((white % 7) + 7) % 7];
    const heads = Object.entries(this.card.keys ?? {}).map(([index, key]) => {
      const box = this.card.elements.get(Number(index))?.querySelector(".notehead")?.getBoundingClientRect();
      return box && { x: box.left + box.width / 2, at: key.at };
    }).filter(Boolean).sort((a, b) => a.x - b.x);
    if (!heads.length) return null;
    const after = heads.find((head) => head.x >= event.clientX);
    const before = heads.findLast((head) => head.x < event.clientX);
    if (!before && !after) return null;
    const grid = this.card.own.beat / 2;
    const raw = !after ? before.at + grid : !before ? after.at : before.at + ((after.at - before.at) * (event.clientX - before.x)) / (after.x - before.x);
    const { start } = this.card.own;
    return { at: start + Math.max(0, Math.round((raw - start) / grid) * grid), midi, hand: upper ? "right" : "left" };
  }
}
