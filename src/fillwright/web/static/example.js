// What an empty shelf shows: a gap as it is written, and three answers to be looked at and heard.

import { get } from "./api.js";
import { crop, engraved, h, pretty, toOneScale } from "./dom.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { explain } from "./notices.js";
import { player } from "./player.js";
import { shape } from "./shapes.js";
import { t } from "./words.js";

let begun = false;

export async function showExample(section) {
  if (begun) return;
  begun = true;
  const body = h("div", { class: "example-body", "aria-busy": "true" }, h("p", { class: "quiet" }, t("bench.working")),
    h("div", { class: "written", "aria-hidden": "true" }, empty()),
    h("div", { class: "example-ideas", "aria-hidden": "true" }, [1, 2, 3].map(() => h("div", { class: "idea" }, empty(), empty()))));
  section.replaceChildren(h("h2", { id: "example-head" }, t("example.head")), body);
  try {
    const found = await get("/api/example");
    const { gap } = found;
    const written = engraved(found.phrase.svg);
    for (const mark of written.querySelectorAll(".gap-mark")) mark.classList.toggle("current", Number(mark.dataset.gap) === gap.number);
    const ideas = found.ideas.map(idea);
    const row = h("div", { class: "example-ideas" }, ideas.map(({ element }) => element));
    body.replaceChildren(
      figure("written", written, [t("example.written", { title: found.title, pitch: pretty(gap.held.pitch), gap: gap.number })]),
      row);
    crop(written, 10, 0.62);
    for (const { svg } of ideas) crop(svg, 8, 0.55);
    toOneScale(row);
  } catch {
    section.hidden = true; // the shelf does without
  }
  body.setAttribute("aria-busy", "false");
}

// A staff that is still to be written on.
const empty = () => h("div", { class: "staff", "aria-busy": "true" });

function figure(kind, svg, words) {
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", words.map((word) => word.textContent ?? word).join(" "));
  return h("figure", { class: kind }, h("figcaption", {}, words), svg);
}

function idea({ family, device, staff, play }) {
  const svg = engraved(staff.svg);
  const elements = new Map(Object.entries(staff.elements).map(([index, id]) => [Number(index), svg.querySelector(`#${id}`)]));
  let lit = [];
  const light = (indices) => {
    for (const element of lit) element.classList.remove("on");
    lit = indices.map((index) => elements.get(index)).filter(Boolean);
    for (const element of lit) element.classList.add("on");
  };
  const say = (playing) => {
    hear.textContent = t(playing ? "card.stop" : "card.hear");
    hear.setAttribute("aria-pressed", String(playing));
    if (!playing) light([]);
  };
  const hear = h("button", { type: "button", class: "hear", "aria-pressed": "false", "aria-describedby": `example-${family}`, onclick: async () => {
    const playing = hear.getAttribute("aria-pressed") === "true";
    player.stop();
    if (playing) return;
    say(true);
    try {
      await player.play(play, { onnotes: light, onend: () => say(false) });
    } catch (error) {
      say(false);
      explain(error);
    }
  } }, t("card.hear"));
  const name = h("span", { id: `example-${family}` }, shape(family), h("strong", {}, t(`bench.kind_${family}`)), " ", h("span", { lang: ideaLang(device) }, ideaName(device)));
  const element = figure("idea", svg, [name]);
  element.classList.add(family);
  element.append(h("div", { class: "acts" }, hear));
  return { element, svg };
}
