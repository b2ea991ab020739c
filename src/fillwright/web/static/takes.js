// Takes of the tune: brought as a file, listed, heard, deleted. What is heard of one: report.js.

import { get, post, remove, result, workAt } from "./api.js";
import { h } from "./dom.js";
import { told, watched } from "./longjob.js";
import { Microphone } from "./microphone.js";
import { explain, notify } from "./notices.js";
import { Recorder } from "./record.js";
import { TakeReport } from "./report.js";
import { moment, t } from "./words.js";

const MOST_BYTES = 8 * 1024 * 1024;
const MOST_RECORDED_BYTES = 200 * 1024 * 1024;
const RECORDED = /\.(wav|flac|og[ga]|opus|mp3|aiff?|m4a|aac|mp4|webm|caf|wma|3gp)$/i; // as the server knows them

export class Takes {
  // handlers: change(change) -> promise, go(gap number), went(take, anew)
  constructor(panel, transport, handlers) {
    this.panel = panel;
    this.transport = transport;
    this.handlers = handlers;
    this.open = null; // the id of the take that is shown
    this.heardFor = null;
    this.#build();
  }

  #build() {
    this.input = h("input", { id: "take-file", class: "unseen", type: "file", accept: ".mid,.midi,.smf,audio/*,.m4a,.caf", "aria-describedby": "take-kinds", onchange: () => this.#file(this.input.files[0]) });
    this.says = h("div", { id: "take-says", class: "told", role: "alert" });
    this.drop = h("div", { class: "drop" }, this.input,
      h("label", { for: "take-file", class: "button" }, t("take.choose")),
      h("p", { class: "drop-words" }, t("take.drop")),
      h("p", { id: "take-kinds", class: "quiet" }, t("take.kinds")));
    this.ear = h("p", { class: "quiet" });
    for (const kind of ["dragenter", "dragover"]) {
      this.panel.addEventListener(kind, (event) => {
        event.preventDefault();
        this.drop.classList.add("over");
      });
    }
    this.panel.addEventListener("dragleave", (event) => {
      if (!this.panel.contains(event.relatedTarget)) this.drop.classList.remove("over");
    });
    this.panel.addEventListener("drop", (event) => {
      event.preventDefault();
      this.drop.classList.remove("over");
      this.#file(event.dataTransfer.files[0]);
    });
    this.recorder = new Recorder((blob, name) => this.bring(blob, name));
    this.microphone = new Microphone((blob, name) => this.bring(blob, name));
    this.recorder.element.append(this.microphone.element);
    this.rows = h("ol", { class: "take-list" });
    this.none = h("p", { class: "quiet" }, t("take.none"));
    this.list = h("section", { class: "take-kept", "aria-labelledby": "takes-head" }, h("h2", { id: "takes-head" }, t("take.list")), this.none, this.rows, h("p", { class: "quiet" }, t("take.stays")));
    this.status = h("div", { class: "progress", role: "status" });
    this.report = h("article", { class: "report", "aria-label": t("take.report"), hidden: true });
    this.panel.replaceChildren(
      h("p", { class: "lead" }, t("take.lead")),
      h("div", { class: "take-desk" }, h("section", { class: "take-bring", "aria-labelledby": "bring-take" }, h("h2", { id: "bring-take" }, t("take.bring")), this.drop, this.ear, this.says), this.recorder.element, this.list),
      this.status, this.report);
  }

  // A file may be brought before the tune is there: it waits for it.
  #arrived = null;
  #tuned = new Promise((resolve) => { this.#arrived = resolve; });

  async show(tune, { take = null } = {}) {
    const other = tune.id !== this.tune?.id || tune.sheet !== this.tune?.sheet;
    this.tune = tune;
    this.#arrived();
    this.recorder.show(tune);
    this.#offer();
    if (!this.known) {
      try {
        await this.#refresh();
      } catch (error) {
        explain(error);
      }
    }
    const wanted = take ?? this.open;
    if (wanted && (other || wanted !== this.heardFor) && this.known?.some(({ id }) => id === wanted)) return this.#hear(wanted);
    return null;
  }

  #address(take = "") {
    return `/api/tunes/${this.tune.id}/takes${take && `/${take}`}`;
  }

  async #refresh() {
    const { takes, listens, needs } = await get(this.#address());
    this.known = takes;
    this.listens = listens;
    this.ear.textContent = t(listens ? "take.ear" : "take.no_ear", { needs });
    this.microphone.allow(listens);
    this.#list();
  }

  #list() {
    this.none.hidden = this.known.length > 0;
    this.rows.replaceChildren(...this.known.map((take) => h("li", {},
      h("button", { type: "button", class: "take-name", "aria-current": take.id === this.open ? "true" : null, onclick: () => this.#choose(take.id) }, h("strong", {}, take.name), " ", h("time", { datetime: new Date(take.made_sec * 1000).toISOString() }, moment(take.made_sec))),
      h("a", { class: "small", href: this.#address(take.id), download: "", "aria-label": t("take.save_named", { name: take.name }) }, t("take.save")),
      h("button", { type: "button", class: "small plain", "aria-label": t("take.delete_named", { name: take.name }), onclick: (event) => this.#ask(event.currentTarget, take) }, t("take.delete")))));
  }

  // What is deleted is gone, so it is asked for twice.
  #ask(button, take) {
    const sure = h("button", { type: "button", class: "small danger", onclick: () => this.#delete(take) }, t("take.delete_sure", { name: take.name }));
    const no = h("button", { type: "button", class: "small", onclick: () => { both.replaceWith(button); button.focus(); } }, t("take.keep_it"));
    const both = h("span", { class: "row" }, no, sure);
    button.replaceWith(both);
    no.focus();
  }

  async #delete(take) {
    try {
      await remove(this.#address(take.id));
      notify(t("take.deleted", { name: take.name }));
      if (this.open === take.id) this.#close();
      await this.#refresh();
    } catch (error) {
      explain(error);
    }
    this.input.focus();
  }

  #close() {
    this.open = this.heardFor = null;
    this.report.hidden = true;
    this.report.replaceChildren();
    this.shown = null;
    this.#offer();
    this.handlers.went(null, false);
  }

  // --- bringing ---------------------------------------------------------------------------------

  #complain(message) {
    this.says.replaceChildren(...(message ? [h("p", {}, message)] : []));
  }

  async #file(file) {
    this.input.value = "";
    if (!file) return;
    const recorded = RECORDED.test(file.name);
    if (recorded && !this.listens) this.#complain(t("take.no_ear"));
    else if (file.size > (recorded ? MOST_RECORDED_BYTES : MOST_BYTES)) this.#complain(t("take.too_large", { name: file.name }));
    else await this.bring(file, file.name);
  }

  // Keep a take, and hear it.
  async bring(blob, name) {
    this.#complain(null);
    await this.#tuned;
    const form = new FormData();
    form.append("file", blob, name);
    try {
      let take = await post(this.#address(), form);
      if (take.state) take = await this.#listened(take);
      await this.#refresh();
      await this.#choose(take.id);
    } catch (error) {
      if (error.status === 422) this.#complain(error.message);
      else if (error.status !== 499) explain(error);
    }
  }

  // The take of a recording, when it has been listened to.
  async #listened(job) {
    this.running?.cancel();
    this.running = null;
    this.report.hidden = true;
    this.panel.setAttribute("aria-busy", "true");
    try {
      return await result(await watched(this.status, () => job));
    } finally {
      this.panel.setAttribute("aria-busy", "false");
    }
  }

  // --- hearing ----------------------------------------------------------------------------------

  async #choose(id) {
    this.handlers.went(id, true);
    await this.#hear(id, true);
  }

  async #hear(id, focus = false) {
    this.open = this.heardFor = id;
    this.#complain(null);
    this.#list();
    this.report.hidden = true;
    this.shown = null;
    this.running?.cancel();
    const { tune } = this;
    const running = workAt(`${this.#address(id)}/jobs`, "report", (job) => this.#progress(job, running));
    this.running = running;
    this.panel.setAttribute("aria-busy", "true");
    try {
      const found = await result(await running.finished);
      if (this.running !== running) return;
      if (found.not_heard) return this.#otherwise(id, found);
      this.shown = new TakeReport(this.report, found, { tune, take: this.known.find((take) => take.id === id), transport: this.transport, ...this.handlers });
      this.report.hidden = false;
      this.#offer();
      if (focus) this.report.querySelector("h2").focus();
    } catch (error) {
      if (this.running !== running) return;
      if (error.status !== 422) this.heardFor = null; // what is wrong with the take stays wrong
      if (error.status !== 499) this.#complain(error.message);
    } finally {
      if (this.running === running) {
        this.status.replaceChildren();
        this.panel.setAttribute("aria-busy", "false");
      }
    }
  }

  // The tune is not in the take: which of the shelf is, and a way to take it there.
  #otherwise(id, { not_heard: why, fits }) {
    this.#complain(`${why}.`);
    this.says.append(h("p", {}, fits ? t("take.fits", { title: fits.title }) : t("take.fits_none")));
    if (fits) this.says.append(h("button", { type: "button", onclick: () => this.#move(id, fits.id) }, t("take.move_there")));
  }

  async #move(id, tune) {
    try {
      const kept = await fetch(this.#address(id));
      if (!kept.ok) throw new Error(t("api.no_answer"));
      const form = new FormData();
      const { name } = this.known.find((take) => take.id === id);
      form.append("file", await kept.blob(), name.replace(RECORDED, ".mid")); // its keys are kept
      const there = await post(`/api/tunes/${tune}/takes`, form);
      await remove(this.#address(id));
      location.assign(`/tunes/${tune}?view=take&take=${there.id}`);
    } catch (error) {
      explain(error);
    }
  }

  #progress(job, running) {
    if (this.running !== running) return;
    told(this.status, job, () => running.cancel(), t("take.progress"));
  }

  #offer() {
    if (document.body.dataset.view !== "take") return;
    this.transport.offer(this.shown ? { name: t("take.play"), start: () => this.shown.play(), again: () => this.shown.play(), counted: false } : null);
  }
}
