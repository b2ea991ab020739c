// A teacher's own notes in ideas that are not chosen yet: kept in this tab, so that a look at
// another gap, or a reload, loses nothing.

export class Drafts {
  constructor(tune) {
    this.key = `fillwright-drafts-${tune}`;
  }

  #all() {
    try {
      return JSON.parse(sessionStorage.getItem(this.key)) ?? {};
    } catch {
      return {};
    }
  }

  #name(gap, fill) {
    return `${gap.bar} ${gap.pass} ${gap.beat} ${fill}`;
  }

  get(gap, fill) {
    return this.#all()[this.#name(gap, fill)] ?? null;
  }

  // A fill of the teacher's own in a gap.
  own(gap) {
    const mine = this.#name(gap, "");
    return Object.entries(this.#all()).find(([name, pick]) => name.startsWith(mine) && pick.own)?.[1] ?? null;
  }

  set(gap, pick, keep) {
    const all = this.#all();
    if (keep) all[this.#name(gap, pick.fill)] = pick;
    else delete all[this.#name(gap, pick.fill)];
    sessionStorage.setItem(this.key, JSON.stringify(all));
  }

  drop(gap, fill) {
    this.set(gap, { fill }, false);
  }
}
