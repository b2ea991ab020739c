// The tempo at which a gap without ideas gets some.

import { get } from "./api.js";

// Of one family, or (null) of any: looked for mark by mark in short questions, as long as somebody
// wants to know. null: there are none; undefined: nobody wanted to know it any more.
export async function slowerTempo(address, family, wanted) {
  let at = null;
  do {
    const found = await get(`${address}/tempo?${new URLSearchParams({ ...(family && { family }), ...(at && { at }) })}`);
    if (found.tempo || !found.next) return found.tempo;
    at = found.next;
  } while (wanted());
  return undefined;
}
