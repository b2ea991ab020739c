// A take rates what its student practises: which of them it was, and gap by gap how it went.

import { get, post } from "./api.js";
import { h } from "./dom.js";
import { explain, notify } from "./notices.js";
import { ratingButtons } from "./students.js";
import { language, t } from "./words.js";

const day = (text) => new Date(text).toLocaleDateString(language, { dateStyle: "medium" });

// What a take says of an item: of its gap, or of its device, if that is practised in this key.
const heardOf = ({ gap, device, tonic }, { gaps, devices, tonic: played }) => device ? (tonic === null || tonic === played ? devices[device] : undefined) : gaps[gap];

// Fill `element` where somebody practises what is heard in the take; else it stays empty.
export async function practised(element, { ratings }, { tune, take }) {
  const { students } = await get(`/api/tunes/${tune.id}/practice`);
  const those = students.map(({ name, items }) => ({ name, items: items.filter((item) => heardOf(item, ratings)) })).filter(({ items }) => items.length);
  if (!those.length) return;
  const rows = h("ol", { class: "practice" });
  const who = h("select", { onchange: () => list() }, h("option", { value: "" }, t("take.nobody")), those.map(({ name }) => h("option", { value: name }, name)));
  const list = () => {
    const one = those.find(({ name }) => name === who.value);
    rows.replaceChildren(...(one ? one.items.map((item) => row(one.name, item, heardOf(item, ratings), take)) : []));
  };
  element.replaceChildren(h("h3", { id: "take-practice" }, t("take.practice")), h("label", { class: "row" }, t("take.whose"), who), rows);
}

function row(name, item, found, take) {
  const { number, what, last } = item;
  const said = h("p", { class: "quiet", role: "status" });
  const since = last && Date.parse(last.at) / 1000 > take.made_sec;
  if (last) said.textContent = t(since ? "take.rated_since" : "take.rated_last", { date: day(last.at), rating: t(`students.rate_${last.rating}`) });
  const rate = async (rating) => {
    try {
      const now = await post("/api/student/rate", { name, number, rating, tempo: found.tempo });
      item.last = { rating, at: new Date().toISOString() };
      buttons.remove();
      said.textContent = t("students.rated", { what, date: day(now.due), tempo: now.tempo });
      notify(said.textContent);
    } catch (error) {
      explain(error);
    }
  };
  const buttons = h("div", { class: "row" }, h("span", { class: "quiet" }, t("take.proposed", { rating: t(`students.rate_${found.rating}`) })), ratingButtons(what, since ? null : found.rating, rate));
  return h("li", { "data-number": String(number) },
    h("p", { class: "what" }, h("strong", { lang: "en" }, what), " ", h("span", {}, t("take.played_at", { tempo: found.tempo })), " ", h("span", { lang: "en" }, found.why)), buttons, said);
}
