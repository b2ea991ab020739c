"""The ways of comping: who strikes what, where, and what becomes of the held note.

A *texture* is a division of labour between the hands; the rhythm and the voicings are
searched for each. The table is the vocabulary of the trade (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from itertools import product
from types import MappingProxyType
from typing import TypeAlias

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.inner import LINES, Line, line_fits
from fillwright.fills.player import (
    ADVANCED,
    ALL_LEVELS,
    BEGINNER,
    INTERMEDIATE,
    Level,
    Player,
)
from fillwright.fills.situation import Situation

__all__ = ["CHROMATIC", "LEFT_KINDS", "RIGHT_KINDS", "TEXTURES", "Part", "Texture", "Truth",
           "in_turn", "texture_cost", "textures_of"]

LEFT_KINDS = MappingProxyType({
    # family: kinds of left-hand voicing, best first
    "root": ("root", "bass", "octave"),
    "two-note shell": ("shell 1-7", "shell 1-6", "shell 1-3", "shell 1-4", "shell 1-2",
                       "root and fifth"),
    "shell": ("shell 1-3-7", "shell 1-3-6", "shell 1-3-5-6", "shell 1-5-6", "shell 1-4-7",
              "shell 1-2-7", "triad",
              "root, fifth, octave"),
    "open": ("root and fifth", "shell 1-7", "shell 1-6", "tenth", "spread 1-5-10",
             "spread 1-7-10"),
    "tenth": ("tenth", "spread 1-5-10", "spread 1-7-10"),
    "line bed": ("shell 1-7", "shell 1-6", "shell 1-3", "root and fifth", "tenth", "root"),
    "broken": ("shell 1-3-7", "shell 1-3-6", "triad", "shell 1-4-7", "shell 1-2-7"),
    "broken tenth": ("spread 1-7-10", "spread 1-5-10"),
    "low fifth": ("low fifth",),
    "low root": ("root", "bass", "octave"),
    "last root": ("root", "bass"),
    "guides": ("guide tones", "third and fifth"),
    "rootless": ("rootless, third at the bottom", "rootless, seventh at the bottom",
                 "rootless, sixth at the bottom", "third at the bottom",
                 "seventh at the bottom", "fifth at the bottom", "root position",
                 "tension on top"),
    "three-note rootless": ("three-note rootless", "third at the bottom",
                            "seventh at the bottom", "fifth at the bottom", "root position"),
})

RIGHT_KINDS = MappingProxyType({
    "one": ("single tone",),
    "guides": ("guide tones", "third and fifth", "root and fifth"),
    "two": ("guide tones", "two notes", "third and fifth", "root and fifth"),
    "three": ("guide tones and a colour", "close", "upper triad", "triad"),
    "four": ("rootless, third at the bottom", "rootless, seventh at the bottom",
             "rootless, sixth at the bottom", "third at the bottom", "seventh at the bottom",
             "fifth at the bottom", "root position", "close"),
    "fourths": ("fourths",),
    "upper": ("upper structure", "upper triad"),
    "octave": ("octave with inner notes",),
    "cluster": ("cluster",),
    "drop 2": ("drop 2",),
    "spread": ("spread",),
    "moving": ("single tone", "guide tones", "two notes", "third and fifth", "root and fifth"),
    "bell": ("single tone",),
    "melody on top": ("rootless, third at the bottom", "rootless, seventh at the bottom",
                      "rootless, sixth at the bottom", "third at the bottom",
                      "seventh at the bottom", "fifth at the bottom", "root position", "close",
                      "drop 2"),
})

CHROMATIC = ("fourths", "upper", "cluster")
"""Groups of `RIGHT_KINDS` that are out of style in a song of plain triads."""


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


Part: TypeAlias = tuple[tuple[Truth, str], ...]
"""A part of a name, said as fully as is true: over a triad or a slash chord, or with little
room, the hands may find less than a texture looks for."""

_COUNTED = ((Truth.TWO_KEYS, "two notes"), (Truth.THREE_KEYS, "three notes"),
            (Truth.ANY, "chord tones"))
_GUIDES: Part = ((Truth.GUIDES, "guide tones"), *_COUNTED)
_COLOURED: Part = ((Truth.GUIDES_AND_COLOUR, "guide tones and a colour"), *_COUNTED)
_ROOTLESS: Part = ((Truth.ROOTLESS, "rootless voicings"), (Truth.ANY, "four-note voicings"))
_THREE_ROOTLESS: Part = ((Truth.ROOTLESS, "three-note rootless voicings"),
                         (Truth.ANY, "three-note voicings"))
_TWO: Part = ((Truth.TWO_KEYS, "two notes"), (Truth.ANY, "chord tones"))
_THREE: Part = ((Truth.THREE_KEYS, "three notes"), (Truth.ANY, "chord tones"))
_THREE_VOICED: Part = ((Truth.THREE_KEYS, "three-note voicings"), (Truth.ANY, "chord tones"))
_OVER: Part = ((Truth.SHELL_BELOW, "over a shell"), (Truth.ANY, "over the bass"))
_SHELL: Part = ((Truth.SHELL_BELOW, "shell"), (Truth.ANY, "bass"))


@dataclass(frozen=True, slots=True)
class Texture:
    """One way of comping.

    name      the first part of the device name
    said      the name in parts, where it might not be true of what the hands find
    levels    levels that are offered it
    mode      a row of `plan.LABOUR`: "left": the left hand alone; "stride": root, then chords,
              the left hand alone; "time": roots and chords in turn, beat by beat; "break": the
              left hand breaks a chord; "over": the right hand over a left hand that keeps the
              root; "both": voicings struck by both hands over a root struck before; "answer":
              the hands take turns; "bass": the left hand walks to the landing's root;
              "together": both hands strike every hit; "close": chords, then a low root, where
              nothing follows
    left      family of `LEFT_KINDS` (in "stride" and "answer" that of the chords)
    right     group of `RIGHT_KINDS`
    voices    least and greatest number of right-hand keys (of both hands in "both")
    place     register of the right hand: "under" the held note, "low", "middle", "top",
              "above" the held note, "rising", "falling"
    held      what becomes of the held note: "finger", "released" or "pedal"
    motion    "inner": one voice moves, the others stay down; "inversions": every hit is
              another inversion; "planed": all voices move the same way by step; "slide":
              a chord is slid into from a half step; "thicken": the second half of the hits has
              a key more; "thirds": thirds or sixths go by step from one hit to the next
    line      what one voice does over a chord that stands still
    hits      least and greatest number of hits; () for any
    close     its hits come within a beat of each other
    time      "walk": the left hand walks in beats; "stride": low and high in turn; "echo": the
              melody's own; "" where the rhythm is free
    waits     the left hand may wait until the melody note has been heard
    styles    rhythm styles it belongs to; () for all
    tenths    a hand that strikes tenths at ease is offered it in every style, where the level
              rolls chords freely
    rare      seldom the smoothest way, so that it takes its turn (see `in_turn`)
    cost      what it costs to offer it to a beginner, an intermediate and an advanced player
    """

    name: str
    levels: tuple[Level, ...]
    mode: str
    left: str
    right: str = ""
    voices: tuple[int, int] = (0, 0)
    place: str = "middle"
    held: str = "finger"
    motion: str = ""
    line: Line | None = None
    hits: tuple[int, int] | None = None
    close: bool = False
    time: str = ""
    waits: bool = False
    styles: tuple[str, ...] = ()
    tenths: bool = False
    rare: bool = False
    cost: tuple[int, int, int] = (0, 0, 0)
    said: tuple[str | Part, ...] = ()

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
    def is_chromatic(self) -> bool:
        """It is out of style in a song of plain triads."""
        return (self.right in CHROMATIC or self.motion in ("slide", "planed")
                or (self.line is not None and self.line.is_chromatic))

    @property
    def legato(self) -> bool:
        """Every chord of the right hand lasts until the next one."""
        return self.motion in ("inner", "planed") or self.line is not None


_BEGINNER = (BEGINNER,)
_MIDDLE = (INTERMEDIATE,)
_UP = (INTERMEDIATE, ADVANCED)
_TOP = (ADVANCED,)
_ALL = ALL_LEVELS
_EASY = (BEGINNER, INTERMEDIATE)
_SLOW = ("ballad",)
_MOVING = ("medium", "fast", "waltz", "fast waltz", "straight", "compound")

def _moving(line: Line, *, thumb: bool) -> Texture:
    """A line of one voice: the thumb alone for beginners, over another key for the others."""
    if thumb:
        return Texture(f"moving thumb {line.name} under the held note", _BEGINNER, "over",
                       "line bed", "moving", (1, 1), "under", line=line, hits=(2, 4))
    levels = _TOP if line.lowest == ADVANCED else _UP
    return Texture(f"moving voice {line.name} under the held note", levels, "over",
                   "line bed", "moving", (2, 2), "under", line=line, hits=(2, 5))


_SOME = (2, 99)

TEXTURES: tuple[Texture, ...] = (
    # The left hand alone, the right hand keeps the melody note.
    Texture("shells", _ALL, "left", "shell", waits=True, cost=(0, 4, 16),
            said=(((Truth.SHELLS, "shells"), (Truth.ANY, "left-hand chords")),)),
    Texture("two-note shells", _ALL, "left", "two-note shell", waits=True, cost=(1, 5, 18),
            said=(((Truth.SHELLS, "two-note shells"), (Truth.ANY, "left-hand chords")),)),
    Texture("root, then guide tones in the left hand", _ALL, "stride", "guides",
            cost=(1, 2, 7),
            said=("root, then ", _GUIDES, " in the left hand")),
    Texture("root, then rootless voicings in the left hand", _UP, "stride", "rootless",
            cost=(0, 0, 2),
            said=("root, then ", _ROOTLESS, " in the left hand")),
    Texture("root, then three-note rootless voicings in the left hand", _UP, "stride",
            "three-note rootless", cost=(0, 1, 4),
            said=("root, then ", _THREE_ROOTLESS, " in the left hand")),
    Texture("rootless voicings", _TOP, "left", "rootless", waits=True, cost=(0, 0, 3),
            said=(_ROOTLESS,)),
    Texture("stride under the held note", _UP, "time", "three-note rootless", time="stride",
            styles=("medium", "straight", "waltz"), cost=(0, 4, 4)),
    Texture("broken chord under the held note", _BEGINNER, "break", "broken", hits=(2, 2),
            close=True, styles=_SLOW, rare=True, cost=(4, 0, 0)),
    Texture("broken tenth under the held note", _MIDDLE, "break", "broken tenth", hits=(2, 2),
            close=True, styles=_SLOW, rare=True, cost=(0, 9, 9)),
    Texture("bass line under the held note", _UP, "bass", "walk", "two", (2, 2),
            "under", "finger", time="walk", cost=(0, 6, 6)),
    Texture("bass and tenths under the held note", _UP, "bass", "walk tenth", "two", (2, 2),
            "under", "finger", time="walk", cost=(0, 6, 5)),
    # One voice moves under the held note.
    *(_moving(line, thumb=True) for line in LINES if line.lowest == BEGINNER),
    *(_moving(line, thumb=False) for line in LINES),
    # The right hand plays under the note it keeps.
    Texture("shell and one note under the held note", _BEGINNER, "over", "two-note shell",
            "one", (1, 1), "under", "finger", waits=True, cost=(2, 0, 0),
            said=(_SHELL, " and one note under the held note")),
    Texture("guide tones under the held note", _ALL, "over", "root", "guides", (2, 2),
            "under", "finger", cost=(2, 3, 6),
            said=(_GUIDES, " under the held note")),
    Texture("two notes under the held note", _UP, "over", "two-note shell", "two", (2, 2),
            "under", "finger", waits=True, cost=(0, 1, 4),
            said=(_TWO, " under the held note")),
    Texture("three notes under the held note", _TOP, "over", "open", "three", (3, 3), "under",
            "finger", waits=True, cost=(0, 0, 1),
            said=(_THREE, " under the held note")),
    Texture("four-note voicings with the melody on top", _UP, "over", "root", "melody on top",
            (3, 3), "under", "finger", waits=True, cost=(0, 1, 0)),
    Texture("fourths under the held note", _UP, "over", "two-note shell", "fourths", (3, 3),
            "under", "finger", rare=True, cost=(0, 1, 0)),
    Texture("inner line under the held note", _UP, "over", "open", "two", (2, 2), "under",
            "finger", "inner", hits=_SOME, rare=True, cost=(0, 1, 1)),
    Texture("two notes slid into under the held note", _UP, "over", "root", "two",
            (2, 2), "under", "finger", "slide", rare=True,
            said=(_TWO, " slid into under the held note")),
    Texture("thirds or sixths in step under the held note", _UP, "over", "two-note shell", "two",
            (2, 2), "under", "finger", "thirds", hits=(2, 2), rare=True, cost=(0, 0, 0)),
    Texture("cell that comes back thicker, under the held note", _UP, "over", "root", "two",
            (2, 2), "under", "finger", "thicken", hits=(4, 4), cost=(0, 0, 0)),
    # Where nothing follows.
    Texture("last chord, then a low root", _BEGINNER, "close", "two-note shell", "one", (1, 1),
            "under", hits=(1, 2), cost=(0, 0, 0)),
    Texture("last chords, then a low root", _UP, "close", "two-note shell", "two", (2, 2),
            "under", hits=(1, 3), cost=(0, 0, 0)),
    # The right hand leaves the melody note when it has been heard.
    Texture("guide tones over the root", _EASY, "over", "root", "guides", (2, 2), "middle",
            "released", cost=(1, 3, 0),
            said=(_GUIDES, " over the root")),
    Texture("two notes in the top register over a shell", _BEGINNER, "over",
            "two-note shell", "two", (2, 2), "top", "released", hits=_SOME, cost=(3, 0, 0),
            said=(_TWO, " in the top register ", _OVER)),
    Texture("shell and guide tones, hands together", _BEGINNER, "together", "two-note shell",
            "two", (1, 2), "middle", "released", cost=(2, 0, 0),
            said=(_SHELL, " and ", _GUIDES, ", hands together")),
    Texture("three-note voicings over the root", _MIDDLE, "over", "root", "three", (3, 3),
            "middle", "released",
            said=(_THREE_VOICED, " over the root")),
    Texture("both hands low, guide tones and a colour", _UP, "over", "root", "three", (3, 3),
            "low", "released", cost=(0, 2, 2),
            said=("both hands low, ", _COLOURED)),
    Texture("rootless voicings over the root", _UP, "over", "root", "four", (4, 4), "middle",
            "released", cost=(0, 0, 1),
            said=(_ROOTLESS, " over the root")),
    Texture("spread voicings", _UP, "over", "open", "three", (3, 3), "middle", "released",
            cost=(0, 1, 0)),
    Texture("spread voicing with inner motion", _UP, "over", "open", "three", (3, 3),
            "middle", "released", "inner", hits=_SOME, rare=True, cost=(0, 1, 0)),
    Texture("top register, octave with inner notes", _UP, "over", "shell", "octave", (3, 4),
            "top", "released", hits=_SOME, rare=True, cost=(0, 2, 1)),
    Texture("low to high", _UP, "over", "two-note shell", "three", (3, 3), "rising",
            "released", hits=_SOME, rare=True, cost=(0, 2, 2)),
    Texture("high to low", _UP, "over", "two-note shell", "three", (3, 3), "falling",
            "released", hits=_SOME, rare=True, cost=(0, 3, 3)),
    Texture("fourths over the root", _UP, "over", "open", "fourths", (3, 3), "middle",
            "released", rare=True, cost=(0, 3, 0)),
    Texture("chord slid into from a half step", _UP, "over", "root", "three", (3, 3), "middle",
            "released", "slide", rare=True, cost=(0, 1, 0)),
    Texture("the melody's last notes in harmony", _UP, "over", "open", "three", (3, 3), "echo",
            "released", time="echo"),
    Texture("the melody's last notes in two voices", _EASY, "over", "two-note shell", "two",
            (2, 2), "echo", "released", time="echo", cost=(1, 1, 0)),
    Texture("planed fourths over a shell", _TOP, "over", "shell", "fourths", (3, 3), "middle",
            "released", "planed", hits=_SOME, rare=True,
            said=("planed fourths ", _OVER)),
    Texture("upper structures over a shell", _TOP, "over", "shell", "upper", (3, 3), "middle",
            "released", rare=True,
            said=("upper structures ", _OVER)),
    Texture("clusters over a shell", _TOP, "over", "two-note shell", "cluster", (3, 3),
            "middle", "released", rare=True, cost=(0, 0, 5),
            said=("clusters ", _OVER)),
    Texture("the hands answer each other", _UP, "answer", "two-note shell", "three", (3, 3),
            "middle", "released", hits=_SOME, styles=_MOVING, rare=True, cost=(0, 2, 1)),
    Texture("drop 2 through the inversions", _UP, "both", "root", "drop 2", (4, 4), "middle",
            "released", "inversions", hits=_SOME, rare=True, cost=(0, 3, 0)),
    # Slow tempo: the pedal holds the melody note, the left hand may roll.
    Texture("chord above the held note, kept by the pedal", _UP, "over", "open", "three",
            (3, 3), "above", "pedal", styles=_SLOW, rare=True, cost=(0, 1, 0)),
    Texture("bell note over a spread chord", _UP, "bell", "broken tenth", "bell", (1, 1), "bell",
            "pedal", hits=(1, 2), styles=_SLOW, rare=True, cost=(0, 6, 6)),
    Texture("tenths in the left hand", _UP, "over", "tenth", "three", (3, 3), "under",
            "finger", styles=_SLOW, tenths=True, cost=(0, 1, 0)),
)


def texture_cost(texture: Texture, level: Level, style: str) -> int:
    """What a texture costs at a level; in a ballad repeated left-hand chords cost more."""
    plain = style == "ballad" and texture.mode == "left" and level.comp.strict
    return texture.cost[level.rank] + (4 if plain else 0)


def textures_of(player: Player, style: str, holds: bool, situation: Situation | None = None
                ) -> tuple[Texture, ...]:
    """The textures a player is offered in a style of rhythm.

    holds       there is a melody note to hold; where there is none, nothing is played under it
    situation   the gap, whose chords must take the line of a moving voice
    """
    taste = player.level.comp
    at_ease = taste.rolls and player.hand.tenths
    return tuple(t for t in TEXTURES
                 if player.level in t.levels
                 and (t.line is None or situation is None or _takes(situation, t.line))
                 and (not t.styles or style in t.styles or (at_ease and t.tenths))
                 and (holds or (t.place not in ("under", "above", "bell")
                                and (t.mode not in ("left", "break") or taste.left_alone))))


def _takes(situation: Situation, line: Line) -> bool:
    """Does a chord that lasts take the line?"""
    after = [*(s.harmony for s in situation.spans[1:]), situation.landing_harmony]
    return any(line_fits(line, span.harmony, following)
               and span.duration_quarter > situation.beat_quarter
               for span, following in zip(situation.spans, after, strict=True))


def in_turn(textures: Sequence[Texture], turn: int) -> str:
    """The name of the rare texture whose turn it is, "" where there is none."""
    rare = [t.name for t in textures if t.rare]
    return rare[turn % len(rare)] if rare else ""
