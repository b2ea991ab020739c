// Which piano plays: for all tunes, kept by the server, nothing that undo takes back.

import { get, put } from "./api.js";
import { h } from "./dom.js";
import { explain, notify } from "./notices.js";
import { player } from "./player.js";
import { t } from "./words.js";

const OWN = ""; // the one that comes along

const label = (name) => (name === OWN ? t("pianos.own") : name.replace(/\.sf2$/i, ""));

export async function offerPianos(select) {
  const show = ({ pianos, played, folder }) => {
    select.replaceChildren(...pianos.map((name) => h("option", { value: name }, label(name))));
    select.value = played;
    document.getElementById("piano-folder").textContent = folder;
  };
  select.addEventListener("change", async () => {
    select.disabled = true;
    try {
      show(await put("/api/piano", { piano: select.value }));
      await player.change();
      notify(t("pianos.now", { piano: label(select.value) }));
    } catch (error) {
      explain(error);
      show(await get("/api/piano"));
    } finally {
      select.disabled = false;
    }
  });
  document.getElementById("drawer").addEventListener("toggle", async () => {
    try {
      show(await get("/api/piano")); // files may have come into the folder
    } catch (error) {
      explain(error);
    }
  });
  show(await get("/api/piano"));
}
