// The shelf: tunes that are there, and three ways to bring one.

import { get, post, remove } from "./api.js";
import { explain, h, notify } from "./dom.js";
import { moment, t } from "./words.js";

const MOST_BYTES = 8 * 1024 * 1024;
const list = document.getElementById("tunes");

async function show() {
  const { tunes } = await get("/api/tunes");
  document.getElementById("empty").hidden = tunes.length > 0;
  list.replaceChildren(...tunes.map((tune) => h("li", {},
    h("a", { href: `/tunes/${tune.id}`, class: "tune-link" },
      h("span", { class: "tune-title" }, tune.title),
      h("span", { class: "quiet" }, `${tune.name}, ${moment(tune.changed_sec)}`)),
    h("button", { type: "button", class: "plain", "aria-label": t("shelf.take_off_named", { title: tune.title }), onclick: (event) => ask(event.target, tune) }, t("shelf.take_off")),
  )));
}

// Taking a tune off the shelf cannot be undone, so it is asked for twice.
function ask(button, tune) {
  const sure = h("button", { type: "button", class: "danger", onclick: async () => {
    try {
      await remove(`/api/tunes/${tune.id}`);
      notify(t("shelf.taken_off", { title: tune.title }));
    } catch (error) {
      explain(error);
    }
    await show();
    document.getElementById("main").focus();
  } }, t("shelf.lose", { title: tune.title }));
  const no = h("button", { type: "button", onclick: show }, t("shelf.keep"));
  button.replaceWith(sure, no);
  no.focus();
}

async function bring(send) {
  document.body.classList.add("busy");
  try {
    const { id } = await send();
    location.href = `/tunes/${id}`;
  } catch (error) {
    explain(error);
  } finally {
    document.body.classList.remove("busy");
  }
}

// A saved shelf comes back as a whole; what is there already stays as it is.
async function bringShelf(file) {
  document.body.classList.add("busy");
  try {
    const { new: added, there, refused } = await post("/api/shelf", file);
    notify(t("shelf.added", { count: added, there }));
    for (const sentence of refused) notify(sentence, "error");
    await show();
  } catch (error) {
    explain(error);
  } finally {
    document.body.classList.remove("busy");
  }
}

async function bringFile(file) {
  if (!file) return;
  if (/"format": "fillwright shelf"/.test(await file.slice(0, 200).text())) {
    await bringShelf(file);
    return;
  }
  if (file.size > MOST_BYTES) {
    notify(t("shelf.too_large", { name: file.name }), "error");
    return;
  }
  const form = new FormData();
  form.append("file", file, file.name);
  bring(() => post("/api/tunes", form));
}

const drop = document.getElementById("drop");
const input = document.getElementById("file");
input.addEventListener("change", () => {
  bringFile(input.files[0]);
  input.value = "";
});
for (const kind of ["dragenter", "dragover"]) {
  document.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) drop.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  bringFile(event.dataTransfer.files[0]);
});

document.getElementById("paste").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = document.getElementById("text").value;
  if (!text.trim()) notify(t("shelf.nothing_pasted"), "error");
  else bring(() => post("/api/tunes", { text }));
});
document.addEventListener("paste", (event) => {
  if (event.target.matches("input, textarea")) return;
  const file = event.clipboardData.files[0];
  const text = event.clipboardData.getData("text/plain");
  if (file) bringFile(file);
  else if (text.trim()) document.getElementById("text").value = text;
});
for (const button of document.querySelectorAll("[data-demo]")) {
  button.addEventListener("click", () => bring(() => post("/api/tunes", { demo: button.dataset.demo })));
}
show().catch((error) => explain(error));
