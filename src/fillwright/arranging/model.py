"""A whole chorus for two hands."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES, Fill
from fillwright.hands.model import HAND_SIZES, LEVELS, HandNote
from fillwright.shown import Shown
from fillwright.tune.model import ChordSpan, Chorus, Gap

__all__ = ["Arrangement", "Options"]


@dataclass(frozen=True, slots=True)
class Options:
    """What the user asked for. None means: as the tune says, or decided by the program.

    choruses       1 or 2; the second is fuller than the first
    introduction   bars added before the tune: 0, 2 or 4
    ending         bars added after it: 0, 2 or 4
    mix            (family, weight): how often each family is chosen; even by default
    same_each_time whether a phrase that comes again keeps its fill, note for note
    """

    level: str = "intermediate"
    hand: str = "medium"
    tempo: Fraction | None = None
    feel: str | None = None
    octave: str = "auto"
    key: str | None = None
    without: tuple[str, ...] = ()
    picks: tuple[tuple[int, str], ...] = ()
    choruses: int = 1
    introduction: int = 0
    ending: int = 0
    mix: tuple[tuple[str, int], ...] = ()
    same_each_time: bool = False
    formats: tuple[str, ...] = ("json", "musicxml", "mid", "svg", "pdf", "flac")

    def __post_init__(self) -> None:
        for name, allowed in _ALLOWED.items():
            value = getattr(self, name)
            if value not in allowed or isinstance(value, bool):
                words = ", ".join(str(one) for one in allowed if one is not None)
                raise InputError(f"{value!r} is not a value of {name}; it is one of {words}")
        if self.tempo is not None and not self.tempo > 0:
            raise InputError(f"a tempo is more than 0 beats a minute, not {self.tempo}")
        for family, weight in self.mix:
            if family not in FAMILIES or weight < 0:
                raise InputError(f"{family!r}, {weight!r} is no family and its weight; there are "
                                 f"{', '.join(FAMILIES)}")


_ALLOWED: MappingProxyType[str, tuple[object, ...]] = MappingProxyType({
    "level": LEVELS, "hand": HAND_SIZES, "feel": (None, "swing", "straight"),
    "octave": ("auto", "0", "1"), "choruses": (1, 2), "introduction": (0, 2, 4),
    "ending": (0, 2, 4)})


@dataclass(frozen=True, slots=True)
class Arrangement(Shown):
    """A chorus with a base texture and at most one fill a gap.

    melody   (onset, sounding note) as played: late or early landings applied
    notes    every struck key of both hands, ordered by onset, then MIDI number
    chords   written spans, then the added ones of the chosen fills, ordered by onset
    story    what the chorus is made of, in sentences: what comes back, where it rises, its end
    """

    chorus: Chorus
    options: Options
    gaps: tuple[Gap, ...]
    fills: tuple[Fill, ...]
    notes: tuple[HandNote, ...]
    chords: tuple[ChordSpan, ...]
    warnings: tuple[str, ...] = field(default=())
    story: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return (f"<Arrangement of {self.chorus.tune.title!r}: {self.options.level}, "
                f"{len(self.chorus.bars)} bars, {len(self.fills)} of {len(self.gaps)} gaps "
                f"filled, {len(self.notes)} notes>")

    def fill_of(self, gap: int) -> Fill | None:
        return next((f for f in self.fills if f.gap == gap), None)
