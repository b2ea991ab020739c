// What is done with an idea beyond the tune: it goes into a pack, or to a student to practise.

import { get, post } from "./api.js";
import { h } from "./dom.js";
import { beatName, where } from "./gap.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { explain, notify } from "./notices.js";
import { t } from "./words.js";

const SHOWS = ["blank", "rhythm", "chords", "first", "filled"];
const NEW = "";

export class HandOut {
  constructor(dialog) {
    this.dialog = dialog;
  }

  async show(bench) {
    const { tune, gap, held } = bench;
    this.item = {
      tune: tune.id, gap: gap.number, place: t("into.place", { bar: gap.sheet_bar, beat: beatName(gap.beat) }),
      // What is chosen goes out as it stands, with the teacher's own notes.
      fill: held && !held.chosen && !held.own.base ? held.fill.id : "", device: (held?.fill.device ?? "").slice(0, 120),
    };
    this.tune = tune;
    try {
      const [{ packs }, { students }] = [await get("/api/packs"), await get("/api/students")];
      this.#build(packs, students, held ? held.fill.device : t("into.first_offered"), where(gap));
      this.dialog.showModal();
    } catch (error) {
      explain(error);
    }
  }

  #build(packs, students, device, place) {
    const close = h("button", { type: "button", class: "plain", onclick: () => this.dialog.close() }, t("into.close"));
    this.dialog.replaceChildren(
      h("h2", {}, t("into.head", { gap: this.item.gap })),
      h("p", {}, h("strong", { lang: ideaLang(device) }, ideaName(device)), " ", h("span", { class: "quiet" }, place)),
      this.#packForm(packs), students.length ? this.#studentForm(students) : h("p", { class: "quiet" }, h("a", { href: "/lessons?view=students" }, t("into.no_student"))), this.#roundForm(), close);
  }

  // Through other keys: what is different in each, then to print and to hear.
  #roundForm() {
    const keys = h("input", { type: "text", name: "keys", list: "orders", value: "fourths", maxlength: "120", required: true, autocomplete: "off" });
    const told = h("div", { class: "round", role: "status" });
    return h("form", { class: "into-form", onsubmit: async (event) => {
      event.preventDefault();
      const query = new URLSearchParams({ fill: this.item.fill, keys: keys.value });
      const address = `/api/tunes/${this.tune.id}/gaps/${this.item.gap}/round`;
      told.replaceChildren(t("into.round_at_work"));
      try {
        const found = (await get(`${address}?${query}`)).keys;
        told.replaceChildren(h("ol", {}, found.map((one) => h("li", {}, h("strong", {}, one.tonic), " ", h("span", { class: "quiet" }, t("into.round_difficulty", { difficulty: one.difficulty })), " ",
          one.changed.length ? h("span", { lang: "en" }, one.changed.join("; ")) : t("into.round_same")))),
        h("div", { class: "row" }, ["pdf", "mp3"].map((kind) => h("a", { class: "button", href: `${address}.${kind}?${query}`, download: "" }, t(`into.round_${kind}`)))));
      } catch (error) {
        told.replaceChildren();
        explain(error);
      }
    } }, h("h3", {}, t("into.round_head")), h("label", {}, t("students.keys"), keys), h("p", { class: "quiet" }, t("into.round_what")), h("button", { type: "submit" }, t("into.round_make")), told);
  }

  #packForm(packs) {
    const title = h("input", { type: "text", name: "title", maxlength: "200", value: t("into.new_title"), autocomplete: "off" });
    const named = h("label", { hidden: packs.length > 0 }, t("into.title"), title);
    const pack = h("select", { name: "pack", onchange: () => { named.hidden = pack.value !== NEW; } },
      packs.map(({ id, title: words, items }) => h("option", { value: id }, t("into.pack_of", { title: words, count: items }))), h("option", { value: NEW }, t("into.new")));
    const show = h("select", { name: "show" }, SHOWS.map((name) => h("option", { value: name, selected: name === "filled" }, t(`packs.show_${name}`))));
    const words = h("textarea", { name: "words", rows: "2", maxlength: "2000" });
    return h("form", { class: "into-form", onsubmit: (event) => {
      event.preventDefault();
      this.#put(pack.value, title.value, { ...this.item, show: show.value, words: words.value });
    } }, h("h3", {}, t("into.pack_head")), h("label", {}, t("into.pack"), pack), named, h("label", {}, t("packs.show"), show), h("label", { class: "tall" }, t("packs.words"), words), h("button", { type: "submit", class: "strong" }, t("into.put")));
  }

  #studentForm(students) {
    const who = h("select", { name: "student" }, students.map(({ name }) => h("option", { value: name }, name)));
    const tempo = h("input", { type: "number", name: "tempo", min: "20", max: "400", value: String(Math.round(Number(this.tune.tune.tempo))) });
    return h("form", { class: "into-form", onsubmit: (event) => {
      event.preventDefault();
      this.#give(who.value, tempo.valueAsNumber);
    } }, h("h3", {}, t("into.student_head")), h("label", {}, t("into.student"), who), h("label", {}, t("into.tempo"), tempo), h("button", { type: "submit" }, t("into.give")));
  }

  async #put(pack, title, item) {
    try {
      const id = pack || (await post("/api/packs", { title })).id;
      const now = await post(`/api/packs/${id}/items`, { items: [item] });
      this.dialog.close();
      notify(t("into.is_in", { title: now.title, count: now.items.length }), "", { label: t("into.to_packs"), run: () => { location.href = `/lessons?pack=${id}`; } });
    } catch (error) {
      explain(error);
    }
  }

  async #give(name, tempo) {
    try {
      await post("/api/student/items", { name, tune: this.tune.title, gap: this.item.gap, fill: this.item.fill, tempo });
      this.dialog.close();
      notify(t("into.given", { name }));
    } catch (error) {
      explain(error);
    }
  }
}
