"""What a reader may choose of the printed page, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.score.engraver import CAUTION, LEGEND, PageStyle
from fillwright.score.fingers import FINGERINGS

__all__ = ["PAPERS", "Printing"]

PAPERS: Mapping[str, tuple[int, int]] = MappingProxyType({"A4": (2100, 2970),
                                                          "Letter": (2159, 2794)})
"""Width and height in tenths of a millimetre (ISO 216; ANSI/ASME Y14.1, 8.5 by 11 inches)."""
_LARGE_UNIT = 9.6
_COUNTS_SENTENCE = "  Counts below the staff: say them aloud, those in ( ) silently."


@dataclass(frozen=True, slots=True)
class Printing:
    """How pages are printed. Raises InputError for what cannot be.

    fingering   "all", "fills", "helpful" (where a hand takes a new place), "none", or "auto":
                all for beginners, else none
    counts      whether they stand below the fills
    large       music more than a quarter larger, fewer bars to a line
    paper       "A4" or "Letter"
    """

    fingering: str = "auto"
    counts: bool = True
    large: bool = False
    paper: str = "A4"

    def __post_init__(self) -> None:
        for what, given, allowed in (("fingering", self.fingering, FINGERINGS),
                                     ("paper", self.paper, tuple(PAPERS))):
            if given not in allowed:
                raise InputError(f"{what} is one of {', '.join(allowed)}, not {given!r}")
        for what, flag in (("counts", self.counts), ("large", self.large)):
            if not isinstance(flag, bool):
                raise InputError(f"{what} is True or False, not {flag!r}")

    @property
    def style(self) -> PageStyle:
        """The page it makes."""
        width, height = PAPERS[self.paper]
        if self.large:
            return PageStyle(width, height, unit=_LARGE_UNIT, bars_per_line=3)
        return PageStyle(width, height)

    def foot(self, rights: str = "") -> tuple[str, ...]:
        """The lines at the foot of a page."""
        legend = LEGEND if self.counts else LEGEND.replace(_COUNTS_SENTENCE, "")
        return tuple(line for line in (legend, CAUTION, rights) if line)
