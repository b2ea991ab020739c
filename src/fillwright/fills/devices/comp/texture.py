"""What a texture of comping is: a division of labour between the hands, as a device."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import Enum, auto
from itertools import product
from typing import Literal, TypeAlias

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.inner import MovingVoice, line_fits
from fillwright.fills.devices.comp.kinds import CHROMATIC
from fillwright.fills.devices.comp.passages import Sentence
from fillwright.fills.devices.device import Example, FillPassage
from fillwright.fills.player import Level, Player
from fillwright.fills.situation import Situation

__all__ = ["Mode", "Motion", "Part", "Place", "Texture", "Truth"]


class Truth(Enum):
    """What a part of a name says of the notes (`names.TRUTHS` tests it)."""

    ANY = auto()
    ROOTLESS = auto()
    GUIDES = auto()
    GUIDES_AND_COLOUR = auto()
    TWO_KEYS = auto()
    THREE_KEYS = auto()
    SHELLS = auto()
    SHELL_BELOW = auto()
    CHORD_BELOW = auto()


Part: TypeAlias = tuple[tuple[Truth, str], ...]
"""A part of a name, said as fully as is true: over a triad or a slash chord, or with little
room, the hands may find less than a texture looks for."""


Mode: TypeAlias = Literal[
    "left",      # the left hand alone
    "stride",    # root, then chords, the left hand alone
    "time",      # roots and chords in turn, beat by beat
    "break",     # the left hand breaks a chord
    "tenor",     # the left hand's upper key moves over one that stays
    "over",      # the right hand over a left hand that keeps the root
    "both",      # voicings struck by both hands over a root struck before
    "bell",      # single keys of the right hand over a chord that rings
    "answer",    # the hands take turns
    "bass",      # the left hand walks to the landing's root
    "together",  # both hands strike every hit
    "close",     # chords, then a low root, where nothing follows
    "pedal",     # chords of the right hand over one bass that stays
    "harp"]      # one chord key by key through both hands

Place: TypeAlias = Literal[
    "under", "above",        # the held note
    "low", "middle", "top",  # of what the right hand has
    "bell",                  # over the held note, far from it
    "echo",                  # where the melody's own notes were
    "rising", "falling"]

Held: TypeAlias = Literal["finger", "released", "pedal"]

Motion: TypeAlias = Literal[
    "",
    "inner",       # one voice moves, the others stay down
    "inversions",  # every hit is another inversion
    "planed",      # all voices move the same way by step
    "slide",       # a chord is slid into from a half step
    "thicken",     # the second half of the hits has a key more
    "thirds",      # thirds or sixths go by step from one hit to the next
    "diminished",  # a diminished chord passes between two inversions
    "leading",     # the top goes by step one way to the landing's melody note
    "locked"]      # a line in block chords: all voices go with the top

Time: TypeAlias = Literal[
    "",
    "walk",    # the left hand walks in beats
    "stride",  # low and high in turn
    "echo",    # the melody's own
    "harp",    # key after key from beat to beat
    "steps"]   # those of a moving voice


@dataclass(frozen=True, slots=True)
class Texture:
    """One way of comping, as a device.

    name      the first part of the device name
    said      the name in parts, where it might not be true of what the hands find
    levels    levels that are offered it
    mode      who does what: a row of `plan.LABOUR`
    left      family of `LEFT_KINDS` (in "stride" and "answer" that of the chords)
    right     group of `RIGHT_KINDS`
    voices    least and greatest number of right-hand keys (of both hands in "both")
    place     where the right hand plays
    held      what becomes of the held note
    motion    how the chords of the right hand go on
    line      what one voice does over a chord that stands still
    hits      least and greatest number of hits; () for any
    close     its hits come within a beat of each other
    time      whose its rhythm is; "" where it is free
    waits     the left hand may wait until the melody note has been heard
    styles    rhythm styles it belongs to; () for all
    tenths    a hand that strikes tenths at ease is offered it in every style, where the level
              rolls chords freely
    rare      seldom the smoothest way, so that it takes its turn (`in_rotation`)
    ends      it is how a tune ends: there it comes before others
    cost      what it costs to offer it to a beginner, an intermediate and an advanced player
    hears     what is heard of it in a passage, as a sentence; "" where it is not heard
    shouts    full chords of both hands, for the high point of a chorus
    plain     that sentence names the keys of a chord, as every fill does anyway: it has no idea
              of its own besides what the hands strike
    example   worked by hand in C
    """

    name: str
    levels: tuple[Level, ...]
    mode: Mode
    left: str
    right: str = ""
    voices: tuple[int, int] = (0, 0)
    place: Place = "middle"
    held: Held = "finger"
    motion: Motion = ""
    line: MovingVoice | None = None
    hits: tuple[int, int] | None = None
    close: bool = False
    time: Time = ""
    waits: bool = False
    styles: tuple[str, ...] = ()
    tenths: bool = False
    rare: bool = False
    ends: bool = False
    shouts: bool = False
    cost: tuple[int, int, int] = (0, 0, 0)
    said: tuple[str | Part, ...] = ()
    hears: Sentence = field(kw_only=True, compare=False, repr=False)
    plain: bool = field(default=False, kw_only=True)
    example: Example = field(kw_only=True, compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.said and self.name not in self.names:
            raise ValueError(f"{self.name!r} is not said by its parts")

    @property
    def names(self) -> tuple[str, ...]:
        """All that it may be called, its own name first."""
        parts = [(part,) if isinstance(part, str) else tuple(text for _, text in part)
                 for part in self.said or (self.name,)]
        return tuple("".join(row) for row in product(*parts))

    def at(self, part: Fraction) -> Texture:
        """What the right hand looks for in a part of the hits, from 0 to 1."""
        if self.motion == "thicken" and part >= Fraction(1, 2):
            return replace(self, right="three", voices=(3, 3))
        return self

    @property
    def moves(self) -> bool:
        """Something moves over a chord that stays."""
        return self.motion in ("inner", "inversions", "planed")

    @property
    def moving_voices(self) -> int:
        """How many voices move over a chord that stays, where it is told how many."""
        return self.line.voices if self.line is not None else int(self.motion == "inner")

    @property
    def is_chromatic(self) -> bool:
        """It is out of style in a song of plain triads."""
        return (self.right in CHROMATIC or self.motion in ("slide", "planed", "diminished")
                or (self.line is not None and self.line.is_chromatic))

    @property
    def legato(self) -> bool:
        """Every chord of the right hand lasts until the next one."""
        return self.motion in ("inner", "planed") or self.line is not None

    @property
    def family(self) -> str:
        return "comp"

    def suits(self, player: Player, style: str, holds: bool, situation: Situation | None = None
              ) -> bool:
        """Whether a player is offered it in a style of rhythm.

        holds       there is a melody note to hold; where there is none, nothing is played under it
        situation   the gap, whose chords must take the line of a moving voice
        """
        taste = player.level.comp
        return (player.level in self.levels
                and (self.line is None or situation is None or _takes(situation, self.line))
                and (not self.styles or style in self.styles
                     or (self.tenths and taste.rolls and player.hand.tenths))
                and (holds or (self.place not in ("under", "above", "bell")
                               and (self.mode not in ("left", "break") or taste.left_alone))))

    def is_heard_in(self, passage: FillPassage) -> bool:
        return self.hears(passage) != ""

    def says(self, passage: FillPassage) -> str:
        found = self.hears(passage)
        if not found:
            raise ValueError(f"no {self.name} is heard")
        return found


def _takes(situation: Situation, line: MovingVoice) -> bool:
    """Does a chord that lasts take the line?"""
    after = [*(s.harmony for s in situation.spans[1:]), situation.landing_harmony]
    return any(line_fits(line, span.harmony, following)
               and span.duration_quarter > situation.beat_quarter
               for span, following in zip(situation.spans, after, strict=True))
