// What a student takes home: a blank sheet, a filled one with hand pictures, the lead sheet.

import { get } from "./api.js";
import { takeAway } from "./chorus.js";
import { engraved, h } from "./dom.js";
import { ideaName } from "./ideaname.js";
import { handPictures, legend, ordered } from "./keyboard.js";
import { explain } from "./notices.js";
import { printing, printingRow } from "./printing.js";
import { t } from "./words.js";

const KINDS = [["blank", "blank.pdf"], ["filled", "hands.pdf"], ["lead", "lead.pdf"]];

export class Handouts {
  constructor(panel, chorus) {
    this.panel = panel;
    this.chorus = chorus;
    this.kind = "blank";
  }

  async show(tune) {
    this.tune = tune;
    const [, file] = KINDS.find(([kind]) => kind === this.kind);
    const preview = h("div", { class: "paper pages handout", role: "group", "aria-label": t("handouts.preview"), "aria-busy": "true" });
    this.panel.replaceChildren(
      h("div", { class: "row listening", role: "group", "aria-label": t("handouts.which") },
        KINDS.map(([kind]) => h("button", { type: "button", "aria-pressed": String(kind === this.kind), "data-kind": kind, onclick: () => { this.kind = kind; this.show(this.tune).then(() => this.panel.querySelector(`[data-kind=${kind}]`).focus()); } }, t(`handouts.${kind}`))),
        h("span", { class: "quiet" }, t(`handouts.${this.kind}_what`)),
        h("span", { class: "row take", role: "group", "aria-label": t("chorus.files") },
          h("button", { type: "button", onclick: () => window.print() }, t("chorus.print")),
          h("button", { type: "button", onclick: (event) => takeAway(this.tune, file, event.currentTarget) }, "PDF"))),
      printingRow(this.kind === "filled", () => this.#draw(preview)),
      preview);
    await this.#draw(preview);
  }

  // The last that was asked for is shown.
  async #draw(preview) {
    const wanted = this.wanted = {};
    preview.setAttribute("aria-busy", "true");
    let drawn = null;
    try {
      drawn = await this.#pages(this.tune);
    } catch (error) {
      explain(error);
    }
    if (this.wanted !== wanted) return;
    if (drawn) preview.replaceChildren(...drawn);
    preview.setAttribute("aria-busy", "false");
  }

  async #pages(tune) {
    const chosen = printing();
    if (this.kind !== "filled") {
      const { pages } = await get(`/api/tunes/${tune.id}/${this.kind}?printing=${encodeURIComponent(JSON.stringify(chosen))}`);
      return pages.map((page, index) => named(engraved(page), index, pages.length));
    }
    const made = await this.chorus.make(tune, chosen);
    if (!made) return [h("p", { class: "quiet" }, t("handouts.no_chorus"))];
    const pages = made.pages.map((page, index) => named(engraved(page.replaceAll("page", "hand")), index, made.pages.length));
    if (chosen.hands) return pages;
    const hands = made.fills.map((fill) => h("section", { class: "hand-row" },
      h("h3", {}, t("handouts.fill", { gap: fill.gap, device: ideaName(fill.device) })), h("p", { class: "counts" }, h("span", { class: "label" }, t("card.count")), " ", h("span", { class: "said" }, fill.counts)),
      h("div", { class: "pictures" }, handPictures(fill.pictures, false).element)));
    return [...pages, h("section", { class: "hand-pages", "aria-label": t("handouts.hands") }, h("h2", {}, t("handouts.hands")),
      legend(made.fills.some((fill) => fill.pictures.some(ordered))), h("p", { class: "quiet" }, t("tune.caution")), hands)];
  }
}

function named(svg, index, count) {
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", t("chorus.page", { page: index + 1, pages: count }));
  return svg;
}
