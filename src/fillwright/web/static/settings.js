// What a teacher sets for a tune: in a drawer of its own, said in a few words on its handle.

import { h } from "./dom.js";
import { ideaName } from "./ideaname.js";
import { keyName } from "./names.js";
import { explain } from "./notices.js";
import { parts, t } from "./words.js";

const COUNTED = ["choruses", "introduction", "ending"];
const FAMILIES = ["comp", "reharm", "line"];
const MAJOR = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
const MINOR = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"];

export class Settings {
  // change(change) -> promise
  constructor(drawer, form, change) {
    this.drawer = drawer;
    this.form = form;
    this.change = change;
    form.addEventListener("change", (event) => this.#changed(event.target));
    form.addEventListener("submit", (event) => event.preventDefault());
    document.addEventListener("click", (event) => { if (!drawer.contains(event.target)) drawer.open = false; });
    drawer.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !drawer.open) return;
      drawer.open = false;
      drawer.querySelector("summary").focus();
      event.stopPropagation();
    });
  }

  async #changed({ name, value }) {
    if (!name) return; // the piano, which is no setting of the tune
    try {
      await this.change(({ settings }) => ({ settings: setting(name, value, settings) }));
    } catch (error) {
      explain(error);
      this.show(this.tune);
      if (name === "tempo") this.form.elements.tempo.value = String(this.tune.tune.tempo);
    }
  }

  show(tune) {
    this.tune = tune;
    const { settings: set, tune: facts } = tune;
    const { elements } = this.form;
    const names = facts.key.endsWith("minor") ? MINOR : MAJOR;
    const mode = facts.key.split(" ")[1];
    const { key } = elements;
    key.replaceChildren(h("option", { value: "" }, t("tune.key_written", { key: keyName(tune.sheet_key) })), ...names.map((name) => h("option", { value: `${name} ${mode}` }, keyName(`${name} ${mode}`))));
    const values = { level: set.level, hand: set.hand, octave: set.octave, tempo: String(facts.tempo), feel: facts.feel, key: set.key ?? "" };
    for (const [name, value] of Object.entries(values)) {
      if (document.activeElement !== elements[name] || name !== "tempo") elements[name].value = value;
    }
    if (key.value !== values.key) {
      key.append(h("option", { value: values.key }, keyName(values.key)));
      key.value = values.key;
    }
    document.getElementById("settings-say").replaceChildren(...parts("tune.settings_say", {
      level: t(`tune.level_${set.level}`), key: keyName(facts.key), tempo: Math.round(facts.tempo),
      hand: h("span", { class: "say-hand" }, t("tune.settings_hand", { hand: t(`tune.hand_${set.hand}`) })),
    }));
    this.#showForm(set);
    this.#showWithout(set);
  }

  // How often the chorus goes round, what is added to it, and how much of each family it has.
  #showForm(set) {
    const { elements } = this.form;
    for (const name of COUNTED) elements[name].value = String(set[name]);
    const shares = FAMILIES.map((family) => set.mix[family]);
    const total = shares.reduce((sum, share) => sum + share, 0);
    FAMILIES.forEach((family) => {
      const select = elements[`mix-${family}`];
      const value = String(set.mix[family]);
      if (![...select.options].some((option) => option.value === value)) select.append(h("option", { value }, t("tune.share_parts", { count: set.mix[family] })));
      select.value = value;
    });
    const added = ["introduction", "ending"].filter((name) => set[name]).map((name) => t(`tune.says_${name}`, { count: set[name] }));
    const even = shares.every((share) => share === shares[0]);
    const mix = even ? t("tune.says_even") : FAMILIES.map((family, index) => t("tune.says_share", { family: t(`family.${family}`), share: Math.round((100 * shares[index]) / total) })).join(", ");
    document.getElementById("form-says").textContent = [t(`tune.says_choruses_${set.choruses}`), ...added, mix].join(", ");
  }

  #showWithout(set) {
    const without = document.getElementById("without");
    without.hidden = !set.without.length;
    const on = (device) => this.change((now) => ({ settings: { without: now.settings.without.filter((name) => name !== device) } })).catch(explain);
    without.replaceChildren(t("tune.without"), " ", ...set.without.map((device) => h("button", { type: "button", class: "chip", "aria-label": t("tune.on_again", { device: ideaName(device) }), onclick: () => on(device) }, `${ideaName(device)} ×`)));
  }
}

// A control's name and value as a setting.
function setting(name, value, now) {
  if (name.startsWith("mix-")) return { mix: { ...now.mix, [name.slice(4)]: Number(value) } };
  return { [name]: COUNTED.includes(name) ? Number(value) : value || null };
}
