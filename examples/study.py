"""Study pages: ideas of one family in one gap of a tune, a page for each of the three levels.

Takes the bars around the gap, sets them one after another, each with another idea, and engraves
them; the reasons are printed. Writes comp-study.pdf (reharm-study, line-study) and its pages as
SVG, for each family that is asked for.

    python examples/study.py                 the first long gap of the first demo tune
    python examples/study.py TUNE.musicxml --gap 3 --count 6 --family reharm -o out
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from fillwright.arranging.assemble import assemble
from fillwright.arranging.model import Options
from fillwright.demo import demo_path
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import Fill
from fillwright.fills.place import placed
from fillwright.fills.player import player_of
from fillwright.fills.propose import fills_of
from fillwright.fills.situation import task_of
from fillwright.hands.model import LEVELS
from fillwright.score import PageStyle, engrave_musicxml, pages_to_pdf, to_musicxml
from fillwright.score.mei import Heading
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Bar, Chorus, FormMarks, Gap, Tune
from fillwright.tune.read import read_tune

STYLE = PageStyle(systems=4, bars_per_line=4)
FAMILIES = {"comp": "Comping", "reharm": "Passing chords", "line": "Lines"}


def bars_around(tune: Tune, chorus: Chorus, gap: Gap) -> list[Bar]:
    """The printed bars from the one a gap opens in to the one it lands in."""
    last = gap.end_quarter if gap.landing is not None else gap.onset_quarter
    found = []
    for bar in chorus.bars:
        if bar.end_quarter > gap.onset_quarter and bar.onset_quarter <= last:
            found.append(replace(tune.bars[bar.bar_index], marks=FormMarks(), section=""))
    return found


def study_tune(tune: Tune, chorus: Chorus, gap: Gap, count: int) -> Tune:
    """A tune made of the same few bars `count` times."""
    bars = bars_around(tune, chorus, gap)
    chord = chorus.chord_index_at(gap.onset_quarter)
    if chord is not None and not bars[0].chords:
        raise SystemExit("the chord of this gap is not printed in its bar; take another gap")
    rows = []
    for turn in range(count):
        for place, bar in enumerate(bars):
            notes = tuple(replace(n, tie_start=n.tie_start and place + 1 < len(bars),
                                  tie_stop=n.tie_stop and place > 0) for n in bar.notes)
            rows.append(replace(bar, number=str(turn * len(bars) + place + 1), notes=notes))
    return replace(tune, bars=tuple(rows))


def default_gap(gaps: tuple[Gap, ...]) -> int:
    """The first gap of four beats and more that opens on a downbeat, else the longest."""
    for gap in gaps:
        if gap.beats >= 4 and gap.beat == 1 and gap.landing is not None:
            return gap.number
    return max(gaps, key=lambda gap: (gap.beats, -gap.number)).number


def study_pages(tune: Tune, number: int | None, count: int, level: str, family: str = "comp"
                ) -> tuple[tuple[str, ...], list[Fill]]:
    """SVG pages of one level, and the fills on them."""
    chorus = unfold(tune)
    gaps = find_gaps(chorus)
    gap = gaps[(number or default_gap(gaps)) - 1]
    written = bars_around(tune, chorus, gap)
    situation = situation_of(hear(chorus), gaps, gap.number)
    found = fills_of(task_of(situation, player_of(level, "medium")), family, count)
    if isinstance(found, str):
        raise SystemExit(f"{family}, {level}: {found}")
    count = len(found)
    study = unfold(study_tune(tune, chorus, gap, count), tempo=chorus.tempo_bpm,
                   feel=chorus.feel)
    offset = gap.onset_quarter - chorus.bar_at(gap.onset_quarter).onset_quarter
    length = sum((bar.length_quarter for bar in written), start=offset - offset)
    study_gaps = find_gaps(study)
    places = {offset + turn * length: turn for turn in range(count)}
    chosen: list[Fill] = []
    for each in study_gaps:
        turn = places.get(each.onset_quarter)
        if turn is not None:
            chosen.append(placed(found[turn], each))
    arrangement = assemble(study, study_gaps, tuple(chosen), Options(level=level))
    heading = Heading(f"{FAMILIES[family]} in bar {gap.bar} of {tune.title}", level.capitalize())
    view = to_musicxml(arrangement, view=True, dynamics=False)
    return engrave_musicxml(view, heading, STYLE).pages, chosen


def write_study(tune: Tune, wanted: argparse.Namespace, family: str) -> None:
    """The pages of a family at the three levels; what is on them is printed."""
    pages: list[str] = []
    for level in LEVELS:
        drawn, fills = study_pages(tune, wanted.gap, wanted.count, level, family)
        pages += drawn
        print(f"{FAMILIES[family]}, {level}".upper())
        for fill in fills:
            print(f"  {fill.device}  [{fill.counts}]")
            for reason in fill.reasons:
                print(f"      {reason}")
    for number, page in enumerate(pages, 1):
        (wanted.out / f"{family}-study-{number}.svg").write_text(page, encoding="utf-8")
    pdf = wanted.out / f"{family}-study.pdf"
    pdf.write_bytes(pages_to_pdf(tuple(pages), f"{FAMILIES[family]}: {tune.title}"))
    print(f"{pdf}: {len(pages)} pages")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("tune", nargs="?", type=Path, default=demo_path("lamp"))
    parser.add_argument("--gap", type=int, default=None, help="number of the gap")
    parser.add_argument("--count", type=int, default=6, help="ideas a level")
    parser.add_argument("--family", choices=tuple(FAMILIES), help="one instead of all three")
    parser.add_argument("-o", "--out", type=Path, default=Path("out/study"))
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    tune = read_tune(wanted.tune)
    for family in [wanted.family] if wanted.family else FAMILIES:
        write_study(tune, wanted, family)


if __name__ == "__main__":
    main()
