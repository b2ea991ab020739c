// Three ways to bring a tune: a file, a text, a demo tune.

import { post } from "./api.js";
import { h } from "./dom.js";
import { explain, notify } from "./notices.js";
import { t } from "./words.js";

const MOST_BYTES = 8 * 1024 * 1024;
const part = (name) => document.getElementById(name);

// onshelf(): a whole shelf was brought
export function offerBringing(onshelf) {
  const drop = part("drop");
  const input = part("file");
  const file = (one) => bringFile(one, onshelf);
  input.addEventListener("change", () => {
    file(input.files[0]);
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
    file(event.dataTransfer.files[0]);
  });
  part("paste").addEventListener("submit", (event) => {
    event.preventDefault();
    const text = part("text").value;
    if (text.trim()) bring(() => post("/api/tunes", { text }), complain);
    else complain(new Error(t("shelf.nothing_pasted")));
  });
  part("text").addEventListener("input", () => part("paste-says").replaceChildren());
  document.addEventListener("paste", (event) => {
    if (event.target.matches("input, textarea")) return;
    const pasted = event.clipboardData.files[0];
    const text = event.clipboardData.getData("text/plain");
    if (pasted) file(pasted);
    else if (text.trim()) {
      part("text").value = text;
      part("text").focus();
    }
  });
  for (const button of document.querySelectorAll("[data-demo]")) {
    button.addEventListener("click", () => bring(() => post("/api/tunes", { demo: button.dataset.demo })));
  }
}

// What is wrong with a pasted text is said below it.
function complain(error) {
  part("paste-says").replaceChildren(h("p", {}, error.message));
  part("text").focus();
}

async function bring(send, complained = explain) {
  document.body.classList.add("busy");
  try {
    const { id } = await send();
    location.href = `/tunes/${id}`;
  } catch (error) {
    complained(error);
  } finally {
    document.body.classList.remove("busy");
  }
}

async function bringFile(file, onshelf) {
  if (!file) return;
  if (/"format": "fillwright shelf"/.test(await file.slice(0, 200).text())) {
    await bringShelf(file, onshelf);
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

// A saved shelf comes back as a whole; what is there already stays as it is.
async function bringShelf(file, onshelf) {
  document.body.classList.add("busy");
  try {
    const { new: added, there, refused } = await post("/api/shelf", file);
    notify(t("shelf.added", { count: added, there }));
    for (const sentence of refused) notify(sentence, "error");
    await onshelf();
  } catch (error) {
    explain(error);
  } finally {
    document.body.classList.remove("busy");
  }
}
