"""A whole chorus for two hands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.asked import family_of
from fillwright.fills.model import Fill
from fillwright.given import given_tempo, given_whole, several
from fillwright.hands.model import HAND_SIZES, LEVELS, HandNote
from fillwright.shown import Shown
from fillwright.tune.model import FEELS, ChordSpan, Chorus, Gap

__all__ = ["FORMATS", "MORE_FORMATS", "OPEN", "Arrangement", "Chosen", "Decided", "Options",
           "weights_of"]

OPEN = "open"
"""In the place of a fill's id: the gap is left open."""

FORMATS = ("json", "musicxml", "mid", "svg", "pdf", "flac")
"""What an arrangement is written as, if nothing else is said."""

MORE_FORMATS = ("mp3", "opus", "left", "right", "clicks", "lead")
"""What it is written as when asked: sound to be sent, each hand alone, the beat alone; the melody
under the chords as they are played."""

MOST_WEIGHT = 99
MOST_GAPS = 100_000


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
    formats: tuple[str, ...] = FORMATS

    def __post_init__(self) -> None:
        for name, allowed in _ALLOWED.items():
            value = getattr(self, name)
            if not any(type(value) is type(one) and value == one for one in allowed):
                words = ", ".join(str(one) for one in allowed if one is not None)
                raise InputError(f"{value!r} is not a value of {name}; it is one of {words}")
        if self.tempo is not None:
            object.__setattr__(self, "tempo", given_tempo(self.tempo))
        if not isinstance(self.key, str | None):
            raise InputError(f"a key is named as text, such as Ab or F#m, not {self.key!r}")
        for name in ("without", "formats"):
            names = several(getattr(self, name), name)
            if not all(isinstance(one, str) for one in names):
                raise InputError(f"{name} is a list of names, not {names!r}")
            object.__setattr__(self, name, tuple(names))
        for name in self.formats:
            if name not in FORMATS + MORE_FORMATS:
                raise InputError(f"{name!r} is no format; there are "
                                 f"{', '.join(FORMATS + MORE_FORMATS)}")
        object.__setattr__(self, "picks", tuple(
            (given_whole(gap, "the number of a gap", 1, MOST_GAPS),
             _text(fill, "a pick names a fill"))
            for gap, fill in _pairs(self.picks, "picks")))
        object.__setattr__(self, "mix", weights_of(_pairs(self.mix, "mix")))


def weights_of(pairs: Iterable[tuple[object, object]]) -> tuple[tuple[str, int], ...]:
    """How often each family is chosen, checked; () where nothing is said. Raises InputError."""
    found: dict[str, int] = {}
    for name, weight in pairs:
        family = family_of(name)
        if family in found:
            raise InputError(f"{family} has two weights")
        found[family] = given_whole(weight, f"the weight of {family}", 0, MOST_WEIGHT)
    if found and not any(found.values()):
        raise InputError("one family at least is to be used in the chorus")
    return tuple(found.items())


def _pairs(values: object, what: str) -> list[tuple[object, object]]:
    found = list(several(values, what))
    if isinstance(values, Mapping) or not all(
            isinstance(one, tuple | list) and len(one) == 2 for one in found):
        raise InputError(f"{what} is a list of pairs, not {values!r}")
    return [(one[0], one[1]) for one in found if isinstance(one, tuple | list)]


def _text(value: object, what: str) -> str:
    if not isinstance(value, str):
        raise InputError(f"{what} as text, not {value!r}")
    return value


_ALLOWED: MappingProxyType[str, tuple[object, ...]] = MappingProxyType({
    "level": LEVELS, "hand": HAND_SIZES, "feel": (None, *FEELS),
    "octave": ("auto", "0", "1"), "choruses": (1, 2), "introduction": (0, 2, 4),
    "ending": (0, 2, 4), "same_each_time": (False, True)})


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the program chose for the gaps that the user left to it, to be kept when one of them
    is decided: then nothing else moves.

    fills            (gap number, fill id or `OPEN`), by gap
    fuller_quarter   from where the texture between the fills is fuller; None: nowhere
    strained         the last fill was not put on a low root, for ease
    """

    fills: tuple[tuple[int, str], ...]
    fuller_quarter: Fraction | None = None
    strained: bool = False


@dataclass(frozen=True, slots=True)
class Decided:
    """What has been decided of the gaps of a chorus before it is arranged.

    picked   gap number -> the user's choice; None leaves that gap open
    own      gap number -> that choice with the user's own notes in it
    kept     gap number -> what the program chose before and keeps
    plan     how those kept were set; None: the program chooses
    """

    picked: Mapping[int, Fill | None] = field(default_factory=dict)
    own: Mapping[int, Fill] = field(default_factory=dict)
    kept: Mapping[int, Fill | None] = field(default_factory=dict)
    plan: Chosen | None = None


@dataclass(frozen=True, slots=True)
class Arrangement(Shown):
    """A chorus with a base texture and at most one fill a gap.

    melody   (onset, sounding note) as played: late or early landings applied
    notes    every struck key of both hands, ordered by onset, then MIDI number
    chords   written spans, then the added ones of the chosen fills, ordered by onset
    story    what the chorus is made of, in sentences: what comes back, where it rises, its end
    kept     what was chosen for the gaps that the user left to the program
    """

    chorus: Chorus
    options: Options
    gaps: tuple[Gap, ...]
    fills: tuple[Fill, ...]
    notes: tuple[HandNote, ...]
    chords: tuple[ChordSpan, ...]
    warnings: tuple[str, ...] = field(default=())
    story: tuple[str, ...] = ()
    kept: Chosen = field(default=Chosen(()))

    def __repr__(self) -> str:
        return (f"<Arrangement of {self.chorus.tune.title!r}: {self.options.level}, "
                f"{len(self.chorus.bars)} bars, {len(self.fills)} of {len(self.gaps)} gaps "
                f"filled, {len(self.notes)} notes>")

    def fill_of(self, gap: int) -> Fill | None:
        return next((f for f in self.fills if f.gap == gap), None)
