"""A study page: every kind of passing chord over a few held chords, with the reasons.

Three studies are made, each option in a place of its own: a major seventh held four beats
and eight beats before its IV, and a II V of four beats before its I. The pages are engraved
like any arrangement; a list of the options with their counts and reasons follows.

    python examples/reharm_study.py [folder]        (default out/study)

Writes study-1.pdf and study-1-1.png, study-1-2.png and so on.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from fillwright.arranging.build import arrange
from fillwright.arranging.model import Arrangement, Options
from fillwright.fills.propose import fills_of
from fillwright.fills.situation import make_context
from fillwright.score import engrave_musicxml, to_musicxml
from fillwright.score.fonts import font_folder
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Bar, MelodyNote, Meter, Tune, WrittenChord

MOST = 12
"""Options a study shows at most."""


@dataclass(frozen=True, slots=True)
class Study:
    """A gap to be filled over and over: (chord, beats) pairs under one held note, then a bar
    of melody over the chord of the landing."""

    title: str
    chords: tuple[tuple[str, int], ...]
    held: str
    landing_chord: str
    landing: tuple[str, ...]


STUDIES = (
    Study("A major seventh held four beats", (("Cmaj7", 4),), "C5", "Fmaj7",
          ("A4", "C5", "B4", "A4")),
    Study("A major seventh held eight beats", (("Cmaj7", 8),), "E5", "Fmaj7",
          ("A4", "C5", "B4", "A4")),
    Study("A II V of four beats", (("Dm7", 2), ("G7", 2)), "D5", "Cmaj7",
          ("E5", "D5", "C5", "G4")),
)


def tune_of(study: Study, copies: int) -> Tune:
    """The study's gap and landing, over and over."""
    bars: list[Bar] = []
    meter, key = Meter(4, 4), Key(0)
    beats = sum(length for _, length in study.chords)
    for _ in range(copies):
        for first in range(0, beats, 4):
            placed, onset = [], 0
            for text, length in study.chords:
                if first <= onset < first + 4:
                    placed.append(WrittenChord(Fraction(onset - first), parse_chord(text)))
                onset += length
            note = MelodyNote(Fraction(0), Fraction(4), Pitch.parse(study.held),
                              tie_start=first + 4 < beats, tie_stop=first > 0)
            bars.append(Bar(str(len(bars) + 1), meter, key, Fraction(4), (note,), tuple(placed)))
        notes = tuple(MelodyNote(Fraction(place), Fraction(1), Pitch.parse(name))
                      for place, name in enumerate(study.landing))
        bars.append(Bar(str(len(bars) + 1), meter, key, Fraction(4), notes,
                        (WrittenChord(Fraction(0), parse_chord(study.landing_chord)),)))
    return Tune(study.title, tuple(bars), Fraction(112), "swing", tempo_marked=True)


def arrangement_of(study: Study, level: str) -> Arrangement:
    """One option in each place, best first."""
    chorus = unfold(tune_of(study, 1))
    gaps = find_gaps(chorus)
    found = fills_of(make_context(chorus, gaps, 1, level=level, hand="medium"), "reharm", MOST)
    copies = len(found) if not isinstance(found, str) else 0
    picks = tuple((number, f"reharm:{number}") for number in range(1, copies + 1))
    return arrange(tune_of(study, copies), Options(level=level, octave="0", picks=picks))


def _escaped(text: str) -> str:
    return "".join("\\" + c if c in "#*_`$<>@=-+/[]~\\" else c for c in text)


def write_study(arrangement: Arrangement, folder: Path, name: str) -> None:
    """The pages and the list of reasons, as one PDF and as pictures."""
    import typst

    view = to_musicxml(arrangement, view=True, dynamics=False)
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        lines = ['#set page(paper: "a4", margin: 12mm)', '#set text(size: 9pt)']
        for number, page in enumerate(engrave_musicxml(view).pages, 1):
            (work / f"page-{number}.svg").write_text(page, encoding="utf-8")
            lines.append(f'#page(margin: 0mm, image("page-{number}.svg", width: 100%))')
        lines.append(f"= {_escaped(arrangement.chorus.tune.title)}: the options")
        for fill in sorted(arrangement.fills, key=lambda f: f.gap):
            chords = " ".join(c.symbol.pretty for c in fill.chords)
            lines.append(f"*{fill.gap}. {_escaped(fill.device)}*: {_escaped(chords)}. "
                         f"Counts: {_escaped(fill.counts)}.")
            lines += [f"- {_escaped(reason)}" for reason in fill.reasons]
            lines.append("")
        source = work / "main.typ"
        source.write_text("\n".join(lines), encoding="utf-8")
        fonts = [str(font_folder())]
        (folder / f"{name}.pdf").write_bytes(
            typst.compile(str(source), root=place, font_paths=fonts))
        pages = typst.compile(str(source), root=place, font_paths=fonts, format="png", ppi=100)
        for number, data in enumerate(pages if isinstance(pages, list) else [pages], 1):
            (folder / f"{name}-{number}.png").write_bytes(data)


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for number, study in enumerate(STUDIES, 1):
        arrangement = arrangement_of(study, "advanced")
        write_study(arrangement, folder, f"study-{number}")
        print(f"{study.title}: {len(arrangement.fills)} options")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("out/study"))
