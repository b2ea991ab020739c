"""A drill: what would have worked in each gap of a tune at a level, and why.

It trains the choice between comp, reharm and line. The answers are those of the offers, which
the page and the command line show as well: a family works where it has an offer, and its first
one speaks for it; the families stand in the order in which a chorus would choose them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from fillwright.arranging.build import Offers
from fillwright.arranging.merit import Setting, Wishes, fill_costs
from fillwright.arranging.model import Options
from fillwright.errors import InputError
from fillwright.fills.ladder.naming import retold
from fillwright.fills.ladder.taken_back import Place, draft_of
from fillwright.fills.model import FAMILIES, EmptyFamily, Fill
from fillwright.fills.player import level_of
from fillwright.tune.model import Chorus, Gap, Tune

__all__ = ["Drill", "DrillGap", "drill", "drill_of"]


@dataclass(frozen=True, slots=True)
class DrillGap:
    """The answers for one gap.

    works   the first offer of each family that has one, the best first, each with the one
            sentence that explains it
    empty   the other families, each with its reason
    """

    gap: Gap
    works: tuple[tuple[Fill, str], ...]
    empty: tuple[EmptyFamily, ...]

    def answer(self, family: str) -> str:
        """What is said to a student who chose a family: one sentence. Raises InputError for a
        family that is none."""
        for fill, sentence in self.works:
            if fill.family == family:
                return f"{fill.device[0].upper()}{fill.device[1:]}: {sentence}"
        for one in self.empty:
            if one.family == family:
                return f"{one.reason[0].upper()}{one.reason[1:]}."
        raise InputError(f"{family!r} is no family; there are {', '.join(FAMILIES)}")


@dataclass(frozen=True, slots=True)
class Drill:
    """A tune's gaps in order, each with its answers."""

    chorus: Chorus = field(repr=False)
    options: Options
    gaps: tuple[DrillGap, ...]


def _sentence(fill: Fill, place: Place) -> str:
    """The sentence of the device that gave the fill its name, where it is heard."""
    said, _ = retold(fill, draft_of(fill, place), place, ())
    return (*said, *fill.reasons, f"It is {fill.device}.")[0]


def drill(tune: Tune, options: Options | None = None, *,
          progress: Callable[[int, int], None] | None = None) -> Drill:
    """What would work in every gap for a player of these options.

    progress   called with (gaps done, gaps in all)

    Raises InputError.
    """
    options = Options() if options is None else options
    if not isinstance(tune, Tune) or not isinstance(options, Options):
        raise InputError("a drill takes a Tune, as read_tune gives it, and Options")
    return drill_of(Offers(tune, options), progress)


def drill_of(offers: Offers, progress: Callable[[int, int], None] | None = None) -> Drill:
    """The same of offers that are being worked out, or an edition's desk."""
    options = offers.options
    setting = Setting.of(offers.story, Wishes(limit=level_of(options.level).difficulty[1]))
    rows = []
    for gap in offers.gaps:
        rows.append(_answers(offers, setting, gap))
        if progress is not None:
            progress(len(rows), len(offers.gaps))
    return Drill(offers.chorus, options, tuple(rows))


def _answers(offers: Offers, setting: Setting, gap: Gap) -> DrillGap:
    works: list[Fill] = []
    empty: list[EmptyFamily] = []
    for family in FAMILIES:
        found = offers.fills(gap.number, family, 1)
        if isinstance(found, str):
            empty.append(EmptyFamily(gap.number, family, found))
        else:
            works.append(found[0])
    works.sort(key=lambda fill: sum(fill_costs(setting, gap, fill).values()))
    place = Place.of(offers.chorus, gap.number, offers.options.hand, offers.gaps)
    return DrillGap(gap, tuple((fill, _sentence(fill, place)) for fill in works), tuple(empty))
