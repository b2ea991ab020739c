// A small form at a chord symbol: correct it, move it, take it away, here or wherever it stands.

import { post } from "./api.js";
import { exact, fraction, h, number, pretty } from "./dom.js";
import { t } from "./words.js";

const WAIT_MS = 150;

// sheet: {paper, tune, chords (their elements), drawn (a promise), send(chord) -> promise};
// `from` is the symbol, or a button that adds one anywhere.
export function chordForm(sheet, from) {
  const { paper, tune } = sheet;
  paper.querySelector(".chord-form")?.remove();
  const known = from.dataset.bar !== undefined;
  const bar = known ? tune.bars.find((b) => b.bar === Number(from.dataset.bar)) : null;
  const printed = tune.bars.filter((b) => b.pass === 1 && b.bar >= 0);
  const here = known ? { bar: bar.bar, onset: from.dataset.onset } : null;
  const alike = known ? sheet.chords.filter((symbol) => symbol.dataset.text === from.dataset.text).length : 0;
  const input = h("input", { name: "text", value: known ? from.dataset.text : "", maxlength: "60", spellcheck: "false", autocapitalize: "off", "aria-describedby": "chord-says", required: true });
  const where = h("select", { name: "bar" }, printed.map((b) => h("option", { value: String(b.bar), selected: b === bar }, b.number)));
  const place = h("select", { name: "onset" });
  const everywhere = h("input", { type: "checkbox", name: "everywhere" });
  const says = h("div", { id: "chord-says", class: "chord-says", role: "status" });
  const form = h("form", { class: "chord-form", "aria-label": known ? t("chord.correct", { chord: pretty(from.dataset.text) }) : t("chord.add") },
    h("label", {}, t("chord.chord"), input), says,
    alike > 1 ? h("label", {}, everywhere, t("chord.everywhere", { count: alike, chord: pretty(from.dataset.text) })) : null,
    h("div", { class: "row" }, h("button", { type: "submit", class: "strong" }, t("chord.write")),
      known ? h("button", { type: "button", onclick: () => send("") }, t("chord.take_away")) : null,
      h("button", { type: "button", class: "plain", onclick: () => close() }, t("chord.cancel"))),
    h("details", { open: !known }, h("summary", {}, t("chord.elsewhere")),
      h("div", { class: "row" }, h("label", {}, t("chord.bar"), where), h("label", {}, t("chord.beat"), place),
        known ? h("button", { type: "button", onclick: () => send(input.value, here) }, t("chord.move")) : null)));
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
  // What cannot be read is said in plain words, with a pointer to where it begins.
  const refuse = (text, message, position) => {
    const rest = position === undefined ? "" : text.slice(position);
    says.replaceChildren(h("strong", {}, rest ? t("chord.not_read", { rest }) : message), rest ? h("p", { class: "quiet" }, t("chord.like")) : "");
    if (position !== undefined) says.append(h("pre", { "aria-hidden": "true" }, `${text}\n${" ".repeat(position)}^`));
    input.setAttribute("aria-invalid", "true");
  };
  // To the place that is chosen; a symbol that is moved is not left where it came `from`.
  const send = async (text, moved = null) => {
    try {
      const { bar: at, onset } = text ? { bar: chosenBar().bar, onset: place.value } : here;
      await sheet.send({ bar: at, onset, text, ...(moved ? { from: moved } : {}), ...(everywhere.checked && !moved ? { everywhere: true } : {}) });
      await sheet.drawn;
      form.remove();
      sheet.focusChord(at, number(onset));
    } catch (error) {
      refuse(text, error.message, error.position);
      if (error.position !== undefined) input.setSelectionRange(error.position, input.value.length);
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
      const found = await post(`/api/tunes/${tune.id}/chord`, { text }).catch(() => null);
      if (!found || text !== input.value) return;
      if (found.ok) says.replaceChildren(t("chord.means", { chord: found.symbol, tones: found.tones.join(" ") }));
      else refuse(text, found.message, found.position);
    }, WAIT_MS);
  });
  where.addEventListener("change", fillPlaces);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    send(input.value);
  });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      event.stopPropagation();
      close();
    }
  });
  fillPlaces();
  paper.append(form);
  const box = paper.getBoundingClientRect();
  const at = from.getBoundingClientRect();
  form.style.left = `${Math.max(8, Math.min(at.left - box.left + paper.scrollLeft, paper.scrollLeft + box.width - form.offsetWidth - 8))}px`;
  form.style.top = `${at.bottom - box.top + 6}px`;
  input.focus({ preventScroll: true });
  form.scrollIntoView({ block: "nearest", behavior: "instant" }); // all of it, above what plays
  input.select();
}
