"""Study pages of lines: one gap at three levels, and a whole chorus of answers.

The first pages take the bars around one gap and set them one after another, each with
another line; the last ones are a chorus in which, wherever there is a phrase to answer, the
right hand answers it. Writes line-study.pdf, its pages as SVG and, where the machine can
draw them (pypdfium2), as PNG.

    python examples/line_study.py            the first long gap of the first demo tune
    python examples/line_study.py TUNE.musicxml --gap 3 --count 6 -o out
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from comp_study import STYLE, bars_around, default_gap, study_tune

from fillwright.arranging.assemble import assemble
from fillwright.arranging.build import prepare
from fillwright.arranging.model import Arrangement, Options
from fillwright.demo import demo_path
from fillwright.fills.devices.line.family import propose_line
from fillwright.fills.model import Fill
from fillwright.fills.situation import make_context
from fillwright.hands.model import LEVELS
from fillwright.score import engrave_musicxml, pages_to_pdf, to_musicxml
from fillwright.score.mei import Heading
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Tune
from fillwright.tune.read import read_tune


def drawn(arrangement: Arrangement, title: str, subtitle: str, *, dynamics: bool
          ) -> tuple[str, ...]:
    view = to_musicxml(arrangement, view=True, dynamics=dynamics)
    return engrave_musicxml(view, Heading(title, subtitle), STYLE).pages


def one_gap(tune: Tune, number: int | None, count: int, level: str
            ) -> tuple[tuple[str, ...], list[Fill]]:
    """Pages of one level: the same gap `count` times, each time with another line."""
    chorus = unfold(tune)
    gaps = find_gaps(chorus)
    gap = gaps[(number or default_gap(gaps)) - 1]
    study = unfold(study_tune(tune, chorus, gap, count), tempo=chorus.tempo_bpm,
                   feel=chorus.feel)
    offset = gap.onset_quarter - chorus.bar_at(gap.onset_quarter).onset_quarter
    length = sum((bar.length_quarter for bar in bars_around(tune, chorus, gap)),
                 start=offset - offset)
    study_gaps = find_gaps(study)
    chosen: list[Fill] = []
    for turn in range(count):
        place = next((g for g in study_gaps if g.onset_quarter == offset + turn * length), None)
        if place is None:
            continue
        context = make_context(study, study_gaps, place.number, level=level, hand="medium",
                               without=frozenset(f.device for f in chosen))
        found = propose_line(context, 1)
        if not isinstance(found, str):
            chosen.append(found[0])
    arrangement = assemble(study, study_gaps, tuple(chosen), Options(level=level))
    return drawn(arrangement, f"Lines in bar {gap.bar} of {tune.title}",
                 level.capitalize(), dynamics=False), chosen


def answers(tune: Tune, level: str) -> tuple[tuple[str, ...], list[Fill]]:
    """Pages of a whole chorus in which every phrase that can be answered is answered."""
    options = Options(level=level)
    chorus, gaps = prepare(tune, options)
    chosen: list[Fill] = []
    said: set[tuple[int, ...]] = set()
    for gap in gaps:
        context = make_context(chorus, gaps, gap.number, level=level, hand=options.hand)
        if not context.spans:
            continue
        found = propose_line(context, 40)
        if not isinstance(found, str):
            replies = [f for f in found if f.device.startswith("answer")]
            fresh = [f for f in replies if f.idea.top_line not in said] or replies
            chosen += fresh[:1]
            said |= {f.idea.top_line for f in fresh[:1]}
    arrangement = assemble(chorus, gaps, tuple(chosen), options)
    return drawn(arrangement, tune.title, "A chorus of answers", dynamics=True), chosen


def told(heading: str, fills: Sequence[Fill]) -> None:
    print(heading.upper())
    for fill in fills:
        print(f"  {fill.device}  [{fill.counts}]")
        for reason in fill.reasons:
            print(f"      {reason}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("tune", nargs="?", type=Path, default=demo_path("lamp"))
    parser.add_argument("--gap", type=int, default=None, help="number of the gap")
    parser.add_argument("--count", type=int, default=6, help="lines a level")
    parser.add_argument("-o", "--out", type=Path, default=Path("out/study"))
    wanted = parser.parse_args()
    tune = read_tune(wanted.tune)
    pages: list[str] = []
    for level in LEVELS:
        found, fills = one_gap(tune, wanted.gap, wanted.count, level)
        pages += found
        told(level, fills)
    found, fills = answers(tune, "intermediate")
    pages += found
    told("answers", fills)
    wanted.out.mkdir(parents=True, exist_ok=True)
    for number, page in enumerate(pages, 1):
        (wanted.out / f"line-study-{number}.svg").write_text(page, encoding="utf-8")
    pdf = wanted.out / "line-study.pdf"
    pdf.write_bytes(pages_to_pdf(tuple(pages), f"Lines: {tune.title}"))
    print(f"{pdf}: {len(pages)} pages")
    try:
        import pypdfium2
    except ImportError:
        return
    for number, sheet in enumerate(pypdfium2.PdfDocument(str(pdf)), 1):
        sheet.render(scale=2).to_pil().save(wanted.out / f"line-study-{number}.png")


if __name__ == "__main__":
    main()
