// All devices in one list to choose from: by family, and what begins alike together.

import { h } from "./dom.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { t } from "./words.js";

const LEAST_ALIKE = 3; // so many names of one beginning stand under it

// The first two words, if they say something: "moving voice", "bass line".
const beginning = (name) => name.split(/[\s,:]+/).slice(0, 2).join(" ");

// A list named `name`; its value is the English name of a device, or "".
export function deviceList(name, attributes = {}) {
  const families = new Map();
  for (const option of document.getElementById("devices").content.children) {
    const { family } = option.dataset;
    families.set(family, [...families.get(family) ?? [], option.value]);
  }
  return h("select", { name, ...attributes }, h("option", { value: "" }, t("devices.which")), [...families].map(([family, names]) => grouped(family, names)));
}

function grouped(family, names) {
  const alike = new Map();
  for (const name of names) {
    const first = beginning(ideaName(name));
    alike.set(first, [...alike.get(first) ?? [], name]);
  }
  const alone = names.filter((name) => alike.get(beginning(ideaName(name))).length < LEAST_ALIKE);
  const groups = [...alike].filter(([, those]) => those.length >= LEAST_ALIKE);
  const group = (label, those) => h("optgroup", { label }, those.toSorted((a, b) => ideaName(a).localeCompare(ideaName(b)))
    .map((name) => h("option", { value: name, lang: ideaLang(name) }, ideaName(name))));
  const title = t(`bench.kind_${family}`);
  return [group(title, alone), ...groups.map(([first, those]) => group(t("devices.group", { family: title, group: first }), those))];
}
