// Students: who they are, what is due today and how it went, what is known in which key.

import { get, post, put, remove } from "./api.js";
import { deviceList } from "./devicelist.js";
import { h } from "./dom.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { knownLegend, knownTable } from "./known.js";
import { explain, notify } from "./notices.js";
import { outcomes } from "./outcomes.js";
import { askedTwice } from "./twice.js";
import { language, t } from "./words.js";

const LEVELS = ["beginner", "intermediate", "advanced"];
const HANDS = ["small", "medium", "large"];
const RATINGS = ["again", "hard", "good", "easy"];

const day = (text) => new Date(text).toLocaleDateString(language, { dateStyle: "medium" });
const who = ({ level, hand }) => t("students.who", { level: t(`tune.level_${level}`), hand: t(`tune.hand_${hand}`) });
const choice = (name, values, said, chosen) => h("select", { name }, values.map((value) => h("option", { value, selected: value === chosen }, said(value))));

export class Students {
  // handlers: went(name or null), drill(name)
  constructor(panel, handlers) {
    this.panel = panel;
    this.handlers = handlers;
    this.minutes = 20;
  }

  async show({ student }) {
    if (student) return this.#open(student);
    const { students } = await get("/api/students");
    const list = h("ul", { class: "book-list", "aria-label": t("lessons.view_students") }, students.map((one) => h("li", {},
      h("button", { type: "button", class: "plain title", onclick: () => this.handlers.went(one.name) }, one.name),
      h("span", { class: "quiet" }, [who(one), t("students.items_count", { count: one.items }), one.due ? t("students.due_count", { count: one.due }) : ""].filter(Boolean).join(" · ")))));
    const adding = h("section", { class: "panel" }, h("h2", {}, t("students.new")), h("p", { class: "quiet" }, t("students.alias")),
      form(null, t("students.add"), async (wish) => this.handlers.went((await post("/api/students", wish)).name)));
    this.panel.replaceChildren(h("p", { class: "lead" }, t("students.lead")), ...(students.length ? [list, adding] : [adding, outcomes("students")]));
    return null;
  }

  async #open(name) {
    this.name = name;
    this.query = `name=${encodeURIComponent(name)}`;
    const found = await get(`/api/student?${this.query}`);
    const { student } = found;
    this.day = h("section", { class: "today", "aria-label": t("students.today") });
    this.panel.replaceChildren(
      h("p", {}, h("button", { type: "button", class: "plain small", onclick: () => this.handlers.went(null) }, t("students.all"))),
      h("div", { class: "student-head" }, h("h2", {}, student.name), h("p", { class: "quiet" }, who(student), student.without.length ? [`, ${t("students.without_these")} `, student.without.map(ideaName).join(", ")] : null),
        student.notes ? h("p", { class: "notes" }, student.notes) : null, this.#changing(student)),
      this.day, this.#known(found), this.#giving(),
      this.#slow(found.kinds),
      h("div", { class: "row" }, h("a", { href: `/api/student/export?${this.query}`, download: "" }, t("students.export")),
        h("button", { type: "button", class: "plain take-off", onclick: (event) => this.#ask(event.currentTarget) }, t("students.delete"))));
    await this.#today();
  }

  #changing(student) {
    return h("details", {}, h("summary", {}, t("students.change")), form(student, t("students.change_it"), async (wish) => {
      const now = await put(`/api/student?${this.query}`, wish);
      notify(t("students.changed", { name: now.name }));
      this.handlers.went(now.name);
    }));
  }

  async #today() {
    const minutes = h("input", { type: "number", name: "minutes", min: "1", max: "240", value: String(this.minutes), onchange: () => {
      this.minutes = minutes.valueAsNumber || 20;
      this.#today().catch(explain);
    } });
    const { practice, done } = await get(`/api/student/today?${this.query}&minutes=${this.minutes}`);
    this.day.replaceChildren(
      h("div", { class: "row" }, h("h3", {}, t("students.today")), h("label", {}, t("students.minutes"), minutes), h("span", { class: "quiet" }, [practice.length ? t("students.in_all", { count: practice.reduce((sum, one) => sum + one.minutes, 0) }) : "", done ? t("students.done", { count: done }) : ""].filter(Boolean).join(" · "))),
      practice.length ? h("ol", { class: "practice" }, practice.map((one) => this.#item(one))) : h("p", { class: "quiet" }, t(done ? "students.enough" : "students.nothing_due")));
  }

  #item({ number, what, tempo, aim, minutes, known, days_late: late }) {
    const why = known === null ? t("students.fresh") : `${late ? t("students.due_for", { count: late }) : t("students.due_today")}, ${t("students.percent", { known })}`;
    const played = h("input", { type: "number", min: "20", max: "400", value: String(tempo), "aria-label": t("students.tempo_of", { what }) });
    const rate = async (rating) => {
      try {
        const now = await post("/api/student/rate", { name: this.name, number, rating, tempo: played.valueAsNumber });
        notify(t("students.rated", { what, date: day(now.due), tempo: now.tempo }));
        await this.#open(this.name);
        this.day.querySelector("button")?.focus();
      } catch (error) {
        explain(error);
      }
    };
    return h("li", { "data-number": String(number) },
      h("p", { class: "what" }, h("strong", { lang: "en" }, what), " ", h("span", { class: "quiet" }, t("students.for_minutes", { count: minutes }), " · ", why)),
      h("div", { class: "row" }, h("label", {}, t("students.at"), played), h("span", { class: "quiet" }, t("students.aim", { tempo: aim })),
        ratingButtons(what, null, rate)));
  }

  #known({ items, keys, known }) {
    if (!items.length) return h("p", { class: "quiet" }, t("students.no_item"));
    return h("section", { class: "progress-picture" },
      known.length ? [h("div", { class: "wide-table", tabindex: "0", role: "group", "aria-label": t("students.known") }, knownTable(keys, known)), knownLegend()] : null,
      h("details", {}, h("summary", {}, t("students.every", { count: items.length })), h("ul", { class: "every" }, items.map((one) => h("li", {}, h("span", { lang: "en" }, one.what), " ",
        h("span", { class: "quiet" }, [t("students.tempos", { now: one.now_tempo, aim: one.tempo }), one.known === null ? t("students.fresh") : t("students.percent", { known: one.known }), one.due ? t("students.again_on", { date: day(one.due) }) : ""].filter(Boolean).join(" · ")), " ",
        h("button", { type: "button", class: "plain small", "aria-label": `${one.what}: ${t("students.take_back")}`, onclick: (event) => this.#takeBack(event.currentTarget, one) }, t("students.take_back")))))));
  }

  // How it went goes with it, so it is asked for twice.
  #takeBack(button, { number, what }) {
    askedTwice(button, t("students.keep"), t("students.take_back_for_good", { what }), async () => {
      await remove(`/api/student/items?${this.query}&number=${number}`);
      await this.#open(this.name);
      const all = this.panel.querySelector(".progress-picture details");
      if (all) all.open = true;
      (all?.querySelector("summary") ?? this.panel.querySelector("button"))?.focus();
    });
  }

  #giving() {
    const device = deviceList("device", { required: true });
    const keys = h("input", { type: "text", name: "keys", list: "orders", value: "C F Bb", maxlength: "200", autocomplete: "off" });
    const tempo = h("input", { type: "number", name: "tempo", min: "20", max: "400", value: "120" });
    return h("form", { class: "panel give", autocomplete: "off", onsubmit: async (event) => {
      event.preventDefault();
      try {
        await post("/api/student/items", { name: this.name, device: device.value, keys: keys.value, tempo: tempo.valueAsNumber });
        await this.#open(this.name);
      } catch (error) {
        explain(error);
      }
    } }, h("h3", {}, t("students.give")), h("p", { class: "quiet" }, t("students.give_what")),
    h("div", { class: "row" }, h("label", {}, t("packs.device"), device), h("label", {}, t("students.keys"), keys), h("label", {}, t("students.aim_tempo"), tempo), h("button", { type: "submit" }, t("students.give_it"))));
  }

  #slow(kinds) {
    return h("section", { class: "slow" }, h("h3", {}, t("drill.slow")), kinds.length ? slowTable(kinds) : h("p", { class: "quiet" }, t("drill.no_record")),
      h("button", { type: "button", class: "small", onclick: () => this.handlers.drill(this.name) }, t("drill.with", { name: this.name })));
  }

  // Nothing of a student comes back, so it is asked for twice.
  #ask(button) {
    askedTwice(button, t("students.keep"), t("students.lose", { name: this.name }), async () => {
      await remove(`/api/student?${this.query}`);
      notify(t("students.deleted", { name: this.name }));
      this.handlers.went(null);
    });
  }
}

// Who a student is, to be filled in or changed; what is said is handed to `done`.
function form(student, words, done) {
  const name = h("input", { type: "text", name: "name", maxlength: "200", required: true, autocomplete: "off", value: student?.name ?? "" });
  const level = choice("level", LEVELS, (value) => t(`tune.level_${value}`), student?.level);
  const hand = choice("hand", HANDS, (value) => t(`tune.hand_${value}`), student?.hand ?? "medium");
  const notes = h("textarea", { name: "notes", rows: "2", maxlength: "10000" }, student?.notes ?? "");
  const without = deviceList("without");
  const off = h("ul", { class: "row off" });
  const add = (device) => {
    if (device && ![...off.children].some((one) => one.dataset.device === device)) off.append(h("li", { class: "chip", "data-device": device }, h("span", { lang: ideaLang(device) }, ideaName(device)), h("button", { type: "button", class: "plain small", "aria-label": t("students.on_again", { device: ideaName(device) }), onclick: (event) => event.currentTarget.parentElement.remove() }, "×")));
    without.value = "";
  };
  student?.without.forEach(add);
  return h("form", { class: "student-form", autocomplete: "off", onsubmit: async (event) => {
    event.preventDefault();
    add(without.value);
    try {
      await done({ name: name.value, level: level.value, hand: hand.value, notes: notes.value, without: [...off.children].map((one) => one.dataset.device) });
    } catch (error) {
      explain(error);
    }
  } }, h("label", {}, t("students.name"), name),
  h("div", { class: "row" }, h("label", {}, t("tune.level"), level), h("label", {}, t("tune.hand"), hand)), h("p", { class: "quiet" }, t("tune.caution")),
  h("div", { class: "row" }, h("label", {}, t("students.without"), without), h("button", { type: "button", class: "small", onclick: () => add(without.value) }, t("students.off"))), off,
  h("label", { class: "tall" }, t("students.notes"), notes), h("button", { type: "submit", class: student ? "" : "strong" }, words));
}

// How something went; `proposed` is what a take says of it, or null.
export function ratingButtons(what, proposed, rate) {
  return h("span", { class: "row ratings", role: "group", "aria-label": t("students.how", { what }) },
    RATINGS.map((rating) => h("button", { type: "button", class: `small ${rating}${rating === proposed ? " strong" : ""}`, onclick: () => rate(rating) }, t(`students.rate_${rating}`))));
}

// Where choosing is slow: the slowest kind of gap first, its seconds as a bar as well.
export function slowTable(kinds) {
  const most = Math.max(...kinds.map((one) => one.seconds), 1);
  return h("table", { class: "slow-table" }, h("thead", {}, h("tr", {}, ["kind", "seconds", "worked"].map((name) => h("th", { scope: "col" }, t(`drill.${name}`))))),
    h("tbody", {}, kinds.map((one) => h("tr", {}, h("th", { scope: "row", lang: "en" }, one.kind),
      h("td", {}, h("meter", { min: "0", max: String(most), value: String(one.seconds), "aria-hidden": "true" }), " ", t("drill.sec", { seconds: one.seconds })), h("td", {}, t("drill.of", { worked: one.worked, asked: one.asked }))))));
}
