// Files brought to the library, and long work that is watched.

import { get, post, remove } from "./api.js";
import { h } from "./dom.js";
import { explain } from "./notices.js";
import { t } from "./words.js";

const MOST_BYTES = 6 * 1024 * 1024; // to a request
const MOST_FILES = 100;
const SUFFIX = /\.(musicxml|xml|mxl|abc)$/i;
const part = (name) => document.getElementById(name);

function progress(what, done, total, stop) {
  part("at-work").hidden = false;
  const bar = h("progress", { "aria-label": what });
  if (total) {
    bar.max = total;
    bar.value = done;
  }
  part("at-work").replaceChildren(h("span", {}, total ? t("library.at_work", { what, done, total }) : `${what} …`), bar,
    ...(stop ? [h("button", { type: "button", class: "small", onclick: stop }, t("library.stop"))] : []));
}

const quiet = () => {
  part("at-work").hidden = true;
};

// Do some long work; gives its result, or null where it was stopped.
export async function watch(kind, asked = {}) {
  let job = await post("/api/library/jobs", { kind, asked });
  const stop = () => remove(`/api/jobs/${job.id}`).catch(() => {});
  try {
    while (job.state === "running") {
      progress(job.what, job.done, job.total, stop);
      job = await get(`/api/jobs/${job.id}?wait=1`);
    }
  } finally {
    quiet();
  }
  if (job.state === "failed") throw new Error(job.message);
  return job.state === "done" ? get(`/api/jobs/${job.id}/result`) : null;
}

// onbrought(): there is something new
export function offerFiles(onbrought) {
  const bring = (files) => bringAll(files, onbrought).catch((error) => {
    quiet();
    explain(error);
  });
  for (const name of ["files", "folder"]) {
    part(name).addEventListener("change", () => {
      bring([...part(name).files]);
      part(name).value = "";
    });
  }
  for (const kind of ["dragenter", "dragover"]) {
    document.addEventListener(kind, (event) => {
      event.preventDefault();
      part("bringing").open = true;
      part("drop").classList.add("over");
    });
  }
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) part("drop").classList.remove("over");
  });
  document.addEventListener("drop", async (event) => {
    event.preventDefault();
    part("drop").classList.remove("over");
    const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
    const plain = [...event.dataTransfer.files];
    bring(entries.length ? (await Promise.all(entries.map(filesIn))).flat() : plain);
  });
}

// All files of a folder that was dropped, and of those in it.
async function filesIn(entry) {
  if (entry.isFile) return [await new Promise((resolve, reject) => { entry.file(resolve, reject); })];
  const reader = entry.createReader();
  const inside = [];
  for (;;) { // a reader gives so many at a time
    const some = await new Promise((resolve, reject) => { reader.readEntries(resolve, reject); });
    if (!some.length) break;
    inside.push(...some);
  }
  return (await Promise.all(inside.filter((one) => !one.name.startsWith(".")).map(filesIn))).flat();
}

async function bringAll(files, onbrought) {
  const sheets = files.filter((file) => SUFFIX.test(file.name));
  const large = sheets.filter((file) => file.size > MOST_BYTES);
  part("brought").replaceChildren();
  if (!sheets.length) throw new Error(t("library.no_sheet", { count: files.length }));
  let done = 0;
  let known = 0;
  for (const batch of batches(sheets.filter((file) => file.size <= MOST_BYTES))) {
    progress(t("library.sending"), done, sheets.length);
    const sent = new FormData();
    for (const file of batch) sent.append("file", file, file.name);
    known += batch.length - (await post("/api/library/files", sent)).new;
    done += batch.length;
  }
  const result = await watch("add");
  if (result) tell(result, known, large);
  await onbrought();
}

function* batches(files) {
  let batch = [];
  let bytes = 0;
  for (const file of files) {
    if (batch.length && (batch.length >= MOST_FILES || bytes + file.size > MOST_BYTES)) {
      yield batch;
      [batch, bytes] = [[], 0];
    }
    batch.push(file);
    bytes += file.size;
  }
  if (batch.length) yield batch;
}

function tell({ added, copies, refused }, known, large) {
  const bad = [...large.map((file) => ({ tune: file.name, reason: t("library.too_large") })), ...refused];
  const list = (kind, head, lines, open) => (lines.length ? [h("details", { class: kind, open }, h("summary", {}, head), h("ul", {}, lines.map((line) => h("li", {}, line))))] : []);
  part("brought").replaceChildren(
    h("p", {}, h("strong", {}, t("library.added", { count: added })), " ", known ? t("library.known", { count: known }) : ""),
    ...list("refused", t("library.refused", { count: bad.length }), bad.map((one) => [h("strong", {}, one.tune), ": ", h("span", { lang: "en" }, one.reason)]), true),
    ...list("copies", t("library.copies", { count: copies.length }), copies.map((one) => t("library.copy_of", { name: one.tune, title: one.of })), false));
}
