// The three families by shape: stacked blocks, stepping diamonds, a rising line. The same shape
// stands on tabs, ideas and, in its own measure, on the sheet.

import { s } from "./dom.js";

const PATHS = {
  comp: "M1 3h5v3H1z M1 7h5v3H1z M1 11h5v3H1z M10 3h5v3h-5z M10 7h5v3h-5z M10 11h5v3h-5z",
  reharm: "M4 1l3 3-3 3-3-3z M8 5l3 3-3 3-3-3z M12 9l3 3-3 3-3-3z",
  line: "M1 12.5a2 2 0 1 1 4 0 2 2 0 1 1-4 0z M6 8a2 2 0 1 1 4 0 2 2 0 1 1-4 0z M11 3.5a2 2 0 1 1 4 0 2 2 0 1 1-4 0z M3 12.5L8 8l5-4.5",
  open: "M2 8a6 6 0 1 1 12 0 6 6 0 1 1-12 0z M4 8a4 4 0 1 0 8 0 4 4 0 1 0-8 0z",
};

export function shape(family) {
  return s("svg", { viewBox: "0 0 16 16", class: `shape ${family}`, "aria-hidden": "true" }, s("path", { d: PATHS[family] }));
}

// The same on an engraved page, `size` of its own units wide.
export function drawnShape(family, x, y, size) {
  return s("path", { d: PATHS[family], class: `shape ${family}`, transform: `translate(${x} ${y}) scale(${size / 16})` });
}

export const familyOf = (id) => (id === "open" ? "open" : ["comp", "reharm", "line"].find((name) => id.includes(`-${name}-`)) ?? "");
