"""The ways of comping: who strikes what, where, and what becomes of the held note.

A *texture* is a division of labour between the hands; the rhythm and the voicings are
searched for each. The table is the vocabulary of the trade (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fillwright.fills.player import (
    ADVANCED,
    ALL_LEVELS,
    BEGINNER,
    INTERMEDIATE,
    Level,
    Player,
)

__all__ = ["CHROMATIC", "LEFT_KINDS", "RIGHT_KINDS", "TEXTURES", "Texture", "in_turn",
           "texture_cost", "textures_of"]

LEFT_KINDS = MappingProxyType({
    # family: kinds of left-hand voicing, best first
    "root": ("root", "bass", "octave"),
    "two-note shell": ("shell 1-7", "shell 1-6", "shell 1-3", "shell 1-4", "shell 1-2"),
    "shell": ("shell 1-3-7", "shell 1-3-6", "shell 1-4-7", "shell 1-2-7", "triad",
              "root, fifth, octave"),
    "open": ("root and fifth", "shell 1-7", "shell 1-6", "tenth", "spread 1-5-10",
             "spread 1-7-10"),
    "tenth": ("tenth", "spread 1-5-10", "spread 1-7-10"),
    "guides": ("guide tones",),
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
})

CHROMATIC = ("fourths", "upper", "cluster")
"""Groups of `RIGHT_KINDS` that are out of style in a song of plain triads."""


@dataclass(frozen=True, slots=True)
class Texture:
    """One way of comping.

    name      the first part of the device name
    levels    levels that are offered it
    mode      "left": the left hand alone; "stride": root, then chords, the left hand alone;
              "over": the right hand over a left hand that keeps the root; "both": voicings
              struck by both hands over a root struck before; "answer": the hands take turns;
              "bass": the left hand walks to the landing's root; "together": both hands
              strike every hit
    left      family of `LEFT_KINDS` (in "stride" and "answer" that of the chords)
    right     group of `RIGHT_KINDS`
    voices    least and greatest number of right-hand keys (of both hands in "both")
    place     register of the right hand: "under" the held note, "low", "middle", "top",
              "above" the held note, "rising", "falling"
    held      what becomes of the held note: "finger", "released" or "pedal"
    motion    "inner": one voice moves, the others stay down; "inversions": every hit is
              another inversion
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
    styles: tuple[str, ...] = ()
    tenths: bool = False
    rare: bool = False
    cost: tuple[int, int, int] = (0, 0, 0)


_BEGINNER = (BEGINNER,)
_MIDDLE = (INTERMEDIATE,)
_UP = (INTERMEDIATE, ADVANCED)
_TOP = (ADVANCED,)
_ALL = ALL_LEVELS
_EASY = (BEGINNER, INTERMEDIATE)
_SLOW = ("ballad",)
_MOVING = ("medium", "fast", "waltz", "fast waltz", "straight", "compound")

TEXTURES: tuple[Texture, ...] = (
    # The left hand alone, the right hand keeps the melody note.
    Texture("shells", _ALL, "left", "shell", cost=(0, 4, 16)),
    Texture("two-note shells", _ALL, "left", "two-note shell", cost=(1, 5, 18)),
    Texture("root, then guide tones in the left hand", _ALL, "stride", "guides",
            cost=(1, 2, 7)),
    Texture("root, then rootless voicings in the left hand", _UP, "stride", "rootless",
            cost=(0, 0, 2)),
    Texture("root, then three-note rootless voicings in the left hand", _UP, "stride",
            "three-note rootless", cost=(0, 1, 4)),
    Texture("rootless voicings", _TOP, "left", "rootless", cost=(0, 0, 3)),
    Texture("bass line under the held note", _UP, "bass", "walk", "two", (2, 2),
            "under", "finger", cost=(0, 6, 6)),
    Texture("bass and tenths under the held note", _UP, "bass", "walk tenth", "two", (2, 2),
            "under", "finger", cost=(0, 6, 5)),
    # The right hand plays under the note it keeps.
    Texture("shell and one note under the held note", _BEGINNER, "over", "two-note shell",
            "one", (1, 1), "under", "finger", cost=(2, 0, 0)),
    Texture("guide tones under the held note", _ALL, "over", "root", "guides", (2, 2),
            "under", "finger", cost=(2, 3, 6)),
    Texture("two notes under the held note", _UP, "over", "two-note shell", "two", (2, 2),
            "under", "finger", cost=(0, 1, 4)),
    Texture("three notes under the held note", _TOP, "over", "open", "three", (3, 3), "under",
            "finger", cost=(0, 0, 1)),
    Texture("inner line under the held note", _UP, "over", "open", "two", (2, 2), "under",
            "finger", "inner", rare=True, cost=(0, 1, 1)),
    # The right hand leaves the melody note when it has been heard.
    Texture("guide tones over the root", _EASY, "over", "root", "guides", (2, 2), "middle",
            "released", cost=(1, 3, 0)),
    Texture("two notes in the top register over a shell", _BEGINNER, "over",
            "two-note shell", "two", (2, 2), "top", "released", cost=(3, 0, 0)),
    Texture("shell and guide tones, hands together", _BEGINNER, "together", "two-note shell",
            "two", (1, 2), "middle", "released", cost=(2, 0, 0)),
    Texture("three-note voicings over the root", _MIDDLE, "over", "root", "three", (3, 3),
            "middle", "released"),
    Texture("both hands low, guide tones and a colour", _UP, "over", "root", "three", (3, 3),
            "low", "released", cost=(0, 2, 2)),
    Texture("rootless voicings over the root", _UP, "over", "root", "four", (4, 4), "middle",
            "released", cost=(0, 0, 1)),
    Texture("spread voicings", _UP, "over", "open", "three", (3, 3), "middle", "released",
            cost=(0, 1, 0)),
    Texture("spread voicing with inner motion", _UP, "over", "open", "three", (3, 3),
            "middle", "released", "inner", rare=True, cost=(0, 1, 0)),
    Texture("top register, octave with inner notes", _UP, "over", "shell", "octave", (3, 4),
            "top", "released", rare=True, cost=(0, 2, 1)),
    Texture("low to high", _UP, "over", "two-note shell", "three", (3, 3), "rising",
            "released", rare=True, cost=(0, 2, 2)),
    Texture("high to low", _UP, "over", "two-note shell", "three", (3, 3), "falling",
            "released", rare=True, cost=(0, 3, 3)),
    Texture("fourths over the root", _UP, "over", "open", "fourths", (3, 3), "middle",
            "released", rare=True, cost=(0, 3, 0)),
    Texture("upper structures over a shell", _TOP, "over", "shell", "upper", (3, 3), "middle",
            "released", rare=True),
    Texture("clusters over a shell", _TOP, "over", "two-note shell", "cluster", (3, 3),
            "middle", "released", rare=True, cost=(0, 0, 5)),
    Texture("the hands answer each other", _UP, "answer", "two-note shell", "three", (3, 3),
            "middle", "released", styles=_MOVING, rare=True, cost=(0, 2, 1)),
    Texture("drop 2 through the inversions", _UP, "both", "root", "drop 2", (4, 4), "middle",
            "released", "inversions", rare=True, cost=(0, 3, 0)),
    # Slow tempo: the pedal holds the melody note, the left hand may roll.
    Texture("chord above the held note, kept by the pedal", _UP, "over", "open", "three",
            (3, 3), "above", "pedal", styles=_SLOW, rare=True, cost=(0, 1, 0)),
    Texture("tenths in the left hand", _UP, "over", "tenth", "three", (3, 3), "middle",
            "released", styles=_SLOW, tenths=True, cost=(0, 1, 0)),
)


def texture_cost(texture: Texture, level: Level, style: str) -> int:
    """What a texture costs at a level; in a ballad repeated left-hand chords cost more."""
    plain = style == "ballad" and texture.mode == "left" and level.comp.strict
    return texture.cost[level.rank] + (4 if plain else 0)


def textures_of(player: Player, style: str, holds: bool) -> tuple[Texture, ...]:
    """The textures a player is offered in a style of rhythm.

    holds   there is a melody note to hold; where there is none, nothing is played under it
    """
    taste = player.level.comp
    at_ease = taste.rolls and player.hand.tenths
    return tuple(t for t in TEXTURES
                 if player.level in t.levels
                 and (not t.styles or style in t.styles or (at_ease and t.tenths))
                 and (holds or (t.place not in ("under", "above")
                                and (t.mode != "left" or taste.left_alone))))


def in_turn(textures: Sequence[Texture], turn: int) -> str:
    """The name of the rare texture whose turn it is, "" where there is none."""
    rare = [t.name for t in textures if t.rare]
    return rare[turn % len(rare)] if rare else ""
