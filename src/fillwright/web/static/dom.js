// Small helpers for building pages. Text is always set as text, never as markup.

export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (name in element && typeof value !== "string" && !name.startsWith("aria")) element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(2).filter((child) => child !== null && child !== undefined));
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function s(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(name, String(value));
  }
  element.append(...children);
  return element;
}

// An engraved page as an element. The server has already cleaned it.
export function engraved(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml");
  return document.importNode(parsed.documentElement, true);
}

const LEAST_STAFF = 176; // of a grand staff with its words, in pixels
const AROUND = 24; // rows' gaps, the edge of a card, a line of focus

// Cut an engraved page to what is drawn on it, with a margin in its own tenths of a millimetre;
// each of these gets at most so many pixels, times what the place has room for, so that a short tune
// is not drawn larger.
export function crop(svg, margin = 20, pixels = 0.585) {
  const inner = svg.querySelector("svg");
  if (!inner) return;
  svg.classList.add("measured"); // without the signs of the music font, whose boxes are far too high
  const box = inner.getBBox();
  svg.classList.remove("measured");
  const [, , width] = inner.getAttribute("viewBox").split(" ").map(Number);
  svg.dataset.page ??= svg.getAttribute("viewBox");
  const [, , outer, tall] = svg.dataset.page.split(" ").map(Number);
  if (!box.width) return;
  const scale = outer / width;
  const [x, y] = [box.x * scale - margin, box.y * scale - margin];
  const [w, t] = [box.width * scale + 2 * margin, box.height * scale + 2 * margin];
  // The inner drawing keeps its place and size; only the outer frame closes in.
  inner.setAttribute("x", 0);
  inner.setAttribute("y", 0);
  inner.setAttribute("width", outer);
  inner.setAttribute("height", tall);
  svg.setAttribute("viewBox", `${x} ${y} ${w} ${t}`);
  svg.style.setProperty("--wide", Math.round(w));
  svg.style.setProperty("--tall", Math.round(t));
  if (pixels) svg.style.maxWidth = `calc(${Math.round(w * pixels)}px * var(--larger, 1))`;
}

// Staves that stand side by side have nearly one size of notes: at most a little more than that at
// which the widest and the tallest of them have room.
export function toOneScale(row) {
  const drawings = [...row?.querySelectorAll(".card:not(.editing) .score, .idea .score") ?? []];
  const most = (name) => Math.max(...drawings.map((drawing) => Number(drawing.style.getPropertyValue(name)) || 1));
  if (!drawings.length) return;
  row.style.setProperty("--widest", most("--wide"));
  row.style.setProperty("--tallest", most("--tall"));
}

// How high the staves of the ideas may be, so that all of an idea is in sight without a scroll: what
// the screen has beside the phrase above, the words and buttons of an idea, and what plays.
export function measureRoom(row) {
  const staff = row?.querySelector(".card:not(.editing, .nothing) > .staff");
  const card = staff?.parentElement;
  if (!card || row.classList.contains("ladder")) return;
  const box = (element) => element.getBoundingClientRect();
  const above = box(staff).top + scrollY;
  const below = box(card.querySelector(".acts")).bottom - box(staff).bottom + card.querySelector(".folds").offsetHeight;
  const bar = document.getElementById("transport").offsetHeight;
  row.style.setProperty("--room", `${Math.max(LEAST_STAFF, Math.floor(innerHeight - above - below - bar - AROUND))}px`);
}

export const calm = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

// Bring what sounds near the upper edge, below what stays there.
export function toTheTop(element) {
  const head = document.querySelector(".masthead").getBoundingClientRect().bottom;
  const top = element.getBoundingClientRect().top;
  scrollTo({ top: scrollY + top - Math.max(0, head) - 24, behavior: calm() ? "auto" : "smooth" });
}

// "5/2" as people write it: "2½".
export function fraction(text) {
  const [top, bottom = 1] = String(text).split("/").map(Number);
  const whole = Math.floor(top / bottom);
  const rest = top - whole * bottom;
  if (!rest) return String(whole);
  const known = { "1/2": "½", "1/3": "⅓", "2/3": "⅔", "1/4": "¼", "3/4": "¾" }[`${rest}/${bottom}`];
  const part = known ?? ` ${rest}/${bottom}`;
  return whole ? `${whole}${part}` : part.trim();
}

export function number(text) {
  const [top, bottom = 1] = String(text).split("/").map(Number);
  return top / bottom;
}

// A place on a grid of beats as an exact fraction.
export function exact(value) {
  for (const bottom of [1, 2, 3, 4, 6, 8, 12, 16]) {
    const top = value * bottom;
    if (Math.abs(top - Math.round(top)) < 1e-6) return bottom === 1 ? String(Math.round(top)) : `${Math.round(top)}/${bottom}`;
  }
  return String(value);
}

// "Bb4" with real accidentals: "B♭4". Chord symbols likewise.
export function pretty(text) {
  return String(text ?? "").replace(/^([A-G])(bb|##|b|#)/, (_, step, sign) => step + sign.replaceAll("b", "♭").replaceAll("#", "♯"))
    .replace(/\/([A-G])(b|#)/, (_, step, sign) => `/${step}${sign === "b" ? "♭" : "♯"}`)
    .replace(/b(?=\d)/g, "♭").replace(/#(?=\d)/g, "♯");
}
