// Long work that is watched: a sentence, how far it is, and a button that stops it.

import { finish } from "./api.js";
import { h } from "./dom.js";
import { t } from "./words.js";

// `begin()` starts the job; resolves to its id, or throws what went wrong. What is told stands in
// `status` until then.
export async function watched(status, begin) {
  const words = h("span", {});
  const bar = h("progress", { "aria-label": t("chorus.progress") });
  const running = finish(begin, (job) => {
    words.textContent = `${job.what} …`;
    if (job.total > 1) {
      bar.max = job.total;
      bar.value = job.done;
    } else bar.removeAttribute("value");
  });
  status.replaceChildren(words, bar, h("button", { type: "button", class: "stop", onclick: () => running.cancel() }, t("chorus.stop")));
  try {
    return await running.finished;
  } finally {
    status.replaceChildren();
  }
}
