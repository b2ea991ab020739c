// The name of an idea in the language of the page (web/words/ideas/*.json). A name is put together
// of names: "shells, off-beats", "sus delay, then backdoor"; each part stands there.

import { h } from "./dom.js";
import { language, named, t } from "./words.js";

function translated(name) {
  const whole = named(name);
  if (whole) return whole;
  for (const joint of [", then ", ", "]) {
    for (let at = name.lastIndexOf(joint); at > 0; at = name.lastIndexOf(joint, at - 1)) {
      const [first, second] = [translated(name.slice(0, at)), translated(name.slice(at + joint.length))];
      if (first && second) return first + (named(joint) ?? joint) + second;
    }
  }
  return null;
}

export const ideaName = (name) => translated(name) ?? name;

// The language of that name; null: the page's own.
export const ideaLang = (name) => (translated(name) ? null : "en");

// One spelling of notes on all pages, that of the chord symbols; other languages are told.
export const spelled = () => (language === "en" ? "" : ` ${t("names.spelled")}`);

// Whole sentences of the program are English in every language so far; this says so before them.
export const inEnglish = () => (language === "en" ? "" : h("p", { class: "quiet in-english" }, t("names.in_english")));
