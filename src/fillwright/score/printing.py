"""What a reader may choose of the printed page, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.score.engraver import CAUTION, LEGEND, PageStyle
from fillwright.score.fingers import FINGERINGS
from fillwright.score.symbols import CHORD_STYLES

__all__ = ["PAPERS", "Printing"]

PHONE = "phone"
PAPERS: Mapping[str, tuple[int, int]] = MappingProxyType({"A4": (2100, 2970),
                                                          "Letter": (2159, 2794),
                                                          PHONE: (1050, 5000)})
"""Width and height in tenths of a millimetre (ISO 216; ANSI/ASME Y14.1, 8.5 by 11 inches; half the
width of A4, long enough for a tune, to be read on a screen)."""
_PHONE_BARS, _PHONE_LINES, _PHONE_MARGIN, _PHONE_FOOT, _PHONE_AIR = 2, 40, 40, 110, 200
_LARGE_UNIT, _LARGE_AIR = 9.6, 600
_SMALL_UNIT, _MORE_LINES, _SMALL_MARGIN, _SMALL_AIR = 6.0, 4, 100, 38
"""A staff 4.8 mm high, as in a pocket score; the usual one has 6."""
_COUNTS_SENTENCE = "  Counts below the staff: say them aloud, those in ( ) silently."


@dataclass(frozen=True, slots=True)
class Printing:
    """How pages are printed. Raises InputError for what cannot be.

    fingering   "all", "fills", "helpful" (where a hand takes a new place), "none", or "auto":
                all for beginners, else none
    counts      whether they stand below the fills
    large       music more than a quarter larger, fewer bars to a line
    paper       "A4", "Letter", or "phone": two bars to a line, for a narrow screen
    chords      "written" (as the sheet has them), "words" (maj7, m7, dim) or "signs" (Δ7, −7, °)
    saving      smaller music, more of it on a page
    hands       hand pictures of the fills under their line of music
    """

    fingering: str = "auto"
    counts: bool = True
    large: bool = False
    paper: str = "A4"
    chords: str = "written"
    saving: bool = False
    hands: bool = False

    def __post_init__(self) -> None:
        for what, given, allowed in (("fingering", self.fingering, FINGERINGS),
                                     ("paper", self.paper, tuple(PAPERS)),
                                     ("chords", self.chords, CHORD_STYLES)):
            if given not in allowed:
                raise InputError(f"{what} is one of {', '.join(allowed)}, not {given!r}")
        for what, flag in (("counts", self.counts), ("large", self.large),
                           ("saving", self.saving), ("hands", self.hands)):
            if not isinstance(flag, bool):
                raise InputError(f"{what} is True or False, not {flag!r}")
        if self.large and self.saving:
            raise InputError("music is printed larger, or paper is saved, not both")
        if self.paper == PHONE and (self.large or self.saving):
            raise InputError("a telephone has one size of music")

    @property
    def style(self) -> PageStyle:
        """The page it makes."""
        return self.styled(PageStyle())

    def styled(self, base: PageStyle) -> PageStyle:
        """Another page on this paper, in this size."""
        width, height = PAPERS[self.paper]
        page = replace(base, width=width, height=height)
        if self.paper == PHONE:
            return replace(page, least_unit=page.unit, bars_per_line=_PHONE_BARS,
                           systems=_PHONE_LINES, margin_top=_PHONE_MARGIN,
                           margin_side=_PHONE_MARGIN, margin_bottom=_PHONE_FOOT, most=_PHONE_AIR)
        if self.large:
            return replace(page, unit=_LARGE_UNIT, least_unit=_LARGE_UNIT, bars_per_line=3,
                           most=_LARGE_AIR)
        if self.saving:
            return replace(page, unit=_SMALL_UNIT, systems=base.systems + _MORE_LINES,
                           margin_top=_SMALL_MARGIN, margin_side=_SMALL_MARGIN, least=_SMALL_AIR)
        return page

    def foot(self, rights: str = "") -> tuple[str, ...]:
        """The lines at the foot of a page; a telephone has no room for what explains it."""
        if self.paper == PHONE:
            return (rights,) if rights else ()
        legend = LEGEND if self.counts else LEGEND.replace(_COUNTS_SENTENCE, "")
        return tuple(line for line in (legend, CAUTION, rights) if line)
