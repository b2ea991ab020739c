// The library: files are brought, questions asked, and gaps lead to the shelf.

import { get, post } from "./api.js";
import { fraction, h, pretty, s } from "./dom.js";
import { beatName } from "./gap.js";
import { ideaLang, ideaName } from "./ideaname.js";
import { numerals } from "./names.js";
import { explain } from "./notices.js";
import { shape } from "./shapes.js";
import { toldDifficulty } from "./library_words.js";
import { offerFiles, watch } from "./library_work.js";
import { showOrder } from "./library_order.js";
import { t } from "./words.js";

const part = (name) => document.getElementById(name);
const form = part("ask");
const FIELDS = ["title", "beats", "over", "holding", "level", "hand", "device", "max_difficulty", "key", "tempo", "sort"];
const USUAL = { level: "intermediate", hand: "medium", sort: "easiest" };
const COUNTED = ["beats", "holding", "level", "device", "max_difficulty", "key", "tempo"];
const LISTED = 20;
const MOST_LISTED = 500;
const SHOWN_DEVICES = 3;

let state = null;
let listed = LISTED;
let asked = 0; // answers that come too late for a newer question are dropped
const tried = new Set(); // questions whose lists were worked out once

// --- what is asked, in the address ---------------------------------------------------------------

const said = () => new URLSearchParams(location.search);
const isOrder = () => said().get("view") === "order";

function question() {
  const query = said();
  for (const name of [...query.keys()]) if (![...FIELDS, "tune", "gap"].includes(name)) query.delete(name);
  return query;
}

function ask(changes, anew = true) {
  const query = said();
  for (const [name, value] of Object.entries(changes)) {
    if (value && value !== USUAL[name]) query.set(name, value);
    else query.delete(name);
  }
  const text = query.size ? `?${query}` : location.pathname;
  history[anew ? "pushState" : "replaceState"](null, "", text);
  listed = LISTED;
  show().catch(explain);
}

function option(name, value, count) {
  const text = value === "" ? t("library.any") : label(name, value);
  return h("option", { value, selected: (said().get(name) ?? USUAL[name] ?? "") === value }, count === null ? text : `${text}  (${count})`);
}

function label(name, value) {
  if (name === "level") return t(`tune.level_${value}`);
  if (name === "max_difficulty") return t("library.at_most", { count: Number(value) });
  if (name === "beats") return beatsOf(value);
  if (name === "key") return value.endsWith("m") ? t("tune.key_minor", { tonic: pretty(value.slice(0, -1)) }) : t("tune.key_major", { tonic: pretty(value) });
  if (name === "tempo") {
    const [low, high] = value.split("..");
    if (!low) return t("library.tempo_to", { high });
    return high ? t("library.tempo_between", { low, high }) : t("library.tempo_from", { low });
  }
  if (name === "over") return numerals(value);
  if (name === "device") return ideaName(value);
  return name === "holding" ? pretty(value) : value;
}

// "2..2.99" is said by its least, and by the whole beats it ends before.
function beatsOf(span) {
  const [low, high] = span.split("..");
  if (high === undefined || low === high) return t("library.beats_of", { count: Number(low) });
  return high ? t("library.beats_under", { low, high: Math.ceil(Number(high)) }) : t("library.beats_from", { low });
}

function beatsHead(span) {
  const [low, high] = span.split("..");
  if (!high) return `${low}+`;
  const last = Math.ceil(Number(high)) - 1;
  return last > Number(low) ? `${low}–${last}` : low;
}

// The choices with how many gaps each would leave. What was chosen stays among them.
function drawChoices(choices) {
  for (const name of COUNTED) {
    const chosen = said().get(name) ?? USUAL[name] ?? "";
    const list = choices[name].filter(([value, count]) => count || value === chosen);
    if (chosen && !list.some(([value]) => value === chosen)) list.unshift([chosen, 0]);
    const any = name === "level" ? [] : [option(name, "", null)];
    part(`ask-${name}`).replaceChildren(...any, ...list.map(([value, count]) => option(name, value, count)));
  }
  const over = said().get("over") ?? "";
  const often = choices.over.filter(([, count]) => count);
  part("ask-over-choice").replaceChildren(option("over", "", null),
    ...(over && !often.some(([value]) => value === over) ? [h("option", { value: over, selected: true }, over)] : []),
    ...often.map(([value, count]) => option("over", value, count)));
}

function drawForm() {
  for (const name of ["title", "over", "hand", "sort"]) {
    const field = part(`ask-${name}`);
    if (document.activeElement !== field) field.value = said().get(name) ?? USUAL[name] ?? "";
  }
  for (const box of form.querySelectorAll(".ask")) {
    const name = box.querySelector("[name]").name;
    box.classList.toggle("set", name !== "sort" && said().has(name));
  }
  part("forget").hidden = !FIELDS.some((name) => said().has(name)) && !said().has("gap");
}

// --- what is found -----------------------------------------------------------------------------

function place(gap) {
  const where = t(gap.pass > 1 ? "bench.where_pass" : "bench.where", { bar: gap.bar, pass: gap.pass, beat: beatName(gap.beat), beats: fraction(gap.beats) });
  return `${where} ${t("library.seconds", { seconds: Math.round(gap.seconds * 10) / 10 })}`;
}

// Gaps of a tune that are heard alike are listed once, with the bars where they come again.
function together(gaps) {
  const groups = new Map();
  for (const gap of gaps) {
    const key = `${gap.sheet} ${gap.alike}`;
    if (groups.has(key)) groups.get(key).push(gap);
    else groups.set(key, [gap]);
  }
  return [...groups.values()];
}

function drawGap([gap, ...again]) {
  const wanted = said().get("device");
  const first = gap.devices.filter((device) => device.name === wanted);
  const shown = [...first, ...gap.devices.filter((device) => device.name !== wanted)].slice(0, SHOWN_DEVICES);
  return h("li", { class: "found-gap" },
    h("button", { type: "button", class: "found-open", title: t("library.open"), onclick: (event) => open(gap.sheet, gap.number, event.currentTarget) },
      h("span", { class: "found-title" }, gap.title), h("span", { class: "found-where" }, place(gap)),
      again.length ? h("span", { class: "found-where" }, t("library.alike_in", { bars: again.map((one) => (one.pass > 1 ? t("library.bar_pass", { bar: one.bar, pass: one.pass }) : one.bar)).join(", ") })) : null),
    h("p", { class: "found-chords" }, gap.chords.length ? gap.chords.map(pretty).join(" ") : h("span", { class: "no-chord" }, t("bench.no_chord")),
      gap.degree ? h("span", { class: "found-held" }, t("library.holds", { pitch: pretty(gap.held), degree: pretty(gap.degree) })) : null),
    h("ul", { class: "found-devices" }, shown.map((device) => h("li", { class: device.name === wanted ? "asked" : "" },
      h("span", { class: device.family }, shape(device.family)), h("span", { lang: ideaLang(device.name) }, ideaName(device.name)),
      h("span", { class: "hard", title: t("library.difficulty", { difficulty: device.difficulty }) }, toldDifficulty(device.difficulty)))),
      gap.devices.length > shown.length ? h("li", { class: "quiet" }, t("library.devices_more", { count: gap.devices.length - shown.length })) : null),
    h("button", { type: "button", class: "plain small alike", onclick: (event) => alike(gap, event.currentTarget) }, t("library.like")));
}

const onShelf = (sheet) => post("/api/library/open", { sheet, level: said().get("level") ?? USUAL.level, hand: said().get("hand") ?? USUAL.hand });

async function open(sheet, number, button) {
  button.disabled = true;
  try {
    const { id } = await onShelf(sheet);
    location.href = `/tunes/${id}?gap=${number}`;
  } catch (error) {
    button.disabled = false;
    explain(error);
  }
}

// The nearest gaps are asked of a tune that stands on the shelf.
async function alike(gap, button) {
  button.disabled = true;
  try {
    const { id } = await onShelf(gap.sheet);
    ask({ ...Object.fromEntries(FIELDS.map((name) => [name, ["level", "hand"].includes(name) ? said().get(name) : ""])), tune: id, gap: String(gap.number) });
    part("found").focus();
  } catch (error) {
    explain(error);
  } finally {
    button.disabled = false;
  }
}

function drawFound(answer) {
  const total = answer.total ?? answer.gaps.length;
  let head = t("library.found", { count: total });
  if (answer.of) head = t(said().has("device") ? "library.elsewhere" : "library.alike", { title: answer.of.title, bar: answer.of.bar, device: ideaName(said().get("device") ?? "") });
  else if (!total) head = t("library.none");
  part("found").textContent = head;
  part("gaps").replaceChildren(...together(answer.gaps).map(drawGap));
  part("further").hidden = answer.of || total <= answer.gaps.length || listed >= MOST_LISTED;
  const lines = [];
  if (answer.unworked) lines.push(t(said().has("device") || said().has("max_difficulty") ? "library.unworked_more" : "library.unworked", { count: answer.unworked }));
  if (answer.failed) lines.push(t("library.failed", { count: answer.failed }));
  part("lacking").replaceChildren(...lines.map((line) => h("span", {}, line)),
    ...(answer.unworked ? [h("button", { type: "button", class: "small", onclick: workAll }, t("library.work_all"))] : []));
  return answer.gaps.some((gap) => !gap.devices.length) || answer.gaps.length < Math.min(listed, total + (answer.unworked ?? 0));
}

async function workAll() {
  await watch("work", { level: said().get("level") ?? USUAL.level, hand: said().get("hand") ?? USUAL.hand });
  await show();
}

// --- the picture -------------------------------------------------------------------------------

function drawPicture({ rows, columns, cells }) {
  const most = Math.max(1, ...cells.flat());
  const [beats, over] = [said().get("beats"), said().get("over")];
  part("picture").hidden = !rows.length;
  part("picture-table").replaceChildren(
    h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "quiet" }, t("library.beats")), columns.map((column) => h("th", { scope: "col", title: beatsOf(column) }, beatsHead(column))))),
    h("tbody", {}, rows.map((row, y) => h("tr", {}, h("th", { scope: "row" }, numerals(row)), columns.map((column, x) => h("td", {}, cell(row, column, cells[y][x], most, beats === column && over === row)))))));
}

function cell(row, column, count, most, chosen) {
  if (!count) return null;
  const radius = 1.2 + 8 * Math.sqrt(count / most);
  return h("button", {
    type: "button", class: "cell", "aria-pressed": String(chosen), title: t("library.cell", { count, chords: numerals(row), beats: beatsOf(column) }),
    onclick: () => ask(chosen ? { beats: "", over: "" } : { beats: column, over: row, tune: "", gap: "" }),
  }, s("svg", { viewBox: "0 0 20 20", "aria-hidden": "true" }, s("circle", { cx: 10, cy: 10, r: radius })), h("span", {}, String(count)));
}

// --- all of it ---------------------------------------------------------------------------------

async function show() {
  const turn = ++asked;
  const order = isOrder();
  part("asking").dataset.view = order ? "order" : "find";
  for (const name of ["results", "picture"]) part(name).hidden = order;
  part("order").hidden = !order;
  for (const box of form.children) box.hidden = order && !["level", "hand"].includes(box.querySelector("[name]")?.name);
  part("way-find").ariaCurrent = order ? "false" : "page";
  part("way-order").ariaCurrent = order ? "page" : "false";
  drawForm();
  const query = question();
  query.set("count", String(listed));
  const like = !order && query.has("tune");
  const [answer, found] = await Promise.all([get(`/api/library?${query}`), like ? get(`/api/library/like?${query}`) : null]);
  if (turn !== asked) return;
  drawChoices(answer.choices);
  if (order) {
    await showOrder(part("order"), { level: answer.level, hand: answer.hand, open, work: workAll });
    return;
  }
  const lacks = drawFound(found ?? answer);
  drawPicture(answer.picture);
  part("main").dataset.shown = String(Number(part("main").dataset.shown ?? 0) + 1);
  if (lacks && answer.unworked && !tried.has(String(query))) {
    tried.add(String(query));
    await watch("list", Object.fromEntries(query));
    await show();
  }
}

async function begin() {
  state = await get("/api/library/state");
  part("main").dataset.tunes = state.tunes ? "some" : "none";
  part("there").textContent = state.tunes ? t("library.there", { count: state.tunes, gaps: state.gaps }) : t("library.empty");
  part("asking").hidden = !state.tunes;
  part("bringing").open = !state.tunes && !state.waiting;
  if (state.tunes) await show();
}

async function brought() {
  tried.clear();
  await begin();
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("change", (event) => {
  const field = event.target;
  const changes = { [field.id === "ask-over-choice" ? "over" : field.name]: field.value.trim() };
  if (!["level", "hand", "sort", "device"].includes(field.name)) Object.assign(changes, { tune: "", gap: "" });
  ask(changes);
});
let typing = 0;
part("ask-title").addEventListener("input", () => {
  clearTimeout(typing);
  typing = setTimeout(() => ask({ title: part("ask-title").value.trim(), tune: "", gap: "" }, false), 250);
});
part("forget").addEventListener("click", () => ask(Object.fromEntries([...FIELDS, "tune", "gap"].map((name) => [name, ""]))));
part("further").addEventListener("click", () => {
  listed = Math.min(MOST_LISTED, listed + 2 * LISTED);
  show().catch(explain);
});
addEventListener("popstate", () => show().catch(explain));
offerFiles(brought);
begin().then(async () => {
  if (!state.waiting) return;
  await watch("add"); // tunes of the shelf that are not in it yet
  await brought();
}).catch(explain);
