// What the page has to tell, for a while or until it is closed; also to one who listens.

import { h } from "./dom.js";
import { t } from "./words.js";

const LEAST_MS = 5000;
const LETTER_MS = 70; // slow readers take that long
const MOST = 4;

// Say something to the reader. News clear themselves, not while they are pointed at or hold the
// focus (WCAG 2.2.1); errors, and what asks for something, stay until they are closed.
export function notify(message, kind = "", action = null) {
  const area = document.getElementById(kind === "error" ? "errors" : "notices");
  for (const old of [...area.children]) if (old.dataset.message === message) old.remove();
  const close = () => {
    const held = note.contains(document.activeElement);
    note.remove();
    if (held) document.getElementById("main")?.focus({ preventScroll: true });
  };
  const note = h("div", { class: `notice ${kind}`, "data-message": message, onkeydown: (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    close();
  } }, h("span", {}, message));
  if (action) note.append(h("button", { type: "button", onclick: () => { note.remove(); action.run(); } }, action.label));
  note.append(h("button", { type: "button", class: "plain", "aria-label": t("dom.close_message"), onclick: close }, t("dom.close")));
  area.append(note);
  while (area.children.length > MOST) area.firstElementChild.remove();
  if (kind !== "error" && !action) clearLater(note, LEAST_MS + LETTER_MS * message.length);
}

function clearLater(note, leftMs) {
  let timer = 0;
  let since = 0;
  const run = () => {
    clearTimeout(timer);
    since = performance.now();
    timer = setTimeout(() => note.remove(), leftMs);
  };
  const wait = () => {
    clearTimeout(timer);
    leftMs = Math.max(1000, leftMs - (performance.now() - since));
  };
  for (const kind of ["pointerenter", "focusin"]) note.addEventListener(kind, wait);
  for (const kind of ["pointerleave", "focusout"]) note.addEventListener(kind, run);
  run();
}

// Say what went wrong. A page from before the server was started anew has to be loaded again.
export function explain(error) {
  notify(error.message, "error", error.status === 403 ? { label: t("dom.load_again"), run: () => location.reload() } : null);
}
