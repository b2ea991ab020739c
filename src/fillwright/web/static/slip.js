// One tune on the shelf: what it is, how far it is, and what can be done with it.

import { post, put, remove } from "./api.js";
import { h } from "./dom.js";
import { keyName } from "./names.js";
import { explain, notify } from "./notices.js";
import { moment, t } from "./words.js";

export class Slip {
  // changed(id, open): tell the shelf; folderShown: whether its folder is said
  constructor(tune, { changed, folderShown }) {
    this.tune = tune;
    this.changed = changed;
    const facts = [tune.key && keyName(tune.key), tune.meter, tune.bars && t("shelf.bars", { count: tune.bars }), tune.level && t(`tune.level_${tune.level}`)].filter(Boolean);
    this.body = h("div", { class: "slip-more", id: `more-${tune.id}`, hidden: true });
    this.handle = h("button", { type: "button", class: "more-handle", "aria-expanded": "false", "aria-controls": this.body.id, "aria-label": t("shelf.more_named", { title: tune.title }), title: t("shelf.more"), onclick: () => this.toggle() }, "⋯");
    this.element = h("li", { class: "slip", "data-tune": tune.id },
      h("a", { href: `/tunes/${tune.id}`, class: "tune-link" },
        h("span", { class: "tune-title" }, tune.title, tune.alike > 1 ? h("span", { class: "tune-number" }, ` ${t("shelf.number", { number: tune.number, count: tune.alike })}`) : null),
        h("span", { class: "tune-facts" }, facts.join(" · "))),
      far(tune),
      h("span", { class: "tune-when" }, folderShown && tune.folder ? h("span", { class: "tune-folder" }, tune.folder) : null, h("span", { class: "moment" }, moment(tune.changed_sec))),
      this.handle, this.body);
  }

  get isOpen() {
    return !this.body.hidden;
  }

  focus() {
    (this.isOpen ? this.title : this.handle).focus();
    if (this.isOpen) this.title.select();
  }

  toggle(open = !this.isOpen) {
    if (open && !this.body.firstChild) this.#build();
    this.body.hidden = !open;
    this.handle.setAttribute("aria-expanded", String(open));
  }

  #build() {
    const { tune } = this;
    const line = (name, field, words, send) => h("form", { class: "row", onsubmit: (event) => { event.preventDefault(); this.#do(send); } },
      h("label", {}, name, field), h("button", { type: "submit" }, words));
    this.title = h("input", { type: "text", value: tune.title, maxlength: "200", required: true, autocomplete: "off" });
    const folder = h("input", { type: "text", value: tune.folder, maxlength: "80", list: "folder-names", autocomplete: "off", placeholder: t("shelf.no_folder") });
    this.body.replaceChildren(
      line(t("shelf.title_label"), this.title, t("shelf.rename"), async () => {
        const { title } = await put(this.#at("name"), { title: this.title.value });
        notify(t("shelf.renamed", { title }));
      }),
      line(t("shelf.folder"), folder, t("shelf.put_into"), async () => {
        const now = await put(this.#at("folder"), { folder: folder.value });
        notify(t(now.folder ? "shelf.is_in" : "shelf.is_out", { title: tune.title, folder: now.folder }));
      }),
      h("div", { class: "row" },
        h("button", { type: "button", onclick: () => this.#copy() }, t("shelf.copy")),
        h("span", { class: "quiet" }, t("shelf.copy_what")),
        h("button", { type: "button", class: "plain take-off", "aria-label": t("shelf.take_off_named", { title: tune.title }), onclick: (event) => this.#ask(event.target) }, t("shelf.take_off"))));
  }

  #at(what) {
    return `/api/tunes/${this.tune.id}/${what}`;
  }

  async #do(send) {
    try {
      await send();
      await this.changed(this.tune.id);
    } catch (error) {
      explain(error);
    }
  }

  // Another student gets the same decisions; the copy wants a name of its own.
  async #copy() {
    try {
      const { id } = await post(this.#at("copy"), { title: t("shelf.copy_title", { title: this.tune.title }).slice(0, 200) });
      await this.changed(id, true);
    } catch (error) {
      explain(error);
    }
  }

  // Taking a tune off the shelf cannot be undone, so it is asked for twice.
  #ask(button) {
    const { tune } = this;
    const sure = h("button", { type: "button", class: "danger", onclick: async () => {
      try {
        await remove(`/api/tunes/${tune.id}`);
        notify(t("shelf.taken_off", { title: tune.title }));
      } catch (error) {
        explain(error);
      }
      await this.changed();
    } }, t("shelf.lose", { title: tune.title }));
    const no = h("button", { type: "button", onclick: () => { both.replaceWith(button); button.focus(); } }, t("shelf.keep"));
    const both = h("span", { class: "row" }, no, sure);
    button.replaceWith(both);
    no.focus();
  }
}

// How many of its gaps are decided.
function far({ decided, gaps }) {
  if (gaps === undefined) return h("span", { class: "tune-far" });
  const done = Math.min(decided, gaps);
  const words = !gaps ? t("shelf.far_no_gap") : done === gaps ? t("shelf.far_all", { count: gaps }) : done ? t("shelf.far", { count: gaps, done }) : t("shelf.far_none", { count: gaps });
  return h("span", { class: `tune-far ${gaps && done === gaps ? "done" : ""}` },
    gaps ? h("meter", { min: "0", max: String(gaps), value: String(done), "aria-hidden": "true" }) : null, h("span", {}, words));
}
