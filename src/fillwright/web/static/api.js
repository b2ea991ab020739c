// Talking to the server.

import { printing } from "./printing.js";
import { t } from "./words.js";

const token = document.querySelector("meta[name=token]").content;

export class Refused extends Error {
  constructor(status, value) {
    super(value.error || t("api.no_answer"));
    this.status = status;
    this.position = value.position;
    this.version = value.version;
  }
}

async function send(method, path, body, signal) {
  const headers = {};
  if (method !== "GET") headers["x-token"] = token;
  let content = body;
  if (body instanceof Blob) headers["content-type"] = "application/json";
  else if (body !== undefined && !(body instanceof FormData)) {
    headers["content-type"] = "application/json";
    content = JSON.stringify(body);
  }
  let answer;
  try {
    // A change outlives the page it was made on.
    answer = await fetch(path, { method, headers, body: content, signal, keepalive: method === "PUT" });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, { error: t("api.not_reached") });
  }
  let value = {};
  try {
    value = await answer.json();
  } catch {
    if (answer.ok) throw new Refused(answer.status, {});
  }
  if (!answer.ok) throw new Refused(answer.status, value);
  return value;
}

export const get = (path, signal) => send("GET", path, undefined, signal);
export const post = (path, body = {}, signal) => send("POST", path, body, signal);
export const put = (path, body) => send("PUT", path, body);
export const remove = (path) => send("DELETE", path);

// Long work. `onprogress` gets {what, done, total}; the returned object can be cancelled.
export const work = (tune, kind, onprogress, chosen) => workAt(`/api/tunes/${tune}/jobs`, kind, onprogress, chosen);

export const workAt = (address, kind, onprogress, chosen = printing()) => finish(() => post(address, { kind, printing: chosen }), onprogress);

// The same of a job that `begin()` starts.
export function finish(begin, onprogress) {
  let id = null;
  let stopped = false;
  const finished = (async () => {
    let job = await begin();
    id = job.id;
    if (stopped) await remove(`/api/jobs/${id}`);
    while (job.state === "running") {
      onprogress(job);
      job = await get(`/api/jobs/${id}?wait=1`);
    }
    if (job.state !== "done") throw new Refused(job.state === "cancelled" ? 499 : 422, { error: job.message });
    return id;
  })();
  return {
    finished,
    cancel() {
      stopped = true;
      if (id) remove(`/api/jobs/${id}`).catch(() => {});
    },
  };
}

export const result = (id) => get(`/api/jobs/${id}/result`);
export const resultAddress = (id) => `/api/jobs/${id}/result`;
