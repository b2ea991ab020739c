// The shelf: tunes that are there, to be found, named, copied and put into folders.

import { get } from "./api.js";
import { offerBringing } from "./bring.js";
import { h } from "./dom.js";
import { followShelf } from "./events.js";
import { showExample } from "./example.js";
import { keyName } from "./names.js";
import { explain } from "./notices.js";
import { Slip } from "./slip.js";
import { language, t } from "./words.js";

const part = (name) => document.getElementById(name);
const said = new URLSearchParams(location.search);
const NO_FOLDER = "-"; // in the address; a folder has a name

let tunes = null;
let folder = said.get("folder");
let slips = new Map();
part("find").value = said.get("find") ?? "";

const list = part("tunes");

// What stands there now. Nobody who types loses what is typed to a change made elsewhere.
async function show(whileTyping = false) {
  const now = (await get("/api/tunes")).tunes;
  const typing = list.contains(document.activeElement) && document.activeElement.matches("input");
  if ((typing && !whileTyping) || JSON.stringify(now) === JSON.stringify(tunes)) return;
  tunes = now;
  draw();
}

function draw() {
  const none = !tunes.length;
  part("main").dataset.tunes = none ? "none" : "some";
  part("tunes-there").hidden = none;
  part("example").hidden = !none;
  if (none) {
    slips = new Map();
    list.replaceChildren();
    showExample(part("example"));
    return;
  }
  const names = [...new Set(tunes.map((tune) => tune.folder).filter(Boolean))].sort(byName);
  part("folder-names").replaceChildren(...names.map((name) => h("option", { value: name })));
  if (folder !== null && folder !== NO_FOLDER && !names.includes(folder)) folder = null;
  drawFolders(names);
  drawTunes();
}

const byName = new Intl.Collator(language, { numeric: true }).compare;
const inFolder = (tune, name) => name === null || tune.folder === (name === NO_FOLDER ? "" : name);

function drawFolders(names) {
  const held = document.activeElement?.dataset.folder;
  const choices = names.length ? [null, ...names, NO_FOLDER] : [];
  part("folders").replaceChildren(...choices.map((name) => h("button", {
    type: "button", class: "chip", "data-folder": name ?? "", "aria-pressed": String(name === folder), onclick: () => {
      folder = name;
      draw();
    },
  }, name === null ? t("shelf.all") : name === NO_FOLDER ? t("shelf.no_folder") : name, " ", h("span", { class: "quiet" }, String(tunes.filter((tune) => inFolder(tune, name)).length)))));
  if (held !== undefined) part("folders").querySelector(`[data-folder="${CSS.escape(held)}"]`)?.focus();
}

const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

// All words are in the title, the folder, the key or the level.
function matches(tune, words) {
  const text = plain([tune.title, tune.folder, tune.key ? keyName(tune.key) : "", tune.level ? t(`tune.level_${tune.level}`) : "", tune.meter ?? ""].join(" "));
  return words.every((word) => text.includes(word));
}

const ORDERS = {
  changed: () => 0, // as the server has them
  title: (a, b) => byName(a.title, b.title),
  undecided: (a, b) => left(b) - left(a),
};
const left = (tune) => (tune.gaps ?? 0) - tune.decided;

function drawTunes() {
  const words = plain(part("find").value).split(/\s+/).filter(Boolean);
  const found = tunes.filter((tune) => inFolder(tune, folder) && matches(tune, words)).sort(ORDERS[part("order").value]);
  const query = new URLSearchParams();
  if (words.length) query.set("find", part("find").value.trim());
  if (folder !== null) query.set("folder", folder);
  history.replaceState(null, "", query.size ? `?${query}` : location.pathname);
  const open = [...slips.values()].find((slip) => slip.isOpen)?.tune.id;
  const held = list.contains(document.activeElement) ? document.activeElement.closest(".slip").dataset.tune : null;
  slips = new Map(found.map((tune) => [tune.id, new Slip(tune, { changed, folderShown: folder === null })]));
  list.replaceChildren(...[...slips.values()].map((slip) => slip.element));
  if (open) slips.get(open)?.toggle(true);
  if (held) slips.get(held)?.focus();
  part("found").replaceChildren(found.length === tunes.length ? t("shelf.count", { count: found.length }) : t("shelf.found", { count: tunes.length, found: found.length }), " ",
    ...(found.length ? [] : [h("button", { type: "button", class: "plain small", onclick: all }, t("shelf.show_all"))]));
}

function all() {
  folder = null;
  part("find").value = "";
  draw();
  part("find").focus();
}

// Something on the shelf was changed here: `id` is looked at next; `open`: with what can be done.
async function changed(id = null, open = false) {
  await show(true);
  const slip = slips.get(id);
  if (!slip) {
    part("main").focus();
    return;
  }
  slip.toggle(open);
  slip.focus();
}

part("find").addEventListener("input", drawTunes);
part("order").addEventListener("change", drawTunes);
part("finding").addEventListener("submit", (event) => event.preventDefault());
offerBringing(() => changed());
show().catch(explain);
followShelf(() => show().catch(() => {}));
