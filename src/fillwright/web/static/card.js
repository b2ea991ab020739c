// One option: what it is, its staff, hand pictures, reasons, and a place to change a note.

import { post } from "./api.js";
import { crop, engraved, fraction, h, number } from "./dom.js";
import { handPicture, light } from "./keyboard.js";

const KEPT = {
  finger: "the finger keeps the melody note down",
  pedal: "the pedal keeps the melody note",
  released: "the melody note is let go",
};

export class Card {
  // bench: {tune, gap, hear(card), choose(card), without(device), isPlaying(card)}
  constructor(bench, fill, rank, pick) {
    this.bench = bench;
    this.fill = fill;
    this.shown = fill;
    this.moves = new Map(pick?.fill === fill.id ? pick.moves : []);
    this.address = `/api/tunes/${bench.tune.id}/gaps/${fill.gap}`;
    this.#build(rank, pick?.fill === fill.id);
  }

  get pick() {
    return { fill: this.fill.id, moves: [...this.moves].sort((a, b) => a[0] - b[0]) };
  }

  #build(rank, chosen) {
    const { fill } = this;
    this.staff = h("div", { class: "staff", "aria-busy": "true" });
    this.counts = h("p", { class: "counts" }, h("span", { class: "label" }, "Count"), " ", h("span", { class: "said" }, fill.counts));
    this.meta = h("p", { class: "meta" });
    this.hear = h("button", { type: "button", class: "hear", onclick: () => this.bench.hear(this) }, "Hear");
    this.choose = h("button", { type: "button", class: "choose", "aria-pressed": String(chosen), onclick: () => this.bench.choose(this) }, chosen ? "Chosen" : "Choose");
    this.pictures = h("div", { class: "pictures" });
    this.reasons = h("ul", { class: "reasons" });
    this.editor = h("div", { class: "editor" });
    const name = `${fill.device}, option ${rank}`;
    this.element = h("article", { class: `card${chosen ? " chosen" : ""}`, "aria-label": `${fill.family}: ${name}` },
      h("h4", {}, h("span", { class: "rank", "aria-hidden": "true" }, String(rank)), fill.device),
      this.counts, this.staff, this.meta,
      h("div", { class: "row" }, this.hear, this.choose),
      h("details", { open: true }, h("summary", {}, "Hands"), this.pictures),
      h("details", { class: "why" }, h("summary", {}, "Why it works"), this.reasons),
      h("details", { class: "change", ontoggle: (event) => event.target.open && this.#openEditor() }, h("summary", {}, "Change a note"), this.editor),
      h("button", { type: "button", class: "plain small", onclick: () => this.bench.without(fill.device) }, "Switch this device off"));
    this.#describe(fill);
  }

  #describe(fill) {
    this.shown = fill;
    const words = [`difficulty ${fill.difficulty} of 100`];
    if (fill.notes.length && this.bench.gap.held) words.push(KEPT[fill.melody_kept]);
    if (fill.shift) words.push(number(fill.shift.landing_quarter) < number(this.bench.gap.landing.onset_quarter) ? "the landing comes early" : "the landing comes late");
    const added = fill.chords.filter((chord) => chord.added).length;
    if (added) words.push(added === 1 ? "one added chord" : `${added} added chords`);
    this.meta.textContent = words.join(" · ");
    this.reasons.replaceChildren(...fill.reasons.map((reason) => h("li", {}, reason)));
    this.figures = fill.pictures.map(handPicture);
    this.spans = fill.pictures.map((picture) => ({ from: number(picture.onset_quarter), to: number(picture.end_quarter) }));
    this.pictures.replaceChildren(...this.figures);
  }

  // A choice with own notes in it, made earlier: its hand pictures are those of these notes.
  async restore() {
    if (this.moves.size) this.#describe(await post(`${this.address}/check`, this.pick));
  }

  // Engrave the small staff; a drawing that comes too late for a newer one is dropped.
  async draw() {
    const asked = JSON.stringify(this.pick);
    if (this.asked === asked) return;
    this.asked = asked;
    try {
      const drawn = await post(`${this.address}/staff`, this.pick);
      if (this.asked !== asked) return;
      const svg = engraved(drawn.svg);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", `${this.fill.device} on a grand staff`);
      this.staff.replaceChildren(svg);
      this.elements = new Map();
      const byId = new Map([...svg.querySelectorAll("[id]")].map((element) => [element.id, element]));
      for (const [index, id] of Object.entries(drawn.elements)) this.elements.set(Number(index), byId.get(id));
      crop(svg, 8, 0.55);
    } catch (error) {
      this.asked = null;
      this.staff.replaceChildren(h("p", { class: "quiet" }, error.message));
    }
    this.staff.setAttribute("aria-busy", "false");
  }

  async sound() {
    const asked = JSON.stringify(this.pick);
    if (this.soundOf !== asked) {
      this.soundOf = asked;
      this.score = post(`${this.address}/heard`, this.pick);
      this.score.catch(() => { this.soundOf = null; });
    }
    return this.score;
  }

  // What has been fetched of its sound may be out of date.
  forget() {
    this.soundOf = null;
  }

  // What sounds now, on the staff and on the hand pictures.
  lit(indices, notes) {
    for (const element of this.litNow ?? []) element.classList.remove("on");
    this.litNow = indices.map((index) => this.elements?.get(index)).filter(Boolean);
    for (const element of this.litNow) element.classList.add("on");
    light(this.figures, this.spans, notes);
  }

  setPlaying(playing) {
    this.hear.textContent = playing ? "Stop" : "Hear";
    this.hear.setAttribute("aria-pressed", String(playing));
  }

  setChosen(chosen) {
    this.element.classList.toggle("chosen", chosen);
    this.choose.setAttribute("aria-pressed", String(chosen));
    this.choose.textContent = chosen ? "Chosen" : "Choose";
  }

  // --- changing notes -------------------------------------------------------------------------

  #openEditor() {
    if (this.says) return;
    this.says = h("div", { class: "says", role: "status" });
    this.rows = this.fill.notes.map((note, index) => this.#row(note, index));
    this.back = h("button", { type: "button", class: "plain", onclick: () => this.#reset() }, "Back to the notes of the fill");
    this.editor.replaceChildren(
      h("p", { class: "quiet" }, "Move a note by half steps with the buttons or the arrow keys; Delete leaves it out. The rules of the hands are asked at once."),
      this.says, h("ol", { class: "notes" }, this.rows.map((row) => row.element)), this.back);
    this.#ask();
  }

  #row(note, index) {
    const name = h("span", { class: "note-name", role: "spinbutton", tabindex: "0", "aria-label": `Note ${index + 1}, ${note.hand} hand, beat ${fraction(note.beat)}` }, note.name);
    const step = (by) => this.#move(index, by);
    name.addEventListener("keydown", (event) => {
      if (event.key === "ArrowUp") step(1);
      else if (event.key === "ArrowDown") step(-1);
      else if (event.key === "Delete" || event.key === "Backspace") step(null);
      else return;
      event.preventDefault();
    });
    const element = h("li", {},
      h("span", { class: "quiet" }, `beat ${fraction(note.beat)}, ${note.hand}`), name,
      h("button", { type: "button", "aria-label": `Note ${index + 1} half a step down`, onclick: () => step(-1) }, "▼"),
      h("button", { type: "button", "aria-label": `Note ${index + 1} half a step up`, onclick: () => step(1) }, "▲"),
      h("button", { type: "button", "aria-label": `Leave note ${index + 1} out, or bring it back`, onclick: () => step(null) }, "×"));
    return { element, name };
  }

  #move(index, by) {
    const now = this.moves.get(index);
    if (by === null) {
      if (now === null) this.moves.delete(index);
      else this.moves.set(index, null);
    } else {
      const next = Math.max(-24, Math.min(24, (now ?? 0) + by));
      if (next) this.moves.set(index, next);
      else this.moves.delete(index);
    }
    this.#changed();
  }

  #reset() {
    this.moves.clear();
    this.#changed();
  }

  async #changed() {
    this.setChosen(false);
    await this.#ask();
    this.draw();
  }

  async #ask() {
    const asked = JSON.stringify(this.pick);
    this.checked = asked;
    let fill;
    try {
      fill = await post(`${this.address}/check`, this.pick);
    } catch (error) {
      this.says.replaceChildren(h("p", { class: "broken" }, error.message));
      return;
    }
    if (this.checked !== asked) return;
    this.#describe(fill);
    const bad = new Set(fill.findings.flatMap((finding) => finding.midis));
    this.says.replaceChildren(fill.findings.length
      ? h("ul", { class: "findings" }, fill.findings.map((finding) => h("li", {}, `Beat ${fraction(finding.beat)} of bar ${finding.bar}: ${finding.message} (${finding.rule}).`)))
      : h("p", { class: "fine" }, "✓ Two hands can play this; no rule is broken."));
    const names = namesAfter(this.fill, fill, this.moves);
    this.rows.forEach(({ element, name }, index) => {
      const now = names[index];
      name.textContent = now ? now.name : "left out";
      name.setAttribute("aria-valuetext", now ? `${now.name}${now.finger ? `, finger ${now.finger}` : ""}` : "left out");
      name.setAttribute("aria-valuenow", now ? now.midi : 0);
      element.classList.toggle("changed", this.moves.has(index));
      element.classList.toggle("bad", Boolean(now) && bad.has(now.midi));
    });
  }
}

// The notes of the changed fill in the order of the fill it was.
function namesAfter(before, after, moves) {
  const left = [...after.notes];
  return before.notes.map((note, index) => {
    const by = moves.get(index) ?? (moves.has(index) ? null : 0);
    if (by === null) return null;
    const at = left.findIndex((other) => other.midi === note.midi + by && other.hand === note.hand && other.onset_quarter === note.onset_quarter);
    return at < 0 ? null : left.splice(at, 1)[0];
  });
}
