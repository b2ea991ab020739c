// The whole chorus: engraved, playing with a moving highlight, what stands in each gap, files.

import { result, resultAddress, work } from "./api.js";
import { closer } from "./closer.js";
import { engraved, h, toTheTop } from "./dom.js";
import { decided, whyOpen } from "./gap.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { told } from "./longjob.js";
import { explain, notify } from "./notices.js";
import { player } from "./player.js";
import { onScreen } from "./printing.js";
import { shape } from "./shapes.js";
import { systemAt } from "./sheet.js";
import { t } from "./words.js";

const FILES = [["pdf", "PDF"], ["musicxml", "MusicXML"], ["mid", "MIDI"], ["flac", "FLAC"]];

export class Chorus {
  // handlers: go(gap number) opens a gap, change(change) -> promise
  constructor(panel, transport, handlers) {
    this.panel = panel;
    this.transport = transport;
    this.handlers = handlers;
    this.madeFor = null;
    this.status = h("div", { class: "progress", role: "status" });
    this.pages = h("div", { class: "paper pages playable", role: "group", "aria-label": t("chorus.paper") });
    this.pages.addEventListener("click", (event) => this.#from(event));
    this.fills = h("ol", { class: "fill-list", "aria-label": t("chorus.fills") });
    this.heading = h("h2", {}, t("chorus.fills"));
    this.files = h("div", { class: "row take", role: "group", "aria-label": t("chorus.files") });
    this.undecided = h("p", { class: "row undecided", hidden: true });
    panel.replaceChildren(h("div", { class: "chorus-head" }, h("p", { class: "quiet" }, t("chorus.hint")), this.files), this.undecided, this.status, this.pages, h("p", { class: "legend quiet" }, t("bench.legend")), this.heading, this.fills);
  }

  // Work out the chorus for the tune as it is now, unless that has been done: first how it sounds,
  // then its pages. The promise is for both together.
  show(tune) {
    return this.make(tune, onScreen());
  }

  // The same with pages as chosen (printing.js).
  async make(tune, chosen) {
    this.tune = tune;
    const key = `${tune.id} ${tune.version} ${JSON.stringify(chosen)}`;
    if (this.madeFor !== key) {
      this.madeFor = key;
      this.chosen = chosen;
      this.score = this.found = null;
      this.running?.cancel();
      this.panel.setAttribute("aria-busy", "true");
      this.pages.setAttribute("aria-busy", "true");
      this.sound = this.#made(key, "sound", (sound) => this.#presentSound(sound));
      this.made = this.#both(key);
    } else if (this.found && this.withRest !== Boolean(tune.rest)) this.#list(this.found);
    this.#fit();
    this.#offer();
    return this.made;
  }

  async #both(key) {
    const sound = await this.sound;
    const drawn = sound && await this.#made(key, "pages", (found) => this.#presentPages(found));
    if (this.madeFor === key || this.madeFor === null) this.panel.setAttribute("aria-busy", "false");
    return drawn && { ...sound, ...drawn };
  }

  // One piece of the work; null where it failed, or something else is wanted by now.
  async #made(key, kind, present) {
    const running = work(this.tune.id, kind, (job) => this.#progress(job, running), this.chosen);
    this.running = running;
    try {
      const found = await result(await running.finished);
      if (this.madeFor !== key) return null;
      present(found);
      return found;
    } catch (error) {
      if (this.madeFor === key) {
        this.madeFor = null;
        this.status.replaceChildren(h("p", {}, error.message, " "), h("button", { type: "button", onclick: () => this.show(this.tune) }, t("chorus.again")));
      }
      return null;
    }
  }

  #progress(job, running) {
    told(this.status, job, () => running.cancel());
  }

  // What was drawn while nobody saw it is set for the screen now.
  #fit() {
    if (this.panel.hidden) return;
    for (const drawing of this.drawn ?? []) closer(drawing);
    this.drawn = null;
  }

  // It can be heard, and what stands in each gap is known, before it is engraved.
  #presentSound(sound) {
    player.stop();
    this.score = sound.play;
    this.found = sound;
    this.elements = new Map();
    for (const message of sound.lost) notify(message);
    this.#offer();
    this.#list(sound);
    this.files.replaceChildren(
      h("button", { type: "button", onclick: () => window.print() }, t("chorus.print")),
      ...FILES.map(([kind, name]) => h("button", { type: "button", onclick: (event) => takeAway(this.tune, kind, event.currentTarget) }, name)));
  }

  #presentPages({ pages }) {
    this.status.replaceChildren();
    const drawings = pages.map(engraved);
    this.drawn = drawings;
    this.pages.replaceChildren(...drawings);
    this.#fit();
    drawings.forEach((drawing, index) => {
      drawing.setAttribute("role", "img");
      drawing.setAttribute("aria-label", t("chorus.page", { page: index + 1, pages: drawings.length }));
      for (const element of drawing.querySelectorAll(".note[id]")) {
        const found = element.id.match(/-n(\d+)$/);
        if (found) this.elements.set(Number(found[1]), element);
      }
    });
    this.#markProposed();
    this.pages.setAttribute("aria-busy", "false");
  }

  // What the program proposes is paler than what has been chosen; on paper all is alike.
  #markProposed() {
    const proposed = this.found.fills.filter(({ picked }) => !picked);
    const indices = new Set(proposed.flatMap(({ notes }) => notes));
    for (const head of this.pages.querySelectorAll(".note[id]")) {
      const [, index] = head.id.match(/-n(\d+)(?:-\d+)?$/) ?? []; // what is tied on to it has a second number
      head.classList.toggle("proposed", indices.has(Number(index)));
    }
    const open = this.found.open.filter((gap) => this.tune.picks[gap] === undefined);
    for (const gap of [...proposed.map((fill) => fill.gap), ...open]) {
      for (const label of this.pages.querySelectorAll(`[id$="-gap${gap}"]`)) label.classList.add("proposed");
    }
    for (const chord of this.pages.querySelectorAll(".chord")) {
      const heads = [...chord.querySelectorAll(".note")];
      chord.classList.toggle("all-proposed", heads.length > 0 && heads.every((head) => head.classList.contains("proposed")));
    }
  }

  // How many gaps are not decided, and that they can stay empty.
  #sayUndecided() {
    const count = this.tune.gaps.length - decided(this.tune);
    this.undecided.hidden = !count;
    this.undecided.replaceChildren(...(count ? [h("span", { class: "quiet" }, t("chorus.proposed_what", { count })),
      h("button", { type: "button", class: "small", onclick: () => this.handlers.change({ empty: true }).catch(explain) }, t("chorus.empty"))] : []));
  }

  #offer() {
    if (document.body.dataset.view !== "chorus") return;
    this.transport.offer({ name: t("chorus.play"), start: () => this.play(), again: () => this.play(), bars: this.score?.bars ?? null });
  }

  #list(made) {
    this.withRest = Boolean(this.tune.rest);
    this.#sayUndecided();
    const open = made.open.map((gap) => ({ gap, family: "open", device: null, picked: this.tune.picks[gap] !== undefined }));
    const all = [...made.fills, ...open].sort((a, b) => a.gap - b.gap);
    this.heading.textContent = all.length ? t("chorus.fills") : t("chorus.no_gap");
    const button = (words, gap, change) => h("button", { type: "button", class: "small", "aria-label": t("chorus.of_gap", { what: words, gap }), onclick: () => this.handlers.change(change).catch(explain) }, words);
    this.fills.replaceChildren(...all.map(({ gap, family, device, picked }) => h("li", { value: gap },
      h("button", { type: "button", class: "plain", onclick: () => this.handlers.go(gap) }, t("chorus.gap", { gap })),
      h("span", {}, shape(family), " ", h("span", { class: "family-name" }, t(`family.${family}`)), " ",
        device ? h("span", { lang: ideaLang(device) }, ideaName(device)) : "", " ", picked ? h("strong", {}, t("chorus.yours")) : h("span", { class: "quiet" }, t("chorus.proposed"), device ? "" : ` ${whyOpen(this.tune, gap)}`)),
      picked || !this.tune.rest ? null : h("span", { class: "row" }, button(t("bench.keep"), gap, { lock: gap }), button(t("bench.another"), gap, { again: { gap } })))));
  }

  // Whoever asks for it before it is worked out hears it as soon as it is.
  async play(from = null) {
    const { madeFor } = this;
    if (!this.score && !await this.sound) return;
    if (this.madeFor !== madeFor || document.body.dataset.view !== "chorus") return;
    try {
      await this.transport.play(this.score, { from, onnotes: (indices) => this.#lit(indices) });
    } catch (error) {
      explain(error);
    }
  }

  // A click on the music plays from there.
  #from(event) {
    if (!this.score) return;
    const system = event.target.closest(".system") ?? systemAt(this.pages, event.clientY);
    if (!system) return;
    const onsets = this.score.notes.map((note) => [note, this.elements.get(note.index)]).filter(([, element]) => element && system.contains(element))
      .map(([note, element]) => [note, element.getBoundingClientRect().left]).sort((a, b) => a[1] - b[1]);
    const found = onsets.findLast(([, left]) => left <= event.clientX + 6) ?? onsets[0];
    if (found) this.play(found[0].sec);
  }

  #lit(indices) {
    for (const element of this.litNow ?? []) element.classList.remove("on");
    this.litNow = indices.map((index) => this.elements.get(index)).filter(Boolean);
    for (const element of this.litNow) element.classList.add("on");
    const system = this.litNow[0]?.closest(".system");
    if (system && system !== this.system) {
      this.system = system;
      toTheTop(system);
    }
  }
}

// Make a file and hand it to the browser; the button that asked becomes the one that stops it.
export async function takeAway(tune, kind, button) {
  if (button.running) {
    button.running.cancel();
    return;
  }
  const name = button.textContent;
  button.running = work(tune.id, kind, (job) => { button.textContent = t("chorus.stop_what", { what: job.what }); });
  try {
    const id = await button.running.finished;
    const link = h("a", { href: resultAddress(id), download: "" });
    document.body.append(link);
    link.click();
    link.remove();
  } catch (error) {
    explain(error);
  } finally {
    button.running = null;
    button.textContent = name;
  }
}
