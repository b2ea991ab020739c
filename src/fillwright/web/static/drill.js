// The drill: the tune goes by with click and melody, before each gap its beats count down, and the
// student says comp, reharm or line, or plays it in the gap; then what would have worked, and why.

import { get, post, result } from "./api.js";
import { crop, engraved, fraction, h, number } from "./dom.js";
import { beatName } from "./gap.js";
import { watched } from "./longjob.js";
import { PianoChoice } from "./midi.js";
import { titled } from "./names.js";
import { explain } from "./notices.js";
import { outcomes } from "./outcomes.js";
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
    this.piano = new PianoChoice({ changed: () => this.#ready(), connected: () => this.start.focus(), heard: (message) => this.#struck(message), say: (words) => this.#says(words) });
    document.addEventListener("keydown", (event) => this.#key(event));
  }

  async show({ tune, student }) {
    this.#stop();
    const [{ tunes }, { students }] = [await get("/api/tunes"), await get("/api/students")];
    if (!tunes.length) {
      this.panel.replaceChildren(h("p", { class: "lead" }, t("drill.lead")), h("section", { class: "panel first" }, h("h2", {}, t("drill.first")), h("p", {}, t("drill.no_tune")), h("p", {}, h("a", { class: "button strong", href: "/" }, t("packs.to_shelf")))), outcomes("drill"));
      return;
    }
    const told = () => this.handlers.went({ tune: which.value, student: who.value || null });
    const which = h("select", { name: "tune", onchange: told }, tunes.map((one) => h("option", { value: one.id, selected: one.id === tune }, titled(one))));
    const who = h("select", { name: "student", onchange: told }, h("option", { value: "" }, t("drill.nobody")), students.map(({ name }) => h("option", { value: name, selected: name === student }, name)));
    const speed = h("select", { name: "speed" }, SPEEDS.map((value) => h("option", { value: String(value), selected: value === 1 }, t("transport.per_cent", { count: Math.round(value * 100) }))));
    const wait = h("input", { type: "checkbox", name: "wait", checked: true });
    this.status = h("div", { class: "progress", role: "status" });
    this.start = h("button", { type: "submit", class: "strong" }, t("drill.begin"));
    this.stage = h("div", { class: "stage", hidden: true });
    this.heard = h("p", { class: "quiet", role: "status" });
    this.port = h("label", {}, t("record.port"), this.piano.port);
    this.panel.replaceChildren(
      h("p", { class: "lead" }, t("drill.lead")),
      h("form", { class: "row drill-form", autocomplete: "off", onsubmit: (event) => {
        event.preventDefault();
        told();
        this.#begin(which.value, who.value || null, Number(speed.value), wait.checked);
      } }, h("label", {}, t("drill.tune"), which), h("label", {}, t("drill.student"), who), h("label", {}, t("transport.speed"), speed), h("label", {}, wait, t("drill.wait")), this.piano.button, this.port, this.start),
      this.heard, this.status, this.stage);
    this.piano.show();
  }

  #ready() {
    this.port.hidden = !this.piano.isReady;
    if (this.piano.isReady) this.#says(t("drill.piano"));
  }

  #says(words) {
    this.heard.textContent = words;
  }

  async #begin(tune, student, speed, waits) {
    this.#stop();
    const run = (this.run = { tune, student, speed, waits, choices: [], asked: null, next: 0, strokes: [], hearing: [] });
    this.start.disabled = true;
    this.start.classList.remove("strong");
    try {
      player.load().catch(() => {});
      const id = await watched(this.status, () => post(`/api/tunes/${tune}/jobs`, { kind: "drill" }));
      const [found, overview] = [await result(id), await get(`/api/tunes/${tune}`)];
      if (this.run !== run) return;
      run.play = found.play;
      run.clock = clockOf(found.play.bars, overview.bars);
      run.gaps = found.gaps.map((gap) => timed(gap, found.play.bars, run.clock)).filter((gap) => gap.works.length + gap.empty.length);
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
    this.record = h("ol", { class: "answered", "aria-label": t("drill.answers") });
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
    this.count.textContent = left > 0 ? String(left) : run.strokes.length ? "♪" : "·";
    this.count.classList.toggle("open", left <= 0);
    if (seconds < gap.end - 0.02 && inside > 0) return;
    if (!run.answered && run.strokes.length) run.hearing.push(this.#played(gap, run.strokes));
    else if (!run.answered) this.#missed(gap);
    this.#next();
  }

  #question(gap) {
    const { run } = this;
    run.asked = performance.now();
    run.answered = false;
    this.#show(gap);
    this.told.replaceChildren();
    this.ask.textContent = t("drill.ask", { gap: gap.number, bar: gap.sheet_bar, beat: beatName(gap.beat), beats: fraction(gap.beats) });
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

  // A key of the piano goes down or up: in the gap that is what the student answers.
  #struck({ data: [status, midi, velocity], timeStamp }) {
    const { run } = this;
    const gap = run?.gaps?.[run.next];
    const place = gap && !run.paused ? player.placeAt(timeStamp) : null;
    if (place === null) return;
    if ((status & 0xf0) === 0x90 && velocity > 0) {
      if (place >= gap.onset - gap.beatSec / 2 && place < gap.end) run.strokes.push({ midi, velocity, from: place, to: null });
      return;
    }
    const down = (status & 0xf0) === 0x80 || (status & 0xf0) === 0x90 ? run.strokes.findLast((one) => one.midi === midi && one.to === null) : null;
    if (down) down.to = Math.max(place, down.from);
  }

  // What was played in a gap is heard as a family; the time to choose is from where the gap opens.
  async #played(gap, strokes) {
    const { run } = this;
    this.#pressed(null);
    this.told.replaceChildren(h("p", { class: "quiet" }, t("drill.listening")));
    try {
      const rows = strokes.map(({ midi, velocity, from, to }) => {
        const [start, end] = [run.clock.quarter(from), run.clock.quarter(to ?? gap.end)];
        return [start, Math.max(end - start, 0), midi, velocity];
      });
      const heard = await post(`/api/tunes/${run.tune}/gaps/${gap.number}/played`, { speed: run.speed, strokes: rows });
      if (!FAMILIES.includes(heard.answer)) this.#missed(gap);
      else this.#chosen(gap, heard.answer, Math.max(run.clock.sec(heard.begun_quarter) - gap.onset, 0) / run.speed, heard);
    } catch (error) {
      this.told.replaceChildren();
      explain(error);
    }
  }

  #answer(family) {
    const { run } = this;
    const gap = run?.gaps?.[run.next];
    if (!gap || !run.asked || run.answered) return;
    run.answered = true;
    this.#chosen(gap, family, (performance.now() - run.asked) / 1000);
  }

  // No family is to be chosen now; that which was chosen is shown.
  #pressed(family) {
    for (const button of this.buttons.children) {
      button.disabled = true;
      button.setAttribute("aria-pressed", String(button.classList.contains(family)));
    }
  }

  // heard: what was heard, where the answer was played
  #chosen(gap, family, seconds, heard = null) {
    const run = this.run;
    const works = gap.works.some((one) => one.family === family);
    run.choices.push({ kind: gap.kind, family, works, seconds: Math.min(seconds, 3600) });
    if (!heard || run.gaps[run.next] === gap || run.paused) this.#pressed(family);
    this.told.replaceChildren(...(heard ? [heardAs(gap, heard)] : []), ...verdict(gap, family));
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
    run.strokes = [];
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
    player.stop();
    run.paused = true;
    await Promise.all(run.hearing);
    if (this.run !== run) return;
    this.run = null;
    this.start.classList.add("strong");
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

// Which family was heard, and the idea that is nearest.
function heardAs(gap, { answer, device }) {
  const family = t(`family.${answer}`);
  return h("p", { class: "heard" }, t(device ? "drill.heard_near" : "drill.heard", { gap: gap.number, family, device: device ?? "" }));
}

// Quarters of the chorus to seconds of the performance, bar by bar, and back.
function clockOf(bars, printed) {
  const rows = printed.map((bar, index) => ({ from: number(bar.onset_quarter), quarters: number(bar.length_quarter), ...bars[index] }));
  const last = (wanted) => rows[Math.max(0, rows.findLastIndex(wanted))];
  return {
    sec(quarter) {
      const bar = last(({ from }) => from <= quarter + 1e-6);
      return bar.sec + ((quarter - bar.from) / bar.quarters) * bar.len;
    },
    quarter(seconds) {
      const bar = last(({ sec }) => sec <= seconds);
      return bar.from + ((seconds - bar.sec) / bar.len) * bar.quarters;
    },
  };
}

// Where a gap begins and ends in seconds, how long a beat is there, and when it is asked about: when
// the melody is back from the gap before, so many beats ahead at most.
function timed(gap, bars, clock) {
  const onset = clock.sec(number(gap.onset_quarter));
  const end = clock.sec(number(gap.end_quarter));
  const bar = bars.findLast((entry) => entry.sec <= onset + 0.001) ?? bars[0];
  const beatSec = bar.len / bar.beats;
  return { ...gap, onset, end, beatSec, askSec: Math.max(0, onset - MOST_BEATS * beatSec) };
}
