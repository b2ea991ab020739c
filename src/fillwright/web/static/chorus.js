// The whole chorus: engraved, playing with a moving highlight, bars over and over, files.

import { result, resultAddress, work } from "./api.js";
import { crop, engraved, explain, h, notify } from "./dom.js";
import { player } from "./player.js";

const FILES = [["pdf", "PDF"], ["musicxml", "MusicXML"], ["mid", "MIDI"], ["flac", "FLAC"]];

export class Chorus {
  // go(gap number) opens a gap on the bench
  constructor(panel, go) {
    this.panel = panel;
    this.go = go;
    this.madeFor = null;
    this.speed = 1;
    this.status = h("div", { class: "progress", role: "status" });
    this.pages = h("div", { class: "paper pages", role: "group", "aria-label": "The chorus on paper" });
    this.fills = h("ol", { class: "fill-list", "aria-label": "What stands in each gap" });
    this.controls = h("div", { class: "row listening", role: "group", "aria-label": "Playing" });
    this.heading = h("h2", {}, "What stands in each gap");
    panel.replaceChildren(this.controls, this.status, this.pages, this.heading, this.fills);
  }

  // Work out the chorus for the tune as it is now, unless that has been done.
  async show(tune) {
    this.tune = tune;
    const key = `${tune.id} ${tune.version}`;
    if (this.madeFor === key) return this.made;
    this.madeFor = key;
    this.stop();
    this.running?.cancel();
    this.panel.setAttribute("aria-busy", "true");
    const running = work(tune.id, "chorus", (job) => this.#progress(job, running));
    this.running = running;
    this.made = (async () => {
      try {
        const made = await result(await running.finished);
        if (this.madeFor !== key) return null;
        this.#present(made);
        return made;
      } catch (error) {
        if (this.madeFor === key) {
          this.madeFor = null;
          this.status.replaceChildren(h("p", {}, error.message, " "), h("button", { type: "button", onclick: () => this.show(this.tune) }, "Work it out again"));
        }
        return null;
      } finally {
        this.panel.setAttribute("aria-busy", "false");
      }
    })();
    return this.made;
  }

  #progress(job, running) {
    if (this.status.querySelector("progress") === null) {
      this.status.replaceChildren(h("span", {}), h("progress", { "aria-label": "Progress" }), h("button", { type: "button", onclick: () => running.cancel() }, "Stop"));
    }
    this.status.querySelector("span").textContent = `${job.what} …`;
    const bar = this.status.querySelector("progress");
    if (job.total > 1) {
      bar.max = job.total;
      bar.value = job.done;
    } else bar.removeAttribute("value");
  }

  #present(made) {
    this.score = made.play;
    this.status.replaceChildren();
    for (const message of made.lost) notify(message);
    const drawings = made.pages.map(engraved);
    this.pages.replaceChildren(...drawings);
    this.elements = new Map();
    drawings.forEach((drawing, index) => {
      drawing.setAttribute("role", "img");
      drawing.setAttribute("aria-label", `Page ${index + 1} of ${drawings.length}`);
      crop(drawing);
      for (const element of drawing.querySelectorAll(".note[id]")) {
        const found = element.id.match(/-n(\d+)$/);
        if (found) this.elements.set(Number(found[1]), element);
      }
    });
    this.#build();
    const open = made.open.map((gap) => ({ gap, family: "open", device: "left open", picked: this.tune.picks[gap] !== undefined }));
    this.heading.textContent = made.fills.length + open.length ? "What stands in each gap" : "There is no gap in this tune: the melody never holds still for two beats";
    this.fills.replaceChildren(...[...made.fills, ...open].sort((a, b) => a.gap - b.gap).map((fill) => h("li", { value: fill.gap },
      h("button", { type: "button", class: "plain", onclick: () => this.go(fill.gap) }, `Gap ${fill.gap}`), " ",
      h("span", { class: "family-name" }, fill.family), ` ${fill.device}`, fill.picked ? h("strong", {}, " (your choice)") : null)));
  }

  #build() {
    const { bars } = this.score;
    const [first, last] = [bars[0].count, bars[bars.length - 1].count]; // a pickup is bar 0
    const bar = (value, name) => h("input", { type: "number", min: String(first), max: String(last), value: String(value), "aria-label": name });
    const from = bar(first, "From bar");
    const to = bar(last, "To bar");
    const over = h("input", { type: "checkbox" });
    this.range = () => {
      const low = Math.max(first, Math.min(last, from.valueAsNumber || first));
      const high = Math.max(low, Math.min(last, to.valueAsNumber || last));
      const end = bars[high - first];
      return { from: bars[low - first].sec, to: end.sec + end.len, over: over.checked };
    };
    for (const input of [from, to, over]) input.addEventListener("change", () => this.playing && this.play());
    this.button = h("button", { type: "button", class: "hear", onclick: () => (this.playing ? this.stop() : this.play()) }, "Play the chorus");
    const tempo = this.tune.tune.tempo;
    const out = h("output", {}, `${Math.round(tempo * this.speed)}`);
    const slider = h("input", { type: "range", min: "40", max: "130", step: "5", value: String(this.speed * 100), "aria-label": "Tempo in per cent", oninput: (event) => {
      this.speed = Number(event.target.value) / 100;
      out.textContent = `${Math.round(tempo * this.speed)}`;
      player.setSpeed(this.speed);
    } });
    this.place = h("span", { class: "place" }, "");
    this.controls.replaceChildren(this.button,
      h("label", {}, "Tempo", slider, h("span", {}, out, " a minute")),
      h("span", { class: "loop" }, "Bars", from, "to", to, h("label", {}, over, "over and over")), this.place,
      h("span", { class: "row take", role: "group", "aria-label": "On paper and as files" },
        h("button", { type: "button", onclick: () => window.print() }, "Print"),
        FILES.map(([kind, name]) => h("button", { type: "button", onclick: (event) => takeAway(this.tune, kind, event.currentTarget) }, name))));
  }

  async play() {
    player.stop();
    const { from, to, over } = this.range();
    this.playing = true;
    this.button.textContent = "Stop";
    const bars = this.score.bars;
    let shown = null;
    try {
      await player.play({ ...this.score, length: to }, {
        speed: this.speed, from, loop: over ? [from, to] : null,
        onnotes: (indices) => this.#lit(indices),
        onplace: (seconds) => {
          const bar = bars.findLast((entry) => entry.sec <= seconds + 0.01);
          if (bar && bar !== shown) {
            shown = bar;
            this.place.textContent = `bar ${bar.count}`;
          }
        },
        onend: () => this.#ended(),
      });
    } catch (error) {
      this.#ended();
      explain(error);
    }
  }

  stop() {
    if (this.playing) player.stop();
  }

  #ended() {
    this.playing = false;
    this.button.textContent = "Play the chorus";
    this.place.textContent = "";
  }

  #lit(indices) {
    for (const element of this.litNow ?? []) element.classList.remove("on");
    this.litNow = indices.map((index) => this.elements.get(index)).filter(Boolean);
    for (const element of this.litNow) element.classList.add("on");
    const system = this.litNow[0]?.closest(".system");
    if (system && system !== this.system) {
      this.system = system;
      const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
      system.scrollIntoView({ block: "nearest", behavior: calm ? "auto" : "smooth" });
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
  button.running = work(tune.id, kind, (job) => { button.textContent = `Stop (${job.what})`; });
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
