"""How well a take is heard: seeded takes of which everything is known.

    python -m bench.bench_take [SHEET ...] [--level LEVEL ...] [--take NAME ...]
    python -m bench.bench_take --aligners [--level LEVEL ...] [SHEET ...]
    python -m bench.bench_take --jumps 40 [--level LEVEL ...] [SHEET ...]
    python -m bench.bench_take --growth [--level LEVEL ...] [SHEET ...]

Over the demo tunes, or over the sheets given, at three levels: melody found (F measure), landings
against the truth (median and 95 % in milliseconds), families of the gaps, jumps of the form, and
seconds a take; with `--take`, of those alone. With `--aligners`, the melody alone: the ear here
beside the aligners of parangonar (Apache-2.0, performances with scores, made for classical music),
which are given the same takes and the whole written chorus, that the ear here does not see; takes
with jumps are left out, as its aligners know of none. With `--jumps`, the form alone: so many seeds
a tune, a jump in each.
With `--growth`, choruses played on end: strokes against seconds.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from tests.demo_arrangements import arranged
from tests.take.perturb import Played, Wish, jump_is_found, jumping, played

from fillwright import Arrangement, InputError, check_take
from fillwright.take import Report
from fillwright.take.form import form_of
from fillwright.take.listen import listen

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


def wish_of(name: str, wish: Wish, arrangement: Arrangement) -> Wish:
    """With the sections of a tune of this length, at bar lines."""
    bars = [float(bar.onset_quarter) for bar in arrangement.chorus.bars]
    end = float(arrangement.chorus.length_quarter)
    cut = [bars[len(bars) * part // 4] for part in range(4)]
    sections = {"skipped": ((0.0, cut[1]), (cut[3], end)),
                "begun again": ((0.0, cut[1]), (0.0, end)),
                "repeated": ((0.0, cut[3]), (cut[1], end))}
    return replace(wish, sections=sections.get(name, ()))


def f_measure(found: set[tuple[int | None, ...]], true: set[tuple[int | None, ...]]) -> float:
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
        sums.forms.append(jump_is_found(known, report.form, wish))


def ours(known: Played) -> set[tuple[int, int]]:
    """(note, event) of the melody, by the ear here."""
    return {(match.note, match.stroke)
            for heard in listen(known.take, known.arrangement.chorus) for match in heard.matches
            if match.status == "played" and match.stroke is not None}


def aligner(name: str) -> Callable[[Played], set[tuple[int, int]]]:
    """The same, by an aligner of parangonar."""
    sys.modules.setdefault("fluidsynth", None)  # type: ignore[arg-type]
    import parangonar

    matcher = getattr(parangonar, name)()

    def heard(known: Played) -> set[tuple[int, int]]:
        rows: list[Any] = [
            (float(n.onset_quarter), float(n.duration_quarter), float(n.onset_quarter),
             float(n.duration_quarter), n.midi, 1, False, f"s{i}")
            for i, n in enumerate(known.arrangement.notes)]
        score = np.array(rows, dtype=[
            ("onset_beat", "f4"), ("duration_beat", "f4"), ("onset_quarter", "f4"),
            ("duration_quarter", "f4"), ("pitch", "i4"), ("voice", "i4"),
            ("is_grace", "?"), ("id", "U8")])
        take = np.array(
            [(s.onset_sec, s.release_sec - s.onset_sec, s.midi, s.velocity, f"p{s.event}")
             for s in known.take.strokes],
            dtype=[("onset_sec", "f4"), ("duration_sec", "f4"), ("pitch", "i4"),
                   ("velocity", "i4"), ("id", "U8")])
        melody = [i for i, n in enumerate(known.arrangement.notes) if n.role == "melody"]
        place = {f"s{i}": number for number, i in enumerate(melody)}
        more = {"process_ornaments": False} if name == "DualDTWNoteMatcher" else {}
        return {(place[m["score_id"]], int(m["performance_id"][1:]))
                for m in matcher(score, take, **more)
                if m["label"] == "match" and m["score_id"] in place}

    return heard


def arrangements(sheets: list[str], levels: tuple[str, ...]) -> Iterator[Arrangement]:
    for name in sheets or ["lamp", "snow", "ferry", "umbrella"]:
        for level in levels:
            try:
                yield arranged(name, level)
            except InputError as error:
                print(error, file=sys.stderr)


def full(given: list[Arrangement], names: list[str]) -> None:
    sums = {name: Sums() for name in names}
    for arrangement in given:
        for name in names:
            wish = wish_of(name, WISHES[name], arrangement)
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
    print(f"{'take':32}{'F':>7}{'least':>7}{'median':>8}{'95 %':>6} ms {'family':>7}{'form':>7}"
          f"{'s':>6}")
    for name, one in sums.items():
        late = np.array(one.landings or [0.0]) * 1000
        forms = f"{sum(one.forms)}/{len(one.forms)}" if one.forms else ""
        print(f"{name:32}{np.mean(one.found):7.4f}{min(one.found):7.3f}"
              f"{np.median(late):8.1f}{np.percentile(late, 95):6.0f}    "
              f"{np.mean(one.families or [True]):7.3f}{forms:>7}{np.median(one.seconds):6.2f}")


def aligners(given: list[Arrangement]) -> None:
    """Side by side; what an aligner cannot do is said, and it goes on without."""
    ears: dict[str, Callable[[Played], set[tuple[int, int]]]] = {"here": ours}
    for name in ("DualDTWNoteMatcher", "AutomaticNoteMatcher"):
        try:
            ears[name] = aligner(name)
        except (ImportError, AttributeError) as error:
            print(f"{name}: {error}", file=sys.stderr)
    print(f"{'take':32}" + "".join(f"{name:>28}" for name in ears), flush=True)
    for name, wish in WISHES.items():
        if name in ("skipped", "begun again", "repeated"):
            continue
        found: dict[str, list[tuple[float, float]]] = {ear: [] for ear in ears}
        for arrangement in given:
            known = played(arrangement, wish)
            true = {(note, event) for (_, note), event in known.melody.items()}
            for ear, hear in ears.items():
                start = time.process_time()
                try:
                    heard = hear(known)
                except Exception as error:      # a bench goes on where an aligner fails
                    print(f"{ear}, {name}: {type(error).__name__}: {error}", file=sys.stderr)
                    continue
                found[ear].append((f_measure({*heard}, {*true}), time.process_time() - start))
        columns = []
        for some in found.values():
            scores, seconds = zip(*some, strict=True) if some else ((0.0,), (0.0,))
            columns.append(f"{np.mean(scores):8.4f} ({min(scores):.3f})"
                           f"{np.median(seconds):8.2f} s ")
        print(f"{name:32}" + "".join(f"{column:>28}" for column in columns), flush=True)


def jumps(given: list[Arrangement], seeds: int) -> None:
    kinds = ("skipped", "begun again", "repeated", "begun again at once")
    total: dict[str, list[bool]] = {kind: [] for kind in kinds}
    for arrangement in given:
        for seed in range(seeds):
            wish = jumping(arrangement, seed)
            known = played(arrangement, wish)
            form = form_of(listen(known.take, arrangement.chorus), known.take, arrangement.chorus)
            total[kinds[seed % 4]].append(bool(form) and jump_is_found(known, form, wish))
    for kind, some in total.items():
        print(f"{kind:24}{sum(some):5}/{len(some)}")
    every = [one for some in total.values() for one in some]
    print(f"{'all':24}{sum(every):5}/{len(every)}")


def growth(given: list[Arrangement]) -> None:
    print(f"{'tune':24}{'minutes':>8}{'strokes':>9}{'s':>8}{'ms a stroke':>13}")
    for arrangement in given:
        length = float(arrangement.chorus.length_quarter)
        once = length * arrangement.chorus.seconds_per_quarter / 60
        for minutes in (1, 5, 10):
            times = max(round(minutes / once), 1)
            known = played(arrangement, Wish(sections=((0.0, length),) * times))
            start = time.process_time()
            listen(known.take, arrangement.chorus)
            took, strokes = time.process_time() - start, len(known.take.strokes)
            title = arrangement.chorus.tune.title[:23]
            print(f"{title:24}{times * once:8.1f}{strokes:9}{took:8.2f}"
                  f"{1000 * took / strokes:13.2f}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="How well a take is heard.")
    parser.add_argument("sheets", nargs="*")
    parser.add_argument("--level", nargs="+", choices=LEVELS, default=LEVELS)
    parser.add_argument("--take", nargs="+", choices=WISHES, default=list(WISHES))
    parser.add_argument("--aligners", action="store_true")
    parser.add_argument("--growth", action="store_true")
    parser.add_argument("--jumps", type=int, default=0)
    asked = parser.parse_args()
    given = list(arrangements(asked.sheets, tuple(asked.level)))
    if asked.aligners:
        aligners(given)
    elif asked.growth:
        growth(given)
    elif asked.jumps:
        jumps(given, asked.jumps)
    else:
        full(given, asked.take)


if __name__ == "__main__":
    main()
