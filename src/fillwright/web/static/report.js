// What was heard of a take: three sentences, the marked score, the tempo, then gap by gap.

import { post, resultAddress, workAt } from "./api.js";
import { crop, engraved, h, s } from "./dom.js";
import { beatName } from "./gap.js";
import { ideaLang, ideaName, inEnglish } from "./ideaname.js";
import { explain } from "./notices.js";
import { practised } from "./rated.js";
import { shape } from "./shapes.js";
import { tempoCurve } from "./tempocurve.js";
import { moment, t } from "./words.js";

const MARKS = {
  played: "M8 5.5a2.5 2.5 0 1 0 .01 0z", wrong: "M3 3l10 10M13 3L3 13", missed: "M8 1l7 7-7 7-7-7z",
  in_time: "M2 8l4 4 8-9", late: "M4 2l8 6-8 6z", early: "M12 2l-8 6 8 6z", none: "M2 8h12",
};

const mark = (kind) => s("svg", { viewBox: "0 0 16 16", class: `take-mark ${kind}`, "aria-hidden": "true" }, s("path", { d: MARKS[kind] }));

const figures = (rows) => h("details", { class: "take-figures" }, h("summary", {}, t("take.figures")), h("dl", {}, rows.map(([name, words]) => h("div", {}, h("dt", {}, name), h("dd", {}, words)))));

export class TakeReport {
  // page: {tune, take, transport, change(change) -> promise, go(gap number)}
  constructor(element, found, page) {
    this.found = found;
    this.page = page;
    this.tune = page.tune;
    const { take } = page;
    const [well, work, how] = found.summary;
    const rated = h("section", { class: "take-practice" });
    element.replaceChildren(
      h("header", {}, h("h2", { tabindex: "-1" }, take.name), h("p", { class: "quiet" }, moment(take.made_sec)),
        h("span", { class: "row take" }, h("button", { type: "button", onclick: (event) => this.#paper(event.currentTarget) }, t("take.paper")))),
      inEnglish(), h("ul", { class: "summary", lang: "en" }, [well, work, how].map((sentence) => h("li", {}, sentence))),
      found.warnings.length ? h("ul", { class: "warnings", lang: "en" }, found.warnings.map((words) => h("li", {}, words))) : "",
      h("dl", { class: "take-facts" }, this.#facts().map(([name, words]) => h("div", {}, h("dt", {}, name), h("dd", {}, words)))),
      this.#measured(),
      rated, this.#score(), this.#tempo(), this.#gaps());
    practised(rated, found, page).catch(explain);
    this.#draw();
  }

  #facts() {
    const { form, tempo, swing, balance } = this.found;
    const facts = [
      [t("take.form"), form.map((run) => t(run.from === "0" ? "take.run_pickup" : "take.run", run)).join(" ")],
      [t("take.mean"), t("take.beats_a_minute", { tempo: Math.round(tempo.mean) })],
    ];
    if (swing) facts.push([t("take.swing"), t(`take.swing_${swing.against_usual}`)]);
    if (balance !== null) facts.push([t("take.balance"), t(balance >= 3 ? "take.balance_above" : balance <= -3 ? "take.balance_below" : "take.balance_even")]);
    return facts;
  }

  // What those words stand on.
  #measured() {
    const { form, tempo, swing } = this.found;
    const rows = [[t("take.form"), form.map((run) => t("take.run_figures", run)).join(" ")], [t("take.mean"), t("take.beats_a_minute", { tempo: tempo.mean.toFixed(1) })]];
    if (swing) rows.push([t("take.swing"), t("take.swing_figures", { ratio: swing.ratio.toFixed(2), low: swing.usual[0].toFixed(1), high: swing.usual[1].toFixed(1) })]);
    return figures(rows);
  }

  // --- the score --------------------------------------------------------------------------------

  #score() {
    const { melody, pages } = this.found;
    const count = (kind) => melody.filter(({ status }) => status === kind).length;
    const counts = Object.fromEntries(["played", "wrong", "missed"].map((kind) => [kind, count(kind)]));
    this.drawings = pages.map(engraved);
    this.drawings.forEach((drawing, index) => {
      drawing.setAttribute("role", "img");
      drawing.setAttribute("aria-label", t("take.page", { page: index + 1, pages: pages.length, ...counts }));
    });
    const off = melody.filter(({ status }) => status !== "played");
    return h("section", { "aria-labelledby": "take-score" }, h("h3", { id: "take-score" }, t("take.score")),
      h("ul", { class: "take-legend" }, ["played", "wrong", "missed"].map((kind) => h("li", { class: kind }, mark(kind), t(`take.mark_${kind}`, { count: counts[kind] })))),
      h("div", { class: "paper pages take-score" }, this.drawings),
      off.length ? h("details", {}, h("summary", {}, t("take.off_list", { count: off.length })),
        h("ul", { class: "take-wrongs" }, off.map((note) => h("li", {}, mark(note.status), t(`take.off_${note.status}`, { pitch: note.pitch, bar: note.bar, beat: beatName(note.beat) }))))) : "");
  }

  #tempo() {
    return h("section", { "aria-labelledby": "take-tempo" }, h("h3", { id: "take-tempo" }, t("take.tempo")), tempoCurve(this.found.tempo, this.found.bars));
  }

  // --- gap by gap -------------------------------------------------------------------------------

  #gaps() {
    this.rows = this.found.gaps.map((gap) => this.#gap(gap));
    return h("section", { "aria-labelledby": "take-gaps" }, h("h3", { id: "take-gaps" }, t("take.gaps")), h("ol", { class: "take-gaps" }, this.rows.map(({ element }) => element)));
  }

  #gap(gap) {
    const row = { gap, staves: [] };
    const title = h("h4", {}, h("button", { type: "button", class: "plain", onclick: () => this.page.go(gap.number) }, t("take.gap", { number: gap.number, bar: gap.sheet_bar, beat: beatName(gap.beat) })),
      gap.run ? h("span", { class: "quiet" }, t("take.time", { count: gap.run + 1 })) : "", h("span", { class: `take-answer ${gap.answer}` }, shape(gap.answer), t(`take.answer_${gap.answer}`)), this.#landing(gap));
    const staves = [];
    if (gap.own) staves.push(this.#staff(row, gap.own, "played", gap.device));
    if (gap.offer) staves.push(this.#staff(row, gap.offer, "offer", gap.device));
    row.says = h("div", { class: "take-kept-says", role: "status" });
    const findings = gap.findings.length ? h("ul", { class: "take-findings", lang: "en" }, gap.findings.map(({ sentence }) => h("li", {}, sentence))) : this.#nothingFound(gap);
    row.element = h("li", { class: "take-gap", value: gap.number }, title, findings, staves.length ? h("div", { class: "take-staves" }, staves) : "", row.says, this.#figures(gap));
    return row;
  }

  #lands(gap) {
    return Boolean(this.tune.gaps[gap.number - 1]?.landing);
  }

  // A gap that was left open is not praised for it: only that the way back was in time.
  #nothingFound(gap) {
    if (gap.is_off || (this.#lands(gap) && gap.back_late_sec === null)) return "";
    if (gap.answer === "open") return h("p", { class: "quiet" }, t(this.#lands(gap) ? "take.left_open_in_time" : "take.left_open"));
    return h("p", { class: "fine" }, t("take.nothing_found"));
  }

  // Back in time, late or early: by shape and in words.
  #landing(gap) {
    const late = gap.back_late_sec;
    if (!this.#lands(gap)) return h("span", { class: "take-back none" }, mark("none"), t("take.back_end"));
    const kind = late === null ? "none" : !gap.is_off ? "in_time" : late > 0 ? "late" : "early";
    const words = t(`take.back_${kind}`, { amount: t(`take.amount_${gap.amount}`) });
    return h("span", { class: `take-back ${kind}` }, mark(kind), words);
  }

  // What was played, or the nearest offer, with what sounds and what can be kept.
  #staff(row, pick, kind, device) {
    const { gap } = row;
    const paper = h("div", { class: "staff", "aria-busy": "true", "data-kind": kind });
    const hear = h("button", { type: "button", class: "hear", "aria-pressed": "false", onclick: () => this.#hear(row, pick, kind, hear) }, t(`take.hear_${kind}`));
    const acts = [hear];
    if (kind === "played") {
      acts.push(h("button", { type: "button", class: "hear plain", "aria-pressed": "false", onclick: (event) => this.#hear(row, pick, "offer", event.currentTarget) }, t("take.hear_clean")));
      row.keep = h("button", { type: "button", class: "keep", onclick: () => this.#keep(row) }, t("take.keep"));
      acts.push(row.keep);
    }
    row.staves.push({ paper, pick, label: kind === "played" ? t("take.staff_played", { number: gap.number }) : t("take.staff_offer", { device: ideaName(device) }) });
    return h("figure", { class: `take-staff ${kind}` }, h("figcaption", {}, kind === "played" ? t("take.you_played") : [t("take.nearest"), " ", h("em", { lang: ideaLang(device) }, ideaName(device))]), paper, h("div", { class: "row" }, acts));
  }

  #figures(gap) {
    const seconds = (value) => (value === null ? t("take.no_figure") : t("take.seconds", { seconds: value.toFixed(3) }));
    const rows = [["heard", seconds(gap.melody_heard_sec)], ["attacks", String(gap.attacks)], ["late", seconds(gap.back_late_sec)],
      ["late_beats", gap.back_late_beats === null ? t("take.no_figure") : gap.back_late_beats.toFixed(3)]];
    return figures(rows.map(([name, words]) => [t(`take.figure_${name}`), words]));
  }

  // --- drawing ----------------------------------------------------------------------------------

  // The score at once; the small staves one after the other.
  async #draw() {
    requestAnimationFrame(() => { for (const drawing of this.drawings) crop(drawing); });
    for (const row of this.rows) {
      for (const staff of row.staves) await this.#drawStaff(row.gap.number, staff);
    }
  }

  async #drawStaff(number, { paper, pick, label }) {
    try {
      const svg = engraved((await post(`/api/tunes/${this.tune.id}/gaps/${number}/staff`, pick)).svg);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", label);
      paper.replaceChildren(svg);
      crop(svg, 8, 0.75);
    } catch (error) {
      paper.replaceChildren(h("p", { class: "quiet" }, error.message));
    }
    paper.setAttribute("aria-busy", "false");
  }

  // --- hearing ----------------------------------------------------------------------------------

  play() {
    return this.#sound(this.found.play, null);
  }

  async #hear(row, pick, kind, button) {
    const { gap } = row;
    if (button.getAttribute("aria-pressed") === "true") return this.page.transport.toggle();
    if (kind === "played") return this.#sound(cut(this.found.play, gap.from_sec, gap.to_sec), button);
    try {
      const { context } = await post(`/api/tunes/${this.tune.id}/gaps/${gap.number}/heard`, pick);
      return this.#sound(context, button);
    } catch (error) {
      return explain(error);
    }
  }

  async #sound(score, button) {
    try {
      await this.page.transport.play(score, { onend: () => button?.setAttribute("aria-pressed", "false") });
      button?.setAttribute("aria-pressed", "true");
    } catch (error) {
      explain(error);
    }
  }

  // On paper for the student; the button that asked becomes the one that stops it.
  async #paper(button) {
    if (button.running) return button.running.cancel();
    const address = `/api/tunes/${this.tune.id}/takes/${this.page.take.id}/jobs`;
    button.running = workAt(address, "pdf", (job) => { button.textContent = t("chorus.stop_what", { what: job.what }); });
    try {
      const link = h("a", { href: resultAddress(await button.running.finished), download: "" });
      document.body.append(link);
      link.click();
      link.remove();
    } catch (error) {
      explain(error);
    }
    button.running = null;
    button.textContent = t("take.paper");
    return null;
  }

  // --- keeping ----------------------------------------------------------------------------------

  async #keep(row) {
    const { gap } = row;
    try {
      const checked = await post(`/api/tunes/${this.tune.id}/gaps/${gap.number}/check`, gap.own);
      await this.page.change({ pick: { gap: gap.number, ...gap.own } });
      row.keep.textContent = t("take.kept");
      row.says.replaceChildren(
        h("p", {}, t("take.kept_says", { number: gap.number, device: ideaName(checked.device) })),
        checked.findings.length ? h("ul", { class: "findings", lang: "en" }, checked.findings.map((finding) => h("li", {}, `${t("editor.finding", { beat: beatName(finding.beat), bar: finding.sheet_bar })} ${finding.message}.`))) : h("p", { class: "fine" }, t("editor.fine")),
        h("button", { type: "button", class: "small", onclick: () => this.page.go(gap.number) }, t("take.beside")));
    } catch (error) {
      explain(error);
    }
  }
}

// What sounds of a score from one second to another, counted from the first.
function cut(score, from, to) {
  const notes = score.notes.filter((note) => note.sec >= from && note.sec < to).map((note) => ({ ...note, sec: note.sec - from }));
  const pedals = score.pedals.filter(([down, up]) => up > from && down < to).map(([down, up]) => [down - from, Math.min(up, to) - from]);
  return { notes, pedals, bars: [], length: to - from };
}
