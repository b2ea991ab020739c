// What a student takes home: a blank sheet, a filled one with hand pictures, the lead sheet.

import { get } from "./api.js";
import { takeAway } from "./chorus.js";
import { engraved, explain, h } from "./dom.js";
import { handPicture } from "./keyboard.js";

const KINDS = [
  ["blank", "Blank", "The gaps are empty; the lower staff is there to write on.", "blank.pdf"],
  ["filled", "Filled", "The whole chorus, and the hand pictures of its fills.", "hands.pdf"],
  ["lead", "Lead sheet", "Melody and chords, gaps bracketed.", "lead.pdf"],
];

export class Handouts {
  constructor(panel, chorus) {
    this.panel = panel;
    this.chorus = chorus;
    this.kind = "blank";
  }

  async show(tune) {
    this.tune = tune;
    const [, , what, file] = KINDS.find(([kind]) => kind === this.kind);
    const preview = h("div", { class: "paper pages handout", role: "group", "aria-label": "Preview", "aria-busy": "true" });
    this.panel.replaceChildren(
      h("div", { class: "row listening", role: "group", "aria-label": "Which hand-out" },
        KINDS.map(([kind, name]) => h("button", { type: "button", "aria-pressed": String(kind === this.kind), "data-kind": kind, onclick: () => { this.kind = kind; this.show(this.tune).then(() => this.panel.querySelector(`[data-kind=${kind}]`).focus()); } }, name)),
        h("span", { class: "quiet" }, what),
        h("span", { class: "row take", role: "group", "aria-label": "On paper and as a file" },
          h("button", { type: "button", onclick: () => window.print() }, "Print"),
          h("button", { type: "button", onclick: (event) => takeAway(this.tune, file, event.currentTarget) }, "PDF"))),
      preview);
    try {
      preview.replaceChildren(...await this.#pages(tune));
    } catch (error) {
      explain(error);
    }
    preview.setAttribute("aria-busy", "false");
  }

  async #pages(tune) {
    if (this.kind !== "filled") {
      const { pages } = await get(`/api/tunes/${tune.id}/${this.kind}`);
      return pages.map((page, index) => named(engraved(page), index, pages.length));
    }
    const made = await this.chorus.show(tune);
    if (!made) return [h("p", { class: "quiet" }, "The chorus could not be worked out.")];
    const pages = made.pages.map((page, index) => named(engraved(page.replaceAll("page", "hand")), index, made.pages.length));
    const hands = made.fills.map((fill) => h("section", { class: "hand-row" },
      h("h3", {}, `Gap ${fill.gap}: ${fill.device}`), h("p", { class: "counts" }, h("span", { class: "label" }, "Count"), " ", h("span", { class: "said" }, fill.counts)),
      h("div", { class: "pictures" }, fill.pictures.map(handPicture))));
    return [...pages, h("section", { class: "hand-pages", "aria-label": "Hand pictures" }, h("h2", {}, "Hands"),
      h("p", { class: "quiet" }, "Squares: left hand. Circles: right hand. Numbers: fingers. A stretch that hurts is to be rolled or left out; pain is a matter for a teacher or a doctor."), hands)];
  }
}

function named(svg, index, count) {
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `Page ${index + 1} of ${count}`);
  return svg;
}
