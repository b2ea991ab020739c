"""What a rule is, what it is asked about, and what it finds."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.hands.moments import HandMoment, Moment, hand_moments, moments
from fillwright.rules.chords import Chords
from fillwright.theory.pitch import spell_plain

__all__ = ["Finding", "MelodySpan", "Passage", "FillSpan", "Rule", "name_of", "names_of"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that breaks a rule: where, what, and the keys (MIDI) that do it."""

    rule: str
    onset_quarter: Fraction
    message: str
    midis: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class MelodySpan:
    """A melody note for as long as it sounds, by finger or by pedal.

    alone_quarter   how long it is left alone at first, so that it is heard: only what the
                    same hand can play under it may be struck meanwhile
    by_pedal        the pedal keeps it when its key is let go
    """

    onset_quarter: Fraction
    until_quarter: Fraction
    midi: int
    alone_quarter: Fraction = Fraction(0)
    by_pedal: bool = False

    @property
    def end_quarter(self) -> Fraction:
        return self.until_quarter


@dataclass(frozen=True, slots=True)
class FillSpan:
    """The room a fill has: its gap, and where the landing comes.

    landing_quarter   the gap's end, or where the landing is shifted to
    ring_quarter      until when a left-hand sound may ring on
    """

    gap: int
    onset_quarter: Fraction
    landing_quarter: Fraction
    ring_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Passage:
    """What the rules are asked about: an arrangement, or a fill with what surrounds it.

    notes      the struck keys of both hands, the melody's among them
    size       the size of the hands
    chords     what is heard, one chord at a time
    sounding   how long each melody note sounds
    melody     what should be heard, as (onset_quarter, duration_quarter, MIDI number); None
               where that is not known
    fill_spans      of the fills; () where they are not known
    beat_quarter  the felt beat
    whole      a whole arrangement, in which few chords may be rolled
    """

    notes: tuple[HandNote, ...]
    size: str
    seconds_per_quarter: float
    chords: Chords = field(default_factory=Chords)
    sounding: tuple[MelodySpan, ...] = ()
    melody: tuple[tuple[Fraction, Fraction, int], ...] | None = None
    fill_spans: tuple[FillSpan, ...] = ()
    beat_quarter: Fraction = Fraction(1)
    whole: bool = True
    moments: tuple[Moment, ...] = field(init=False, compare=False)
    hand_moments: tuple[HandMoment, ...] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "moments", moments(self.notes))
        object.__setattr__(self, "hand_moments", tuple(hand_moments(self.moments)))


class Rule(ABC):
    """A rule. `asks` says what it wants, `why` what happens otherwise, `remedy` what to do."""

    __slots__ = ()
    name: ClassVar[str]
    asks: ClassVar[str]
    why: ClassVar[str]
    remedy: ClassVar[str]

    @abstractmethod
    def findings(self, passage: Passage) -> Iterator[Finding]:
        """Every place where a passage breaks the rule, in the order of the score."""

    @abstractmethod
    def tried(self, passage: Passage) -> int:
        """At how many places of a passage the rule has something to look at."""

    def applies(self, passage: Passage) -> bool:
        """Whether enough is known of a passage to ask."""
        return True

    def found(self, onset_quarter: Fraction, message: str, midis: Iterable[int] = ()
              ) -> Finding:
        return Finding(self.name, onset_quarter, message, tuple(midis))


def name_of(midi: int) -> str:
    return str(spell_plain(midi, False))


def names_of(midis: Sequence[int]) -> str:
    return " ".join(name_of(midi) for midi in midis)
