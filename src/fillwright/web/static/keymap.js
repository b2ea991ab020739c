// What each key does.

import { t } from "./words.js";

const GAP = ["gap"];

export function keyActions({ bench, transport, view, undecided, step, back, help, record }) {
  const action = (keys, words, run, views) => ({ keys, words: words && t(`keys.${words}`), run, views });
  const now = () => bench.held;
  return [
    ...[1, 2, 3].map((number) => action([String(number)], null, () => bench.hearAt(number - 1), GAP)),
    action(["1–3"], "hear", () => {}, GAP),
    action(["c", "Enter"], "choose", () => bench.choose(), GAP),
    action(["p"], "phrase", () => bench.hearPhrase(), GAP),
    action(["a"], "swap", () => bench.swap(), GAP),
    action(["m"], "more", () => bench.more(1), GAP),
    action(["M"], "fewer", () => bench.more(-1), GAP),
    action(["t"], "tab", () => bench.nextTab(1), GAP),
    action(["T"], null, () => bench.nextTab(-1), GAP),
    action(["o"], "open", () => bench.leaveOpen(), GAP),
    action(["l"], "keep", () => bench.keep(), GAP),
    action(["r"], "another", () => bench.another(), GAP),
    action(["s"], "same", () => bench.everywhere("same"), GAP),
    action(["v"], "vary", () => bench.everywhere("varied"), GAP),
    action(["h"], "hands", () => now()?.toggle("hands"), GAP),
    action(["w"], "why", () => now()?.toggle("why"), GAP),
    action(["d"], "ladder", () => bench.openLadder(), GAP),
    action(["e"], "edit", () => now()?.toggle("notes"), GAP),
    action(["n", "ArrowRight"], "next", () => step(1), GAP),
    action(["b", "ArrowLeft"], "before", () => step(-1), GAP),
    action(["r"], "record", () => record(), ["take"]),
    action(["u"], "undecided", () => undecided()),
    action([" "], "play", () => transport.toggle()),
    action([","], "slower", () => transport.step(-1)),
    action(["."], "faster", () => transport.step(1)),
    action(["0"], "loop", () => transport.toggleLoop()),
    action(["g"], "gaps", () => view("gap"), ["sheet", "chorus", "hand", "take"]),
    action(["x"], "chorus", () => view("chorus"), ["sheet", "gap", "hand", "take"]),
    action(["y"], "take", () => view("take"), ["sheet", "gap", "chorus", "hand"]),
    action(["Escape"], "back", () => back()),
    action(["?"], "help", () => help()),
  ];
}
