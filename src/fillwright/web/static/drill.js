// The drill: the tune goes by with click and melody, before each gap its beats count down, and the
// student says comp, reharm or line; then what would have worked, and why.

import { get, post, result } from "./api.js";
import { crop, engraved, fraction, h, number } from "./dom.js";
import { watched } from "./longjob.js";
import { explain } from "./notices.js";
import { player } from "./player.js";
import { shape } from "./shapes.js";
import { slowTable } from "./students.js";
import { t } from "./words.js";

const FAMILIES = ["comp", "reharm", "line"];
const MOST_BEATS = 8; // a question is asked so long before its gap at most
const SPEEDS = [0.5, 0.6, 0.7, 0.8, 0.9, 1];

export class Drill {
  // handlers: went({tune, student}, anew)
  constructor(panel, handlers) {
    this.panel = panel;
    this.handlers = handlers;
    document.addEventListener("keydown", (event) => this.#key(event));
  }

  async show({ tune, student }) {
    this.#stop();
    const [{ tunes }, { students }] = [await get("/api/tunes"), await get("/api/students")];
    if (!tunes.length) {
      this.panel.replaceChildren(h("p", { class: "quiet" }, h("a", { href: "/" }, t("drill.no_tune"))));
      return;
    }
    const told = () => this.handlers.went({ tune: which.value, student: who.value || null });
    const which = h("select", { name: "tune", onchange: told }, tunes.map(({ id, title }) => h("option", { value: id, selected: id === tune }, title)));
    const who = h("select", { name: "student", onchange: told }, h("option", { value: "" }, t("drill.nobody")), students.map(({ name }) => h("option", { value: name, selected: name === student }, name)));
    const speed = h("select", { name: "speed" }, SPEEDS.map((value) => h("option", { value: String(value), selected: value === 1 }, t("transport.per_cent", { count: Math.round(value * 100) }))));
    const wait = h("input", { type: "checkbox", name: "wait", checked: true });
    this.status = h("div", { class: "progress", role: "status" });
    this.start = h("button", { type: "submit", class: "strong" }, t("drill.begin"));
    this.stage = h("div", { class: "stage", hidden: true });
    this.panel.replaceChildren(
      h("p", { class: "lead" }, t("drill.lead")),
      h("form", { class: "row drill-form", autocomplete: "off", onsubmit: (event) => {
        event.preventDefault();
        told();
        this.#begin(which.value, who.value || null, Number(speed.value), wait.checked);
      } }, h("label", {}, t("drill.tune"), which), h("label", {}, t("drill.student"), who), h("label", {}, t("transport.speed"), speed), h("label", {}, wait, t("drill.wait")), this.start),
      this.status, this.stage);
  }

  async #begin(tune, student, speed, waits) {
    this.#stop();
    const run = (this.run = { tune, student, speed, waits, choices: [], asked: null, next: 0 });
    this.start.disabled = true;
    this.start.classList.remove("strong");
    try {
      player.load().catch(() => {});
      const id = await watched(this.status, () => post(`/api/tunes/${tune}/jobs`, { kind: "drill" }));
      const [found, overview] = [await result(id), await get(`/api/tunes/${tune}`)];
      if (this.run !== run) return;
      run.play = found.play;
      run.gaps = found.gaps.map((gap) => timed(gap, found.play.bars, overview.bars)).filter((gap) => gap.works.length + gap.empty.length);
      this.#build(run);
      await this.#go(0);
    } catch (error) {
      explain(error);
    }
    this.start.disabled = false;
  }

  #build(run) {
    this.count = h("p", { class: "count", "aria-hidden": "true" });
    this.ask = h("p", { class: "ask", role: "status" });
    this.phrase = h("div", { class: "paper phrase", role: "group", "aria-label": t("bench.phrase") });
    this.buttons = h("div", { class: "row answers-row", role: "group", "aria-label": t("drill.which") }, FAMILIES.map((family, index) => h("button", { type: "button", class: `answer ${family}`, disabled: true, onclick: () => this.#answer(family) }, h("kbd", {}, String(index + 1)), shape(family), t(`bench.kind_${family}`))));
    this.told = h("div", { class: "verdict", "aria-live": "polite" });
    this.further = h("button", { type: "button", class: "further", hidden: true, onclick: () => this.#further() }, t("drill.further"));
    this.end = h("button", { type: "button", class: "plain small", onclick: () => this.#over() }, t("drill.end"));
    this.record = h("ol", { class: "record", "aria-label": t("drill.answers") });
    this.stage.replaceChildren(h("div", { class: "question" }, this.count, this.ask), this.phrase, this.buttons, this.told, h("div", { class: "row" }, this.further, this.end), this.record);
    this.stage.hidden = false;
    this.stage.scrollIntoView({ block: "nearest" });
    run.gaps.forEach((gap) => { gap.drawn = null; });
  }

  // The tune from a place on; the melody and the click alone.
  async #go(from) {
    const { run } = this;
    for (const part of ["left", "right"]) player.setHeard(part, false);
    for (const part of ["melody", "click"]) player.setHeard(part, true);
    this.further.hidden = true;
    run.from = from;
    await player.play(run.play, {
      speed: run.speed, from, countIn: true, onplace: (seconds) => this.#place(seconds),
      onnotes: (_, notes) => this.#lit(notes),
      onend: () => { if (this.run === run && !run.paused && run.next >= run.gaps.length) this.#over(); },
    });
    if (this.run !== run) return;
    player.setHeard("click", true);
    this.#show(run.gaps[run.next]);
  }

  // Where the tune is: the question is asked, counts down, and is answered or over.
  #place(seconds) {
    const { run } = this;
    const gap = run?.gaps[run.next];
    if (!gap || run.paused) return;
    if (!run.asked && seconds >= Math.max(gap.askSec, run.from)) this.#question(gap);
    if (!run.asked) return;
    const left = Math.ceil((gap.onset - seconds) / gap.beatSec - 0.001);
    const inside = Math.ceil((gap.end - seconds) / gap.beatSec - 0.001);
    this.count.textContent = left > 0 ? String(left) : "·";
    this.count.classList.toggle("open", left <= 0);
    if (seconds < gap.end - 0.02 && inside > 0) return;
    if (!run.answered) this.#missed(gap);
    this.#next();
  }

  #question(gap) {
    const { run } = this;
    run.asked = performance.now();
    run.answered = false;
    this.#show(gap);
    this.told.replaceChildren();
    this.ask.textContent = t("drill.ask", { gap: gap.number, bar: gap.bar, beat: fraction(gap.beat), beats: fraction(gap.beats) });
    for (const button of this.buttons.children) {
      button.disabled = false;
      button.setAttribute("aria-pressed", "false");
    }
  }

  async #show(gap) {
    if (!gap || this.shown === gap) return;
    this.shown = gap;
    try {
      gap.drawn ??= await get(`/api/tunes/${this.run.tune}/gaps/${gap.number}/phrase`);
      if (this.shown !== gap) return;
      const svg = engraved(gap.drawn.svg);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", t("drill.phrase", { gap: gap.number }));
      this.phrase.replaceChildren(svg);
      crop(svg, 10, 0.62);
      this.heads = gap.drawn.heads.map((at, index) => [at, svg.querySelector(`#phrase-n${index}`)]).filter(([, head]) => head);
      for (const mark of svg.querySelectorAll(".gap-mark")) mark.classList.toggle("current", Number(mark.dataset.gap) === gap.number);
    } catch (error) {
      explain(error);
    }
  }

  #lit(notes) {
    const now = new Set(notes.filter((note) => note.part === "melody").map((note) => note.at));
    for (const [at, head] of this.heads ?? []) head.classList.toggle("on", now.has(at));
  }

  #key(event) {
    if (this.panel.hidden || !this.run || event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input:not([type=checkbox]), select, textarea")) return;
    const family = FAMILIES[Number(event.key) - 1];
    if (family) this.#answer(family);
    else if (event.key === "Escape") this.#over();
    else if (event.key === "Enter" && this.run.paused && !event.target.matches("button")) this.#further();
  }

  #answer(family) {
    const { run } = this;
    const gap = run?.gaps?.[run.next];
    if (!gap || !run.asked || run.answered) return;
    run.answered = true;
    const seconds = (performance.now() - run.asked) / 1000;
    const works = gap.works.some((one) => one.family === family);
    run.choices.push({ kind: gap.kind, family, works, seconds: Math.min(seconds, 3600) });
    for (const button of this.buttons.children) {
      button.disabled = true;
      button.setAttribute("aria-pressed", String(button.classList.contains(family)));
    }
    this.told.replaceChildren(...verdict(gap, family));
    this.record.append(h("li", { class: works ? "works" : "empty" }, shape(family), " ", t(works ? "drill.line_works" : "drill.line_none", { gap: gap.number, family: t(`family.${family}`), seconds: Math.round(seconds * 10) / 10 })));
  }

  #missed(gap) {
    for (const button of this.buttons.children) button.disabled = true;
    this.told.replaceChildren(...verdict(gap, null));
    this.record.append(h("li", { class: "quiet" }, t("drill.line_missed", { gap: gap.number })));
  }

  // After a gap: the reason can be read before the tune goes on.
  #next() {
    const { run } = this;
    const gap = run.gaps[run.next];
    run.asked = null;
    run.next += 1;
    this.count.textContent = "";
    if (run.waits) {
      run.paused = true;
      run.resume = gap.end;
      player.stop();
      this.further.textContent = t(run.next < run.gaps.length ? "drill.further" : "drill.end");
      this.further.hidden = false;
      this.further.focus();
    }
  }

  #further() {
    const { run } = this;
    if (!run?.paused) return;
    run.paused = false;
    if (run.next >= run.gaps.length) this.#over();
    else this.#go(run.resume).catch(explain);
  }

  // What was chosen is kept for the student, and where choosing is slow is shown.
  async #over() {
    const { run } = this;
    if (!run) return;
    this.run = null;
    this.start.classList.add("strong");
    player.stop();
    this.#heard();
    this.further.hidden = this.end.hidden = true;
    for (const button of this.buttons.children) button.disabled = true;
    this.count.textContent = "";
    this.shown = null;
    const worked = run.choices.filter((one) => one.works).length;
    this.ask.textContent = t("drill.done", { worked, count: run.choices.length });
    if (!run.choices.length) return;
    try {
      const { kinds } = await post("/api/choices", { name: run.student, choices: run.choices });
      this.record.before(h("section", { class: "slow" }, h("h3", {}, t(run.student ? "drill.slow" : "drill.slow_now")), slowTable(kinds)));
    } catch (error) {
      explain(error);
    }
  }

  #heard() {
    for (const part of ["left", "right"]) player.setHeard(part, true);
    player.setHeard("click", false);
  }

  #stop() {
    if (!this.run) return;
    this.run = null;
    player.stop();
    this.#heard();
  }
}

// What would have worked, the chosen family first; a family without an offer says why.
function verdict(gap, chosen) {
  const rows = [...gap.works.map((one) => ({ ...one, works: true })), ...gap.empty].sort((a, b) => Number(b.family === chosen) - Number(a.family === chosen));
  const upper = (text) => `${text[0].toUpperCase()}${text.slice(1)}`;
  return rows.map((one) => h("p", { class: one.works ? `works ${one.family}` : "none" }, h("strong", {}, one.works ? "✓ " : "✗ ", t(`family.${one.family}`)), one.family === chosen ? h("span", { class: "quiet" }, ` (${t("drill.yours")})`) : "", ": ",
    h("span", { lang: "en" }, one.works ? `${upper(one.device)}. ${one.sentence}` : `${upper(one.reason)}.`)));
}

// Where a gap begins and ends in seconds, how long a beat is there, and when it is asked about: when
// the melody is back from the gap before, so many beats ahead at most.
function timed(gap, bars, printed) {
  const at = (quarter) => {
    const index = Math.max(0, printed.findLastIndex((bar) => number(bar.onset_quarter) <= quarter + 1e-6));
    const [bar, played] = [printed[index], bars[index]];
    return played.sec + ((quarter - number(bar.onset_quarter)) / number(bar.length_quarter)) * played.len;
  };
  const onset = at(number(gap.onset_quarter));
  const end = at(number(gap.end_quarter));
  const bar = bars.findLast((entry) => entry.sec <= onset + 0.001) ?? bars[0];
  const beatSec = bar.len / bar.beats;
  return { ...gap, onset, end, beatSec, askSec: Math.max(0, onset - MOST_BEATS * beatSec) };
}
