// Recording a take from a digital piano by Web MIDI (W3C): a bar counted in, a click, and the keys
// with the browser's own time stamps.

import { get } from "./api.js";
import { h } from "./dom.js";
import { PianoChoice } from "./midi.js";
import { player } from "./player.js";
import { smf } from "./smf.js";
import { t } from "./words.js";

export class Recorder {
  // done(blob, name): a take is there
  constructor(done) {
    this.done = done;
    this.says = h("p", { class: "record-says", role: "status" });
    this.piano = new PianoChoice({ changed: () => this.#show(), connected: () => this.start.focus(), heard: (message) => this.#heard(message), say: (words) => this.#say(words) });
    this.tempo = h("input", { type: "number", inputmode: "decimal", min: "20", max: "400", step: "1" });
    this.click = h("input", { type: "checkbox", checked: true });
    this.start = h("button", { type: "button", class: "strong record", "aria-pressed": "false", onclick: () => this.toggle() });
    this.ready = h("div", { class: "record-ready", hidden: true },
      h("label", {}, t("record.port"), " ", this.piano.port), h("label", {}, t("tune.tempo"), " ", this.tempo), h("label", {}, this.click, t("record.click")), this.start);
    this.element = h("section", { class: "take-record", "aria-labelledby": "record-head" }, h("h2", { id: "record-head" }, t("record.head")), this.piano.button, this.ready, this.says);
    this.#show();
  }

  show(tune) {
    if (this.tune?.tune.tempo !== tune.tune.tempo) this.tempo.value = String(Math.round(tune.tune.tempo));
    this.tune = tune;
  }

  // --- the piano --------------------------------------------------------------------------------

  #show() {
    const { isReady } = this.piano;
    this.ready.hidden = !isReady;
    if (!this.run && isReady && !this.kept) this.#say(t("record.is_ready"));
    this.start.textContent = t(this.run ? "record.stop" : "record.start");
    this.start.setAttribute("aria-pressed", String(Boolean(this.run)));
    for (const field of [this.piano.port, this.tempo, this.click]) field.disabled = Boolean(this.run);
    if (this.run && !isReady) this.stop();
  }

  #say(words) {
    this.says.textContent = words;
  }

  // --- recording --------------------------------------------------------------------------------

  toggle() {
    if (this.run) this.stop();
    else if (!this.piano.isReady) this.piano.connect();
    else this.#start();
  }

  async #start() {
    const { tune } = this;
    const run = (this.run = { messages: [], strokes: 0, from: Infinity });
    this.kept = false;
    this.#show();
    this.#say(t("record.counting"));
    try {
      const { play } = await get(`/api/tunes/${tune.id}/plain`);
      if (this.run !== run) return;
      const speed = (this.tempo.valueAsNumber || tune.tune.tempo) / tune.tune.tempo;
      const beat = play.bars[0].len / play.bars[0].beats / speed;
      const counted = Math.round(Math.max(...play.bars.map(({ beats }) => beats)));
      const clicks = { notes: [], pedals: [], bars: play.bars, length: play.length };
      player.setHeard("click", this.click.checked);
      await player.play(clicks, { speed, countIn: true, loop: true, onend: () => this.stop(run) });
      // What is played while it is counted in is tried out; the last beat may be a pickup.
      run.from = performance.now() + 1000 * beat * (counted - 1);
      run.timer = setTimeout(() => this.#say(t("record.recording", { count: run.strokes })), 1000 * beat * counted);
    } catch (error) {
      this.#ended(run);
      this.#say(error.message);
    }
  }

  #heard({ data, timeStamp }) {
    const { run } = this;
    if (!run || timeStamp < run.from) return;
    run.messages.push([timeStamp, ...data]);
    if ((data[0] & 0xf0) === 0x90 && data[2] > 0) {
      run.strokes += 1;
      this.#say(t("record.recording", { count: run.strokes }));
    }
  }

  async stop(run = this.run) {
    if (!run || this.run !== run) return;
    this.#ended(run);
    if (!run.strokes) {
      this.#say(t("record.nothing"));
      return;
    }
    this.#say(t("record.done", { count: run.strokes }));
    const now = new Date();
    const two = (number) => String(number).padStart(2, "0");
    const name = t("record.name", { date: `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())} ${two(now.getHours())}.${two(now.getMinutes())}` });
    await this.done(new Blob([smf(run.messages)], { type: "audio/midi" }), `${name}.mid`);
  }

  #ended(run) {
    clearTimeout(run.timer);
    this.run = null;
    this.kept = true;
    player.stop();
    player.setHeard("click", document.querySelector(".mixer [name=part-click]")?.checked ?? false);
    this.#show();
  }
}
