"""All paper of an arrangement at once: MusicXML, SVG pages, PDF."""

from __future__ import annotations

from collections.abc import Collection

from fillwright.arranging.model import FORMATS, MORE_FORMATS, Arrangement
from fillwright.errors import InputError
from fillwright.given import a, several
from fillwright.score.engraver import Copy, Engraving, engrave_several
from fillwright.score.lead import lead_musicxml
from fillwright.score.musicxml import to_musicxml
from fillwright.score.pdf import pages_to_pdf
from fillwright.score.pictures import pictures_of
from fillwright.score.printing import Printing
from fillwright.score.symbols import restyled

__all__ = ["SCORE_FORMATS", "copy_of", "engrave_arrangement", "render_score"]

SCORE_FORMATS = ("musicxml", "svg", "pdf")
"""Those of paper; and "lead", when asked."""


def engrave_arrangement(arrangement: Arrangement, fingering: str = "auto",
                        printing: Printing | None = None) -> Engraving:
    """The pages of an arrangement. Raises `EngravingError`."""
    return engrave_several([copy_of(arrangement, printing or Printing(fingering))])[0]


def copy_of(arrangement: Arrangement, printing: Printing) -> Copy:
    """What the engraver is given of an arrangement: its notes, and the page as it is chosen."""
    shown = restyled(arrangement, printing.chords)
    view = to_musicxml(shown, fingering=printing.fingering, counts=printing.counts, view=True)
    gaps = {gap.number: gap for gap in shown.gaps}
    hands = {str(fill.gap): pictures_of(fill, gaps[fill.gap])
             for fill in shown.fills} if printing.hands else {}
    return Copy(view, style=printing.style, foot=printing.foot(arrangement.chorus.tune.rights),
                hands=hands)


def render_score(arrangement: Arrangement, formats: Collection[str] = SCORE_FORMATS,
                 fingering: str = "auto", printing: Printing | None = None) -> dict[str, bytes]:
    """Bytes by file name: arrangement.musicxml, page-1.svg and so on, arrangement.pdf.

    printing   what is chosen of the page; with it, `fingering` has no say

    Formats that are not of paper are passed over. Raises `EngravingError`, and InputError for
    what is no arrangement, format or fingering.
    """
    if not isinstance(arrangement, Arrangement):
        raise InputError(f"an Arrangement is engraved, not {a(arrangement)}; show(thing) engraves "
                         "a tune, a chorus or a fill")
    formats = [str(name) for name in several(formats, "formats")]
    for name in formats:
        if name not in FORMATS + MORE_FORMATS:
            raise InputError(f"{name!r} is no format; of paper there are "
                             f"{', '.join(SCORE_FORMATS)}")
    printing = printing or Printing(fingering)
    arrangement = restyled(arrangement, printing.chords)
    files: dict[str, bytes] = {}
    if "musicxml" in formats:
        files["arrangement.musicxml"] = to_musicxml(
            arrangement, fingering=printing.fingering, counts=printing.counts)
    if "lead" in formats:
        files["arrangement-lead.musicxml"] = lead_musicxml(arrangement)
    if "svg" in formats or "pdf" in formats:
        pages = engrave_arrangement(arrangement, printing=printing).pages
        if "svg" in formats:
            for number, page in enumerate(pages, 1):
                files[f"page-{number}.svg"] = page.encode("utf-8")
        if "pdf" in formats:
            files["arrangement.pdf"] = pages_to_pdf(pages, arrangement.chorus.tune.title)
    return files
