// Names of musical things, as people of this language write them.

import { pretty } from "./dom.js";
import { t } from "./words.js";

export function keyName(key) {
  const [tonic, mode] = String(key).split(" ");
  return t(`tune.key_${mode}`, { tonic: pretty(tonic) });
}
