// The room of lessons: packs to hand out, students and what they practise, the drill.

import { Drill } from "./drill.js";
import { explain } from "./notices.js";
import { Packs } from "./packs.js";
import { player } from "./player.js";
import { Students } from "./students.js";

const part = (name) => document.getElementById(name);
const VIEWS = ["packs", "students", "drill"];
const tabs = [...document.querySelectorAll(".views [role=tab]")];

// Where one is, as the address says it: {view, pack, student, tune}.
const here = () => {
  const said = new URLSearchParams(location.search);
  const view = said.get("view");
  return { view: VIEWS.includes(view) ? view : "packs", pack: said.get("pack"), student: said.get("student"), tune: said.get("tune") };
};

function went(where, anew) {
  const said = new URLSearchParams();
  if (where.view !== "packs") said.set("view", where.view);
  for (const name of ["pack", "student", "tune"]) if (where[name]) said.set(name, where[name]);
  const text = said.size ? `?${said}` : location.pathname;
  if ((said.size ? `?${said}` : "") !== location.search) history[anew ? "pushState" : "replaceState"](null, "", text);
}

const views = {
  packs: new Packs(part("view-packs"), { went: (pack) => go({ view: "packs", pack }) }),
  students: new Students(part("view-students"), { went: (student) => go({ view: "students", student }), drill: (student) => go({ view: "drill", student }) }),
  drill: new Drill(part("view-drill"), { went: (where, anew = false) => went({ view: "drill", ...where }, anew) }),
};

function go(where, anew = true) {
  went(where, anew);
  return apply(where);
}

async function apply(where) {
  for (const tab of tabs) {
    const own = tab.id === `tab-${where.view}`;
    tab.setAttribute("aria-selected", String(own));
    tab.tabIndex = own ? 0 : -1;
    part(tab.getAttribute("aria-controls")).hidden = !own;
  }
  document.body.dataset.view = where.view;
  player.stop();
  try {
    await views[where.view].show(where);
  } catch (error) {
    explain(error);
  }
}

tabs.forEach((tab, index) => {
  tab.addEventListener("click", () => go({ view: tab.id.slice(4) }));
  tab.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = tabs[(index + step + tabs.length) % tabs.length];
    next.focus();
    go({ view: next.id.slice(4) });
  });
});
addEventListener("popstate", () => apply(here()));
apply(here());
