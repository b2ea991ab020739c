// The teaching order: tunes that each bring something new, with the reason, and what each has left.

import { get } from "./api.js";
import { h } from "./dom.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { toldDifficulty } from "./library_words.js";
import { t } from "./words.js";

const KEY = "fillwright-known";

// What the student knows, by level: kept in this browser.
function knownOf(level) {
  try {
    return JSON.parse(localStorage.getItem(`${KEY}-${level}`)) ?? [];
  } catch {
    return [];
  }
}

function keep(level, names) {
  try {
    localStorage.setItem(`${KEY}-${level}`, JSON.stringify(names));
  } catch { /* it holds until the page is left */ }
}

// room: {level, hand, open(sheet, gap, button), work()}
export async function showOrder(element, room) {
  const part = (name) => element.querySelector(`#${name}`);
  const known = knownOf(room.level);
  const query = new URLSearchParams({ level: room.level, hand: room.hand });
  for (const name of known) query.append("known", name);
  const answer = await get(`/api/library/order?${query}`);
  const change = (names) => {
    keep(room.level, names);
    return showOrder(element, room);
  };
  const others = answer.devices.filter((name) => !known.includes(name));
  part("known").replaceChildren(h("span", {}, t("library.knows")),
    ...known.map((name) => h("button", { type: "button", class: "chip", title: t("library.known_not"), "aria-label": `${ideaName(name)}: ${t("library.known_not")}`, onclick: () => change(known.filter((one) => one !== name)) }, h("span", { lang: ideaLang(name) }, ideaName(name)), " ×")),
    ...(others.length ? [h("select", { "aria-label": t("library.known_add"), onchange: (event) => change([...known, event.target.value]) },
      h("option", { value: "" }, t("library.known_add")), others.map((name) => h("option", { value: name, lang: ideaLang(name) }, ideaName(name))))] : []));
  part("order-lacking").replaceChildren(...(answer.unworked ? [
    h("span", {}, t("library.unworked_order", { count: answer.unworked })),
    h("button", { type: "button", class: "small", onclick: room.work }, t("library.work_all"))] : []));
  const knows = (names) => change([...known, ...names.filter((name) => !known.includes(name))]);
  part("steps").replaceChildren(...(answer.steps.length ? answer.steps.map((step) => drawStep(step, room, knows))
    : [h("li", { class: "quiet" }, t(answer.devices.length ? "library.nothing_new" : "library.nothing_worked"))]));
  document.getElementById("main").dataset.ordered = String(known.length);
}

function drawStep(step, room, knows) {
  return h("li", { class: "lesson-step" },
    h("button", { type: "button", class: "found-open", title: t("library.open"), onclick: (event) => room.open(step.sheet, step.new[0].gap, event.currentTarget) },
      h("span", { class: "found-title" }, step.title)),
    h("p", { class: "step-new" }, step.new.map((one) => h("span", {}, h("strong", { class: one.family, lang: ideaLang(one.name) }, ideaName(one.name)), " ",
      h("span", { class: "quiet" }, t("library.new_at", { bar: one.bar, difficulty: toldDifficulty(one.difficulty) })))),
    h("button", { type: "button", class: "plain small", onclick: () => knows(step.new.map((one) => one.name)) }, t("library.taught"))),
    h("p", { class: "quiet" }, [step.again ? t("library.again", { count: step.again }) : "", step.harder ? t("library.harder", { count: step.harder }) : t("library.no_harder")].join(" ")),
    step.left.length ? h("details", {}, h("summary", {}, t("library.left", { count: step.left.length })),
      h("ul", { class: "left" }, step.left.map((one) => h("li", {}, h("span", { lang: ideaLang(one.name) }, ideaName(one.name)), " ", h("span", { class: "quiet" }, t("library.new_at", { bar: one.bar, difficulty: toldDifficulty(one.difficulty) })))))) : null);
}
