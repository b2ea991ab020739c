// What the page says. The messages of its language came with the page (web/words/*.json).

const messages = JSON.parse(document.getElementById("words").textContent);

export const language = document.documentElement.lang;

const plurals = new Intl.PluralRules(language);
const numbers = new Intl.NumberFormat(language, { maximumFractionDigits: 2, useGrouping: false });

// Several things in a row: "a, b and c".
const row = new Intl.ListFormat(language);
export const listed = (things) => row.format(things);

const shown = (value) => (typeof value === "number" ? numbers.format(value) : value);

// The message as a list of texts and what was put into its {places}, which may be elements.
export function parts(key, values = {}) {
  let message = messages[key];
  if (message === undefined) throw new Error(`no message ${key}`);
  if (typeof message === "object") message = message[plurals.select(values.count)] ?? message.other;
  return message.split(/(\{\w+\})/).filter(Boolean).map((part) => {
    const place = part.match(/^\{(\w+)\}$/);
    if (!place) return part;
    if (!(place[1] in values)) throw new Error(`message ${key} has no ${place[1]}`);
    return shown(values[place[1]]);
  });
}

// The message as one text. Where it counts, by `count`.
export const t = (key, values) => parts(key, values).join("");

// What an idea, or a part of its name, is called; undefined where the language has no name for it.
export const named = (name) => messages[`idea ${name}`];

// A moment, as people of this language write it.
export const moment = (seconds) => new Date(seconds * 1000).toLocaleString(language, { dateStyle: "medium", timeStyle: "short" });

// The switch of the language: it is kept for this browser.
const choice = document.getElementById("language");
choice?.addEventListener("change", () => {
  document.cookie = `fillwright-language=${choice.value}; path=/; max-age=31536000; samesite=lax`;
  location.reload();
});
