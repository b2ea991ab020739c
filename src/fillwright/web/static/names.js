// Names of musical things, as people of this language write them.

import { pretty } from "./dom.js";
import { t } from "./words.js";

export function keyName(key) {
  const [tonic, mode] = String(key).split(" ");
  return t(`tune.key_${mode}`, { tonic: pretty(tonic) });
}

// Chords by their function, "bIIdim7 V7", with real signs: "♭IIdim7 V7".
export const numerals = (text) => pretty(text).replace(/(^|[\s/])([b#])(?=[IV])/g, (_, before, sign) => before + (sign === "b" ? "♭" : "♯"));

// The title of a tune of the shelf, and which it is of several with that title.
export const titled = ({ title, number, alike }) => (alike > 1 ? `${title} (${t("shelf.number", { number, count: alike })})` : title);
