// Where the reader is, as the address says it: a reload, the way back and a link lead there again.
//
// A place is {view, gap, kind, idea, ladder, take}: what is looked at; in the view "gap" which gap,
// which of its tabs, which idea is in hand, counted from 1, and whether it is shown step by step; in
// the view "take" which take.

const VIEWS = ["sheet", "gap", "chorus", "hand", "take"];
export const KINDS = ["each", "comp", "reharm", "line"];

export function here() {
  const said = new URLSearchParams(location.search);
  const count = (name) => Math.max(1, Number.parseInt(said.get(name), 10) || 1);
  const gap = said.has("gap") ? count("gap") : null;
  const view = gap ? "gap" : said.get("view");
  return {
    view: VIEWS.includes(view) ? view : "sheet", gap,
    kind: KINDS.includes(said.get("kind")) ? said.get("kind") : null,
    idea: said.has("idea") ? count("idea") : null,
    take: /^[0-9a-f]{16}$/.test(said.get("take")) ? said.get("take") : null,
    ladder: said.has("ladder"),
  };
}

// Say where the reader is now; `anew` makes it a step that the way back undoes.
export function went({ view, gap, kind, idea, ladder, take }, anew) {
  const said = new URLSearchParams();
  if (view === "gap") {
    said.set("gap", String(gap));
    if (kind && kind !== KINDS[0]) said.set("kind", kind);
    if (idea && (idea > 1 || ladder)) said.set("idea", String(idea));
    if (ladder) said.set("ladder", "1");
  } else if (view !== "sheet") said.set("view", view);
  if (view === "take" && take) said.set("take", take);
  const text = said.size ? `?${said}` : location.pathname;
  if ((said.size ? `?${said}` : "") === location.search) return;
  history[anew ? "pushState" : "replaceState"](null, "", text);
}

// Where the library shows gaps like one, or where else a device is offered.
export function libraryAddress(tune, gap, device = "") {
  const said = new URLSearchParams({ tune: tune.id, gap: String(gap), level: tune.settings.level, hand: tune.settings.hand });
  if (device) said.set("device", device);
  return `/library?${said}`;
}
