// Long work that is watched: a sentence, how far it is, and a button that stops it.

import { finish } from "./api.js";
import { h } from "./dom.js";
import { t } from "./words.js";

// How far a job is, in `status`, made there when it is first told; `stop` stops the job.
export function told(status, job, stop, label = t("chorus.progress")) {
  let bar = status.querySelector("progress");
  if (!bar) {
    bar = h("progress", { "aria-label": label });
    status.replaceChildren(h("span", {}), bar, h("button", { type: "button", class: "stop", onclick: stop }, t("chorus.stop")));
  }
  status.querySelector("span").textContent = `${job.what} …`;
  if (job.total > 1) {
    bar.max = job.total;
    bar.value = job.done;
  } else bar.removeAttribute("value");
}

// `begin()` starts the job; resolves to its id, or throws what went wrong. What is told stands in
// `status` until then.
export async function watched(status, begin) {
  const running = finish(begin, (job) => told(status, job, () => running.cancel()));
  try {
    return await running.finished;
  } finally {
    status.replaceChildren();
  }
}
