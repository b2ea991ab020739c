"""How well a take is heard: seeded takes of which everything is known.

    python -m bench.bench_take [SHEET ...]

Over the demo tunes, or over the sheets given, at three levels: melody found (F measure), landings
against the truth (median and 95 % in milliseconds), families of the gaps, jumps of the form, and
seconds a take. Where parangonar is installed (an aligner of performances with scores, Apache-2.0,
made for classical music), its DualDTW is given the same takes, and the whole written chorus, which
the ear here does not see.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from tests.demo_arrangements import arranged
from tests.take.perturb import Played, Wish, played

from fillwright import Arrangement, InputError, check_take
from fillwright.take import Report

WISHES = {
    "clean": Wish(seed=1),
    "drift 15 %": Wish(seed=2, drift=0.15, tempo=0.85),
    "rubato": Wish(seed=3, rubato=True, drift=0.1, jitter_sec=0.015),
    "5 % missed, 5 % wrong": Wish(seed=4, missed=0.05, wrong=0.05, drift=0.1),
    "10 % missed, 10 % wrong": Wish(seed=5, missed=0.1, wrong=0.1, drift=0.1),
    "octave up": Wish(seed=6, octave=1, drift=0.05),
    "doubled, thickened, ornaments": Wish(seed=7, doubled=True, thickened=True, ornaments=0.1),
    "landings late": Wish(seed=8, late_sec=0.2),
    "hands uneven": Wish(seed=9, uneven_sec=0.04, jitter_sec=0.015),
    "skipped": Wish(seed=10, missed=0.05, wrong=0.05),
    "begun again": Wish(seed=11, missed=0.05, wrong=0.05, pause_sec=1.5),
    "repeated": Wish(seed=12, missed=0.05, wrong=0.05),
}
LEVELS = ("beginner", "intermediate", "advanced")


@dataclass
class Sums:
    found: list[float] = field(default_factory=list)
    landings: list[float] = field(default_factory=list)
    families: list[bool] = field(default_factory=list)
    forms: list[bool] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)
    their_seconds: list[float] = field(default_factory=list)


def wish_of(name: str, wish: Wish, arrangement: Arrangement) -> Wish:
    """With the sections of a tune of this length, at bar lines."""
    bars = [float(bar.onset_quarter) for bar in arrangement.chorus.bars]
    end = float(arrangement.chorus.length_quarter)
    cut = [bars[len(bars) * part // 4] for part in range(4)]
    sections = {"skipped": ((0.0, cut[1]), (cut[3], end)),
                "begun again": ((0.0, cut[1]), (0.0, end)),
                "repeated": ((0.0, cut[3]), (cut[1], end))}
    return replace(wish, sections=sections.get(name, ()))


def f_measure(found: set[tuple[object, ...]], true: set[tuple[object, ...]]) -> float:
    return 2 * len(found & true) / max(len(found) + len(true), 1)


def add(sums: Sums, known: Played, report: Report, wish: Wish) -> None:
    sums.found.append(f_measure(
        {(n.run, n.note, n.event) for n in report.melody if n.status == "played"},
        {(run, note, event) for (run, note), event in known.melody.items()}))
    fills = {fill.gap: fill.family for fill in known.arrangement.fills}
    for gap in report.gaps:
        if gap.back_late_sec is not None and (gap.run, gap.gap.number) in known.late_sec:
            sums.landings.append(
                abs(gap.back_late_sec - known.late_sec[gap.run, gap.gap.number]))
        if gap.gap.number in fills and gap.answer != "open":
            sums.families.append(gap.answer == fills[gap.gap.number])
    if wish.sections:
        sums.forms.append(len(report.form) == len(wish.sections) and all(
            abs(float(run.from_quarter) - start) <= 4 for run, (start, _) in
            zip(report.form, wish.sections, strict=True)))


def theirs(known: Played) -> float | None:
    """The F measure of parangonar's DualDTW on the melody; None where it is not installed."""
    sys.modules.setdefault("fluidsynth", None)  # type: ignore[arg-type]
    try:
        from parangonar import DualDTWNoteMatcher
    except ImportError:
        return None
    chorus = known.arrangement.chorus
    score = np.array(
        [(float(n.onset_quarter), float(n.duration_quarter), float(n.onset_quarter),
          float(n.duration_quarter), n.midi, 1, f"s{i}")
         for i, n in enumerate(known.arrangement.notes)],
        dtype=[("onset_beat", "f4"), ("duration_beat", "f4"), ("onset_quarter", "f4"),
               ("duration_quarter", "f4"), ("pitch", "i4"), ("voice", "i4"), ("id", "U8")])
    take = np.array(
        [(s.onset_sec, s.release_sec - s.onset_sec, s.midi, s.velocity, f"p{s.event}")
         for s in known.take.strokes],
        dtype=[("onset_sec", "f4"), ("duration_sec", "f4"), ("pitch", "i4"), ("velocity", "i4"),
               ("id", "U8")])
    melody = [i for i, n in enumerate(known.arrangement.notes) if n.role == "melody"]
    place = {f"s{i}": number for number, i in enumerate(melody)}
    assert len(place) == len(chorus.melody)
    found = DualDTWNoteMatcher()(score, take, process_ornaments=False)
    return f_measure(
        {(place[m["score_id"]], int(m["performance_id"][1:])) for m in found
         if m["label"] == "match" and m["score_id"] in place},
        {(note, event) for (_, note), event in known.melody.items()})


def arrangements(sheets: list[str]) -> Iterator[Arrangement]:
    for name in sheets or ["lamp", "snow", "ferry", "umbrella"]:
        for level in LEVELS:
            try:
                yield arranged(name, level)
            except InputError as error:
                print(error, file=sys.stderr)


def main(sheets: list[str]) -> None:
    sums = {name: Sums() for name in WISHES}
    for arrangement in arrangements(sheets):
        for name, wish in WISHES.items():
            wish = wish_of(name, wish, arrangement)
            known = played(arrangement, wish)
            start = time.perf_counter()
            try:
                report = check_take(known.take, arrangement.chorus)
            except InputError as error:
                print(error, file=sys.stderr)
                sums[name].found.append(0.0)
                sums[name].forms += [False] * bool(wish.sections)
                continue
            sums[name].seconds.append(time.perf_counter() - start)
            add(sums[name], known, report, wish)
            start = time.perf_counter()
            other = None if wish.sections else theirs(known)
            if other is not None:
                sums[name].theirs.append(other)
                sums[name].their_seconds.append(time.perf_counter() - start)
    print(f"{'take':32}{'F':>7}{'least':>7}{'median':>8}{'95 %':>6} ms {'family':>7}{'form':>7}"
          f"{'s':>6}{'DualDTW F':>11}{'s':>6}")
    for name, one in sums.items():
        late = np.array(one.landings) * 1000
        forms = f"{sum(one.forms)}/{len(one.forms)}" if one.forms else ""
        print(f"{name:32}{np.mean(one.found):7.4f}{min(one.found):7.3f}"
              f"{np.median(late):8.1f}{np.percentile(late, 95):6.0f}    "
              f"{np.mean(one.families):7.3f}{forms:>7}{np.median(one.seconds):6.2f}"
              + (f"{np.mean(one.theirs):11.4f}{np.median(one.their_seconds):6.2f}"
                 if one.theirs else ""))


if __name__ == "__main__":
    main(sys.argv[1:])
