// Packs: gaps of any tunes in an order, each with as much of its fill as is handed out.

import { get, post, put, remove, result } from "./api.js";
import { deviceList } from "./devicelist.js";
import { h } from "./dom.js";
import { beatName } from "./gap.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { watched } from "./longjob.js";
import { titled } from "./names.js";
import { explain, notify } from "./notices.js";
import { outcomes } from "./outcomes.js";
import { askedTwice } from "./twice.js";
import { moment, t } from "./words.js";

const SHOWS = ["blank", "rhythm", "chords", "first", "filled"];
const SHOWN = ["hand_pictures", "counts", "reasons"]; // beside what is filled
const LEVELS = ["beginner", "intermediate", "advanced"];
const FILES = ["pack.pdf", "answers.pdf", "student.html"];
const SAVE_MS = 500;

export class Packs {
  // handlers: went(pack id or null)
  constructor(panel, handlers) {
    this.panel = panel;
    this.handlers = handlers;
  }

  async show({ pack }) {
    await this.saved();
    if (pack) return this.#open(pack);
    const { packs } = await get("/api/packs");
    const title = h("input", { type: "text", maxlength: "200", required: true, autocomplete: "off", value: packs.some((one) => one.title === t("into.new_title")) ? "" : t("into.new_title") });
    const begin = h("form", { class: "row", onsubmit: (event) => { event.preventDefault(); this.#begin(title.value); } },
      h("label", {}, t("packs.new"), title), h("button", { type: "submit" }, t("packs.begin")));
    const lead = h("p", { class: "lead" }, t("packs.lead"));
    if (packs.length) {
      this.panel.replaceChildren(lead, h("ul", { class: "book-list", "aria-label": t("lessons.view_packs") }, packs.map((one) => h("li", {},
        h("button", { type: "button", class: "plain title", onclick: () => this.handlers.went(one.id) }, one.title),
        h("span", { class: "quiet" }, [t("packs.count", { count: one.items }), one.student, moment(one.changed_sec)].filter(Boolean).join(" · "))))), begin);
    } else {
      this.panel.replaceChildren(lead, await this.#first(begin), outcomes("packs"));
    }
    return null;
  }

  // The first step: six gaps of a tune, proposed.
  async #first(begin) {
    const { tunes } = await get("/api/tunes");
    const head = h("h2", {}, t("packs.first"));
    if (!tunes.length) return h("section", { class: "panel first" }, head, h("p", {}, t("packs.no_tune")), h("p", {}, h("a", { class: "button strong", href: "/" }, t("packs.to_shelf"))));
    const which = h("select", { name: "tune" }, tunes.map((one) => h("option", { value: one.id }, titled(one))));
    const level = h("select", { name: "level" }, LEVELS.map((name) => h("option", { value: name, selected: name === "intermediate" }, t(`tune.level_${name}`))));
    const status = h("div", { class: "progress", role: "status" });
    const button = h("button", { type: "submit", class: "strong" }, t("packs.first_propose"));
    return h("section", { class: "panel first" }, head, h("p", {}, t("packs.first_what")), h("form", { class: "row", onsubmit: async (event) => {
      event.preventDefault();
      button.disabled = true;
      try {
        const items = await proposed(status, { kind: "order", name: "", level: level.value, count: 6, tunes: [which.value] });
        const { id } = await post("/api/packs", { title: which.selectedOptions[0].textContent });
        await post(`/api/packs/${id}/items`, { items });
        this.handlers.went(id);
      } catch (error) {
        explain(error);
        button.disabled = false;
      }
    } }, h("label", {}, t("drill.tune"), which), h("label", {}, t("tune.level"), level), button), status, h("p", { class: "quiet" }, t("packs.none")), begin);
  }

  async #begin(title) {
    try {
      this.handlers.went((await post("/api/packs", { title })).id);
    } catch (error) {
      explain(error);
    }
  }

  async #open(id) {
    this.pack = await get(`/api/packs/${id}`);
    this.status = h("div", { class: "progress", role: "status" });
    this.made = h("div", { class: "row made" });
    this.items = h("ol", { class: "pack-items", "aria-label": t("packs.items") });
    const button = h("button", { type: "button", class: "strong make", onclick: () => this.#make(button) }, t("packs.make"));
    this.button = button;
    this.panel.replaceChildren(
      h("p", {}, h("button", { type: "button", class: "plain small", onclick: () => this.handlers.went(null) }, t("packs.all"))),
      this.#head(), h("h2", {}, t("packs.items")), this.items, this.#sets(),
      h("div", { class: "row" }, button, this.status), this.made,
      h("p", { class: "quiet" }, t("tune.caution")),
      h("p", {}, h("button", { type: "button", class: "plain small drop", onclick: (event) => this.#ask(event.currentTarget) }, t("packs.drop"))));
    this.#list();
  }

  #head() {
    const { pack } = this;
    const line = (name, words) => h("label", {}, words, h("input", { type: "text", name, value: pack[name], maxlength: "200", autocomplete: "off", onchange: (event) => this.#set(name, event.target.value) }));
    const choice = (name, words, values) => h("label", {}, words, h("select", { name, onchange: (event) => this.#set(name, event.target.value) }, values.map(([value, said]) => h("option", { value, selected: pack[name] === value }, said))));
    const box = (name, words) => h("label", {}, h("input", { type: "checkbox", name, checked: pack[name], onchange: (event) => this.#set(name, event.target.checked) }), words);
    return h("form", { class: "pack-head", autocomplete: "off", onsubmit: (event) => event.preventDefault() },
      line("title", t("packs.title")), line("student", t("packs.student")), line("teacher", t("packs.teacher")), line("date", t("packs.date")),
      choice("paper", t("packs.paper"), [["A4", "A4"], ["Letter", t("packs.letter")]]),
      choice("language", t("packs.language"), [["en", t("packs.language_en")], ["de", t("packs.language_de")]]),
      h("div", { class: "row boxes" }, SHOWN.map((name) => box(name, t(`packs.with_${name}`))), box("larger_print", t("packs.larger")), box("answers_in_page", t("packs.answers"))));
  }

  #list() {
    const { items } = this.pack;
    this.button.disabled = !items.length;
    this.items.replaceChildren(...items.map((item, index) => this.#item(item, index)));
    if (!items.length) this.items.replaceChildren(h("li", { class: "quiet none" }, t("packs.empty")));
  }

  #item(item, index) {
    const last = this.pack.items.length - 1;
    const named = t("packs.item", { number: index + 1 });
    const set = (name) => (event) => { item[name] = event.target.value; this.#keep(); };
    const step = (words, to, sign) => h("button", { type: "button", class: "step", "aria-label": `${named}: ${words}`, disabled: to < 0 || to > last, onclick: () => this.#move(index, to) }, sign);
    return h("li", { class: "pack-item", "data-index": String(index), "aria-label": named },
      h("p", { class: "what" }, h("a", { href: `/tunes/${item.tune}?gap=${item.gap}` }, item.title ?? t("packs.gone")), " ",
        h("span", {}, t("packs.gap", { gap: item.gap })), " ", h("span", { class: "quiet" }, [item.place, item.level && t(`tune.level_${item.level}`)].filter(Boolean).join(" · "))),
      h("p", { lang: ideaLang(item.device), class: "device" }, ideaName(item.device)),
      h("label", {}, t("packs.show"), h("select", { name: "show", onchange: set("show") }, SHOWS.map((name) => h("option", { value: name, selected: (item.show ?? "filled") === name }, t(`packs.show_${name}`))))),
      h("label", { class: "tall" }, t("packs.words"), h("textarea", { name: "words", rows: "2", maxlength: "2000", onchange: set("words") }, item.words ?? "")),
      h("div", { class: "row moves" }, step(t("packs.up"), index - 1, "↑"), step(t("packs.down"), index + 1, "↓"),
        h("button", { type: "button", class: "plain small", "aria-label": `${named}: ${t("packs.take_out")}`, onclick: () => this.#takeOut(index) }, t("packs.take_out"))));
  }

  #move(from, to) {
    const [item] = this.pack.items.splice(from, 1);
    this.pack.items.splice(to, 0, item);
    this.#list();
    this.#keep();
    const moves = this.items.children[to].querySelectorAll(".step");
    (to > from ? [...moves].reverse() : [...moves]).find((button) => !button.disabled)?.focus();
  }

  #takeOut(index) {
    const [item] = this.pack.items.splice(index, 1);
    this.#list();
    this.#keep();
    notify(t("packs.taken_out"), "", { label: t("packs.put_back"), run: () => { this.pack.items.splice(index, 0, item); this.#list(); this.#keep(); } });
  }

  #set(name, value) {
    this.pack[name] = value;
    this.#keep();
  }

  // Kept a moment after the last change; what is made is made of what is kept.
  #keep() {
    this.made.replaceChildren();
    clearTimeout(this.timer);
    this.waiting = true;
    this.timer = setTimeout(() => this.saved(), SAVE_MS);
  }

  async saved() {
    clearTimeout(this.timer);
    if (!this.waiting) return;
    this.waiting = false;
    const { id, items, ...above } = this.pack;
    try {
      await put(`/api/packs/${id}`, { ...above, items: items.map(({ title, ...item }) => item) });
    } catch (error) {
      explain(error);
    }
  }

  async #make(button) {
    button.disabled = true;
    try {
      await this.saved();
      const id = await watched(this.status, () => post(`/api/packs/${this.pack.id}/make`));
      const { warnings } = await result(id);
      this.made.replaceChildren(...FILES.map((name) => h("a", { class: "button", href: `/api/jobs/${id}/files/${name}`, download: name }, t(`packs.file_${name.split(".")[0]}`))),
        ...warnings.map((words) => h("p", { class: "quiet", lang: "en" }, words)));
      this.made.querySelector("a").focus();
    } catch (error) {
      explain(error);
    }
    button.disabled = false;
  }

  #ask(button) {
    askedTwice(button, t("packs.keep"), t("packs.lose", { title: this.pack.title }), async () => {
      this.waiting = false;
      await remove(`/api/packs/${this.pack.id}`);
      this.handlers.went(null);
    });
  }

  // --- graded sets ----------------------------------------------------------------------------

  #sets() {
    const kind = h("select", { name: "kind", onchange: () => fit() }, ["order", "family", "device"].map((name) => h("option", { value: name }, t(`packs.set_${name}`))));
    const family = h("select", { name: "family" }, ["comp", "reharm", "line"].map((name) => h("option", { value: name }, t(`family.${name}`))));
    const device = deviceList("device");
    const level = h("select", { name: "level" }, LEVELS.map((name) => h("option", { value: name, selected: name === "intermediate" }, t(`tune.level_${name}`))));
    const count = h("input", { type: "number", name: "count", min: "1", max: "40", value: "6" });
    const tunes = h("div", { class: "row tunes" });
    const status = h("div", { class: "progress", role: "status" });
    const [forFamily, forDevice, forLevel] = [h("label", {}, t("packs.family"), family), h("label", {}, t("packs.device"), device), h("label", {}, t("tune.level"), level)];
    const fit = () => {
      forFamily.hidden = kind.value !== "family";
      forDevice.hidden = kind.value !== "device";
      forLevel.hidden = kind.value === "device";
    };
    fit();
    const details = h("details", { class: "set", ontoggle: async () => {
      if (!details.open || tunes.firstChild) return;
      const shelf = (await get("/api/tunes")).tunes;
      tunes.replaceChildren(...shelf.map((one) => h("label", {}, h("input", { type: "checkbox", name: "tune", value: one.id }), titled(one))));
    } }, h("summary", {}, t("packs.set")), h("form", { class: "set-form", onsubmit: async (event) => {
      event.preventDefault();
      const chosen = [...tunes.querySelectorAll("input:checked")].map((input) => input.value);
      const name = { family: family.value, device: device.value, order: "" }[kind.value];
      try {
        await this.#add(await proposed(status, { kind: kind.value, name, level: level.value, count: count.valueAsNumber, tunes: chosen }));
      } catch (error) {
        explain(error);
      }
    } }, h("p", { class: "quiet" }, t("packs.set_what")), h("fieldset", {}, h("legend", {}, t("packs.set_tunes")), tunes),
    h("div", { class: "row" }, h("label", {}, t("packs.set_kind"), kind), forFamily, forDevice, forLevel, h("label", {}, t("packs.set_count"), count), h("button", { type: "submit" }, t("packs.propose"))), status));
    return details;
  }

  async #add(items) {
    await this.saved();
    this.pack = await post(`/api/packs/${this.pack.id}/items`, { items });
    this.#list();
    this.made.replaceChildren();
    notify(t("packs.added", { count: items.length }));
  }
}

// Items that the program proposes for a wish.
async function proposed(status, wish) {
  const { items } = await result(await watched(status, () => post("/api/sets", wish)));
  return items.map(({ bar, beat, difficulty, ...item }) => ({ ...item, show: "filled", words: "", place: t("into.place", { bar, beat: beatName(beat) }), device: item.device.slice(0, 120) }));
}
