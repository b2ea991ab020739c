// The controls of playing: one bar for whatever is looked at, always in sight.

import { h } from "./dom.js";
import { player } from "./player.js";
import { t } from "./words.js";

const SPEEDS = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2];
const HEARD = ["melody", "right", "left", "click"];

export class Transport {
  constructor(bar) {
    this.speed = 1;
    this.source = null;
    this.button = h("button", { type: "button", class: "play", onclick: () => this.toggle() });
    this.place = h("output", { class: "place" });
    const speed = h("select", { "aria-label": t("transport.speed"), onchange: (event) => this.setSpeed(Number(event.target.value)) },
      SPEEDS.map((value) => h("option", { value: String(value), selected: value === 1 }, value === 1 ? t("transport.at_tempo") : t("transport.per_cent", { count: Math.round(value * 100) }))));
    this.speeds = speed;
    this.loop = check(t("transport.loop"), () => this.#again(), "↻");
    this.loop.label.classList.add("loop");
    this.counted = check(t("transport.count_in"), () => {});
    this.alone = check(t("transport.alone"), () => this.#again());
    this.bars = h("span", { class: "range" });
    const parts = HEARD.map((part) => {
      const item = check(t(`transport.part_${part}`), (on) => player.setHeard(part, on));
      item.box.checked = part !== "click";
      item.box.name = `part-${part}`;
      return item;
    });
    this.swap = h("button", { type: "button", class: "swap", hidden: true, onclick: () => this.source?.swap?.() });
    const more = h("details", { class: "mixer" }, h("summary", { title: t("transport.more") }, h("span", { class: "sign", "aria-hidden": "true" }, "♫"), h("span", { class: "word" }, t("transport.more"))),
      h("div", { class: "mixer-body" }, h("p", { class: "quiet" }, t("transport.heard")), parts.map((item) => item.label), h("hr"),
        this.counted.label, this.alone.label, this.bars));
    document.addEventListener("click", (event) => { if (!more.contains(event.target)) more.open = false; });
    more.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !more.open) return;
      more.open = false;
      more.firstChild.focus();
      event.stopPropagation();
    });
    bar.replaceChildren(this.button, this.place, this.swap, speed, this.loop.label, more);
    this.offer(null);
  }

  // What the bar plays: {name, start(from), bars, swap, alone}. `bars` of a score can be gone
  // round in; `alone` says that there is something without the bars around it.
  offer(source) {
    this.source = source;
    this.button.disabled = !source;
    this.alone.label.hidden = !source?.alone;
    this.#range(source?.bars ?? null);
    this.#show();
  }

  toggle() {
    if (player.playing) player.stop();
    else this.source?.start();
  }

  // Play a score with what the bar says. `after` is told when it ends.
  async play(score, { from = null, onnotes, onplace, onend, name = null }) {
    const range = this.range?.(score) ?? null;
    const loop = this.loop.box.checked;
    const start = from ?? range?.from ?? 0;
    this.sounding = name ?? true;
    const run = (this.run = {});
    this.button.classList.add("on");
    this.#show();
    try {
      await player.play(range ? { ...score, length: range.to } : score, {
        speed: this.speed, countIn: this.counted.box.checked,
        from: start, loop: loop ? [range?.from ?? 0, range?.to ?? score.length] : null, onnotes,
        onplace: (seconds) => {
          this.#where(score, seconds);
          onplace?.(seconds);
        },
        onend: () => {
          onend?.();
          if (this.run === run) this.#ended();
        },
      });
    } catch (error) {
      this.#ended();
      throw error;
    }
  }

  #ended() {
    this.sounding = null;
    this.place.textContent = "";
    this.bar = null;
    this.button.classList.remove("on");
    this.#show();
  }

  #where({ bars }, seconds) {
    const bar = bars?.findLast((entry) => entry.sec <= seconds + 0.01);
    if (!bar || bar === this.bar) return;
    this.bar = bar;
    if (this.source?.counted !== false) this.place.textContent = t("transport.bar", { bar: bar.count });
  }

  #show() {
    const name = this.source?.name ?? t("transport.nothing");
    const words = this.sounding ? [t("transport.stop")] : [h("span", { class: "long" }, name), h("span", { class: "short", "aria-hidden": "true" }, t("transport.nothing"))];
    this.button.replaceChildren(...words);
    this.button.setAttribute("aria-label", this.sounding ? t("transport.stop") : name);
    this.swap.hidden = !this.source?.swapName;
    this.swap.textContent = this.source?.swapName ?? "";
  }

  showSwap(name) {
    if (this.source) this.source.swapName = name;
    this.#show();
  }

  setSpeed(speed) {
    this.speed = speed;
    this.speeds.value = String(speed);
    player.setSpeed(speed);
  }

  // One step slower (-1) or faster (1).
  step(by) {
    const now = SPEEDS.indexOf(this.speed);
    this.setSpeed(SPEEDS[Math.max(0, Math.min(SPEEDS.length - 1, now + by))]);
  }

  toggleLoop() {
    this.loop.box.click();
  }

  #again() {
    if (this.sounding && this.source?.again) this.source.again();
  }

  #range(bars) {
    this.range = null;
    if (!bars) return this.bars.replaceChildren();
    const [first, last] = [bars[0].count, bars[bars.length - 1].count]; // a pickup is bar 0
    const field = (value, name) => h("input", { type: "number", min: String(first), max: String(last), value: String(value), "aria-label": name, onchange: () => this.#again() });
    const [from, to] = [field(first, t("transport.from_bar")), field(last, t("transport.to_bar"))];
    this.range = () => {
      const low = Math.max(first, Math.min(last, Number.isNaN(from.valueAsNumber) ? first : from.valueAsNumber));
      const high = Math.max(low, Math.min(last, Number.isNaN(to.valueAsNumber) ? last : to.valueAsNumber));
      const end = bars[high - first];
      return { from: bars[low - first].sec, to: end.sec + end.len };
    };
    this.bars.replaceChildren(h("label", {}, t("transport.bars_from"), from), h("label", {}, t("transport.bars_to"), to));
  }
}

function check(words, onchange, sign = null) {
  const box = h("input", { type: "checkbox", onchange: (event) => onchange(event.target.checked) });
  return { box, label: h("label", { title: sign && words }, box, sign && h("span", { class: "sign", "aria-hidden": "true" }, sign), h("span", { class: sign && "word" }, words)) };
}
