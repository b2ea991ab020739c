// The ideas of one gap: asked for family by family, shown three at a time.

import { get } from "./api.js";
import { KINDS } from "./address.js";
import { slowerTempo } from "./slower.js";

export const IN_SIGHT = 3;
const MOST = 24;
const FAMILIES = KINDS.slice(1);

// Where no family has an idea, and all for the same reason, one entry says so.
function saidOnce(found) {
  const [{ reason }] = found;
  return reason && found.every((entry) => entry.reason === reason) ? [{ family: null, reason }] : found;
}

export class Ideas {
  constructor(address) {
    this.address = address;
    this.families = {};
    this.tempos = {};
    this.own = null; // a fill of the teacher's own, first of its family
  }

  #fills(family) {
    const known = this.families[family]?.fills ?? [];
    return this.own?.family === family ? [this.own, ...known] : known;
  }

  // At least `count` of a family, if there are so many.
  async need(family, count) {
    const known = this.families[family];
    const wanted = Math.min(MOST, count);
    if (known && (known.fills.length >= wanted || known.fills.length < known.count)) return known;
    const page = await get(`${this.address}?${family}=${wanted}`);
    this.families[family] = page.families[family];
    return this.families[family];
  }

  // The tempo at which a family has some, looked for once (slower.js).
  slower(family, wanted) {
    this.tempos[family] ??= slowerTempo(this.address, family, wanted);
    return this.tempos[family];
  }

  // Fetch what a page of a tab shows.
  async page(kind, page) {
    if (kind !== KINDS[0]) return this.need(kind, (page + 1) * IN_SIGHT);
    for (const family of FAMILIES) await this.need(family, page + 1);
    return null;
  }

  // Three entries: {fill}, or {family, reason, working} for a place that is empty; one without a
  // family where all three are empty for the same reason.
  inSight(kind, page) {
    const at = (family, index) => {
      const known = this.families[family];
      if (!known) return { family, working: true };
      const fill = this.#fills(family)[index];
      if (fill) return { fill };
      return { family, reason: index === 0 ? known.reason : null, working: known.fills.length >= known.count };
    };
    if (kind === KINDS[0]) return saidOnce(FAMILIES.map((family) => at(family, page)));
    const row = Array.from({ length: IN_SIGHT }, (_, slot) => at(kind, page * IN_SIGHT + slot));
    return row.filter((entry, slot) => entry.fill || slot === 0 || entry.working);
  }

  // Whether there may be something on the next page of a tab.
  maybeMore(kind, page) {
    const more = (family, wanted) => {
      const known = this.families[family];
      return Boolean(known) && (this.#fills(family).length > wanted || (known.fills.length >= known.count && known.count < MOST));
    };
    return kind === KINDS[0] ? FAMILIES.some((family) => more(family, page + 1)) : more(kind, (page + 1) * IN_SIGHT);
  }

  // Where an idea stands: {kind, page, slot}, or null. It is looked for among all there are.
  async find(id) {
    const here = this.where(id, KINDS[0]);
    if (here) return here;
    const family = FAMILIES.find((name) => id.includes(`-${name}-`));
    if (family) await this.need(family, MOST);
    return this.where(id, family);
  }

  // The same among those that are known, first in the tab that is open.
  where(id, kind) {
    for (const family of FAMILIES) {
      const index = this.#fills(family).findIndex((fill) => fill.id === id);
      if (index < 0) continue;
      if (kind === KINDS[0] && index < IN_SIGHT) return { kind, page: index, slot: FAMILIES.indexOf(family) };
      if (kind === KINDS[0]) return null;
      return { kind: family, page: Math.floor(index / IN_SIGHT), slot: index % IN_SIGHT };
    }
    return null;
  }
}
