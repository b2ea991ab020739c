// The engraved lead sheet: gaps to choose, chord symbols to correct.

import { get, post } from "./api.js";
import { crop, engraved, fraction, h, number, pretty, s } from "./dom.js";

const EDGE = 6; // pixels between the edge of the paper and a system

// The number of the row that is nearest to a box.
function middle(rows, box) {
  const off = (row) => Math.abs(row.top + row.bottom - box.top - box.bottom);
  return rows.reduce((best, row, index) => (off(row) < off(rows[best]) ? index : best), 0);
}

export class Sheet {
  // handlers: choose(gap number), chord({bar, onset, text}) -> promise
  constructor(paper, handlers) {
    this.paper = paper;
    this.handlers = handlers;
    this.current = null;
    // A scroll bar of the page may come with the options: the sheet is laid out once more.
    new ResizeObserver(() => this.reveal(this.current)).observe(paper);
  }

  // The promise says when it is drawn.
  show(tune) {
    this.drawn = this.#draw(tune);
    return this.drawn;
  }

  async #draw(tune) {
    this.tune = tune;
    this.paper.setAttribute("aria-busy", "true");
    let pages;
    try {
      ({ pages } = await get(`/api/tunes/${tune.id}/lead`));
    } catch (error) {
      this.paper.setAttribute("aria-busy", "false");
      this.paper.replaceChildren(h("p", {}, error.message), h("button", { type: "button", onclick: () => this.show(this.tune) }, "Draw it again"));
      return;
    }
    if (this.tune.drawing !== tune.drawing) return;
    const drawings = pages.map(engraved);
    this.paper.replaceChildren(...drawings, this.adding());
    for (const drawing of drawings) {
      drawing.setAttribute("role", "group");
      drawing.setAttribute("aria-label", `Lead sheet of ${tune.title}, page ${drawings.indexOf(drawing) + 1} of ${drawings.length}. Arrow keys go from gap to gap and from chord to chord.`);
      crop(drawing);
    }
    this.gaps = this.#wire(".gap-mark", (mark) => this.#gapName(mark), (mark) => this.handlers.choose(Number(mark.dataset.gap)), "gap");
    this.chords = this.#wire(".chord-symbol", (symbol) => `Chord ${pretty(symbol.dataset.text)}, bar ${this.#barName(symbol.dataset.bar)}: correct it`, (symbol) => this.edit(symbol), null);
    this.mark(this.current);
    this.paper.setAttribute("aria-busy", "false");
    this.reveal(this.current);
  }

  // The drawing is the same for another player: only what is known of the tune changes.
  keep(tune) {
    this.tune = tune;
    this.mark(this.current);
  }

  // Make drawn things into buttons; one of a kind is in the tab order, arrows reach the others.
  #wire(selector, name, act, group) {
    const all = [...this.paper.querySelectorAll(selector)].filter((element) => !(Number(element.dataset.bar) < 0)); // added bars are not on the sheet
    const seen = new Set();
    const buttons = [];
    for (const element of all) {
      element.addEventListener("click", () => act(element));
      const key = group ? element.dataset[group] : element;
      if (seen.has(key)) continue;
      seen.add(key);
      element.setAttribute("role", "button");
      element.setAttribute("aria-label", name(element));
      element.setAttribute("tabindex", buttons.length ? "-1" : "0");
      buttons.push(element);
      element.addEventListener("keydown", (event) => {
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (event.key === "Enter" || event.key === " ") act(element);
        else if (event.key === "Home") focusOn(buttons, 0);
        else if (event.key === "End") focusOn(buttons, buttons.length - 1);
        else if (step) focusOn(buttons, buttons.indexOf(element) + step);
        else return;
        event.preventDefault();
      });
      // A wide invisible field makes small symbols easy to hit.
      if (!group) {
        const box = element.getBBox();
        element.prepend(s("rect", { x: box.x - 60, y: box.y - 60, width: box.width + 120, height: box.height + 120, class: "field" }));
      }
    }
    return buttons;
  }

  #gapName(mark) {
    const gap = this.tune.gaps[Number(mark.dataset.gap) - 1];
    const held = gap.held ? `${pretty(gap.held.pitch)} held` : "rest";
    return `Gap ${gap.number}, bar ${gap.bar}, beat ${fraction(gap.beat)}, ${fraction(gap.beats)} beats, ${held}${this.#choice(gap.number)}`;
  }

  #choice(gap) {
    const pick = this.tune.picks[gap];
    if (!pick) return "";
    return pick.fill === "open" ? ", left open" : `, your choice: ${family(pick.fill)}`;
  }

  #barName(index) {
    return this.tune.bars.find((bar) => bar.bar === Number(index))?.number ?? "";
  }

  // Show which gap is open on the bench and what has been chosen.
  mark(current) {
    this.current = current;
    for (const mark of this.paper.querySelectorAll(".gap-mark")) {
      const gap = mark.dataset.gap;
      const pick = this.tune.picks[gap];
      mark.classList.toggle("current", Number(gap) === current);
      mark.classList.toggle("left-open", pick?.fill === "open");
      mark.classList.toggle("picked", Boolean(pick) && pick.fill !== "open");
      mark.querySelector(".gap-word")?.remove();
      if (mark.hasAttribute("aria-label")) {
        mark.setAttribute("aria-label", this.#gapName(mark));
        mark.setAttribute("aria-pressed", String(Number(gap) === current));
        if (pick) {
          const field = mark.querySelector(".gap-field");
          const text = s("text", { class: "gap-word", x: Number(field.getAttribute("x")) + 60, y: Number(field.getAttribute("y")) + Number(field.getAttribute("height")) + 260 });
          text.textContent = pick.fill === "open" ? "open" : `✓ ${family(pick.fill)}`;
          mark.append(text);
        }
      }
    }
  }

  // Scroll the paper, not the page, to a gap: a whole system at the upper edge, and the gap's
  // own as near to the middle as that allows.
  reveal(gap) {
    const mark = this.gaps?.find((entry) => Number(entry.dataset.gap) === gap);
    if (!mark) return;
    const rows = this.#rows();
    const own = rows[middle(rows, mark.getBoundingClientRect())];
    const { top, height } = this.paper.getBoundingClientRect();
    const off = (row) => Math.abs((own.top + own.bottom) / 2 - row.top - height / 2);
    const tops = rows.filter((row) => row.top <= own.top && own.bottom - row.top <= height - 2 * EDGE);
    const first = tops.reduce((best, row) => (off(row) < off(best) ? row : best), own);
    this.paper.scrollTop += first.top - top - EDGE;
  }

  // Where the systems stand on the screen, with the brackets of their gaps, in order.
  #rows() {
    const rows = [...this.paper.querySelectorAll(".system")].map((system) => {
      const { top, bottom } = system.getBoundingClientRect();
      return { top, bottom };
    });
    for (const mark of this.paper.querySelectorAll(".gap-mark")) {
      const box = mark.getBoundingClientRect();
      const row = rows[middle(rows, box)];
      row.top = Math.min(row.top, box.top);
      row.bottom = Math.max(row.bottom, box.bottom);
    }
    return rows;
  }

  focusGap(gap) {
    this.gaps?.find((mark) => Number(mark.dataset.gap) === gap)?.focus();
  }

  // --- chords ---------------------------------------------------------------------------------

  adding() {
    return h("p", { class: "adding" }, h("button", { type: "button", class: "plain", onclick: (event) => this.edit(event.target) }, "Add a missing chord symbol"));
  }

  // A small form at the symbol; `from` is the symbol, or a button to add one anywhere.
  edit(from) {
    this.paper.querySelector(".chord-form")?.remove();
    const known = from.dataset.bar !== undefined;
    const bar = known ? this.tune.bars.find((b) => b.bar === Number(from.dataset.bar)) : null;
    const printed = this.tune.bars.filter((b) => b.pass === 1 && b.bar >= 0);
    const here = known ? { bar: bar.bar, onset: from.dataset.onset } : null;
    const input = h("input", { name: "text", value: known ? from.dataset.text : "", maxlength: "60", spellcheck: "false", autocapitalize: "off", "aria-describedby": "chord-says", required: true });
    const where = h("select", { name: "bar" }, printed.map((b) => h("option", { value: String(b.bar), selected: b === bar }, b.number)));
    const place = h("select", { name: "onset" });
    const says = h("div", { id: "chord-says", class: "chord-says", role: "status" });
    const form = h("form", { class: "chord-form", "aria-label": known ? `Correct ${pretty(from.dataset.text)}` : "Add a chord symbol" },
      h("label", {}, "Chord", input), says,
      h("div", { class: "row" }, h("label", {}, "Bar", where), h("label", {}, "Beat", place)),
      h("div", { class: "row" }, h("button", { type: "submit", class: "strong" }, "Write it"),
        known ? h("button", { type: "button", onclick: () => send(input.value, here) }, "Move it there") : null,
        known ? h("button", { type: "button", onclick: () => send("") }, "Take it away") : null,
        h("button", { type: "button", class: "plain", onclick: () => close() }, "Cancel")));
    const chosenBar = () => printed.find((b) => b.bar === Number(where.value)) ?? bar ?? printed[0];
    const fillPlaces = () => {
      const { length_quarter, beat_quarter } = chosenBar();
      const [length, beat] = [number(length_quarter), number(beat_quarter)];
      const places = new Map();
      for (let q = 0; q < length; q += beat / 2) places.set(q, exact(q));
      if (known && chosenBar() === bar) places.set(number(from.dataset.onset), from.dataset.onset);
      place.replaceChildren(...[...places].sort((a, b) => a[0] - b[0]).map(([q, text]) => h("option", { value: text, selected: known && text === from.dataset.onset }, fraction(exact(1 + q / beat)))));
    };
    const close = () => {
      form.remove();
      from.focus();
    };
    const refuse = (message, position) => {
      says.replaceChildren(h("strong", {}, message));
      if (position !== undefined) {
        says.append(h("pre", { "aria-hidden": "true" }, `${input.value}\n${" ".repeat(position)}^`));
        input.setSelectionRange(position, input.value.length);
      }
      input.setAttribute("aria-invalid", "true");
    };
    // To the place that is chosen; a symbol that is moved is not left where it came `from`.
    const send = async (text, from = null) => {
      try {
        const { bar: at, onset } = text ? { bar: chosenBar().bar, onset: place.value } : here;
        await this.handlers.chord({ bar: at, onset, text, ...(from ? { from } : {}) });
        await this.drawn;
        form.remove();
        const now = this.chords.findIndex((symbol) => Number(symbol.dataset.bar) >= at && (Number(symbol.dataset.bar) > at || number(symbol.dataset.onset) >= number(onset)));
        focusOn(this.chords, now < 0 ? this.chords.length - 1 : now);
      } catch (error) {
        refuse(error.message, error.position);
        input.focus();
      }
    };
    let waiting = 0;
    input.addEventListener("input", () => {
      clearTimeout(waiting);
      input.removeAttribute("aria-invalid");
      waiting = setTimeout(async () => {
        if (!input.value.trim()) return says.replaceChildren();
        const text = input.value;
        const found = await post(`/api/tunes/${this.tune.id}/chord`, { text }).catch(() => null);
        if (!found || text !== input.value) return;
        if (found.ok) says.replaceChildren(`${found.symbol}: ${found.tones.join(" ")}`);
        else refuse(found.message, undefined), says.append(h("pre", { "aria-hidden": "true" }, `${text}\n${" ".repeat(found.position)}^`));
      }, 150);
    });
    where.addEventListener("change", fillPlaces);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      send(input.value);
    });
    form.addEventListener("keydown", (event) => {
      if (event.key === "Escape") close();
    });
    fillPlaces();
    this.paper.append(form);
    const paper = this.paper.getBoundingClientRect();
    const at = from.getBoundingClientRect();
    form.style.left = `${Math.max(8, Math.min(at.left - paper.left, paper.width - form.offsetWidth - 8))}px`;
    form.style.top = `${at.bottom - paper.top + 6}px`;
    input.focus();
    input.select();
  }
}

const family = (id) => ["comp", "reharm", "line"].find((name) => id.includes(`-${name}-`)) ?? "";

function focusOn(buttons, index) {
  const target = buttons[Math.max(0, Math.min(buttons.length - 1, index))];
  for (const button of buttons) button.setAttribute("tabindex", button === target ? "0" : "-1");
  target.focus();
}

// A place on the grid of half beats as an exact fraction.
function exact(value) {
  for (const bottom of [1, 2, 4, 8]) {
    const top = value * bottom;
    if (Math.abs(top - Math.round(top)) < 1e-9) return bottom === 1 ? String(Math.round(top)) : `${Math.round(top)}/${bottom}`;
  }
  return String(value);
}
