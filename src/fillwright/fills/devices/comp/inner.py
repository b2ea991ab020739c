"""A voice that moves under the held note: the thumb's or the tenor's line.

One voice goes by step through a chord that stands still, and its last degree is a chord tone
or leads on to the next chord: seventh to sixth, fifth to raised fifth to sixth, fourth to
third, ninth to flat ninth (common practice). The rows of `LINES` say which chords take them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, groupby, pairwise, permutations

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.strokes import PlannedStroke
from fillwright.fills.devices.device import Example
from fillwright.fills.player import ADVANCED, BEGINNER, INTERMEDIATE, Level, Player
from fillwright.fills.voicing.forms import VoicingForm, adds_sixth, colours, compatible
from fillwright.fills.voicing.voicings import Voicing, form_voicings
from fillwright.memory import SEARCHES
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["CLOSES", "LINES", "MovingVoice", "line_fits", "line_steps", "line_voicings",
           "longest", "pair_voicings", "there_and_back"]

KIND = "moving voice"


@dataclass(frozen=True, slots=True)
class MovingVoice:
    """Degrees that a voice goes through over one chord.

    qualities   of the chords that take it
    tones       degrees the chord must have, by pitch class; to a bare triad a pianist adds them
                where its scale has them
    lowest      the lowest level it is taught at
    once        it is sung once, not to and fro: a suspension, a step that leads on
    example     worked by hand in C
    into        only where the next chord is of such a quality and its root lies a fifth below
    cost        what it costs to offer it: a suspension that nearly every chord takes is no news
    along       the degrees of a second voice that goes with it; () where it goes alone
    ends        only where nothing follows: the chord closes the tune
    """

    degrees: tuple[str, ...]
    qualities: tuple[str, ...]
    tones: tuple[str, ...] = ()
    lowest: Level = INTERMEDIATE
    into: tuple[str, ...] = ()
    once: bool = False
    cost: int = 0
    along: tuple[str, ...] = ()
    ends: bool = False
    example: Example = field(kw_only=True)

    @property
    def is_chromatic(self) -> bool:
        """It goes through a tone that is not in the chord's key."""
        return any(a[-1] == b[-1] or a == "b6" for row in (self.degrees, self.along)
                   for a, b in pairwise(row))

    @property
    def voices(self) -> int:
        """How many voices move."""
        return 2 if self.along else 1

    @property
    def name(self) -> str:
        return "–".join(d.replace("b", "♭").replace("#", "♯") for d in self.degrees)


_HOME = ("major", "minor", "dominant", "minor-major", "suspended")

LINES: tuple[MovingVoice, ...] = (
    MovingVoice(("7", "6"), ("major",), ("7",), BEGINNER,
                example=Example("Cmaj7 4", "0 4 C3", "0 2 B3, 0 4 E4, 2 2 A3", held="G4")),
    MovingVoice(("5", "#5", "6"), ("major",), ("5",), BEGINNER,
                example=Example("C 3", "0 3 C3", "0 1 G3, 0 3 E4, 1 1 G#3, 2 1 A3", held="C5")),
    MovingVoice(("5", "b6", "6"), ("minor",), ("5",),
                example=Example("Cm 3", "0 3 C3", "0 1 G3, 0 3 Eb4, 1 1 Ab3, 2 1 A3", held="C5",
                                key="Cm")),
    MovingVoice(("4", "3"), ("major", "dominant"), ("3", "5"), BEGINNER, once=True, cost=4,
                example=Example("G7 4", "0 4 G2 F3", "0 2 C4, 0 4 D4, 2 2 B3", held="G4")),
    MovingVoice(("4", "b3"), ("minor",), ("b3", "5"), once=True, cost=4,
                example=Example("Dm7 4", "0 4 D3 C4", "0 2 G4, 0 4 A4, 2 2 F4", held="D5")),
    MovingVoice(("9", "1"), ("major", "minor"), ("5",), once=True, cost=6,
                example=Example("Cmaj7 4", "0 4 C3 G3", "0 2 D4, 0 4 E4, 2 2 C4", held="G4")),
    MovingVoice(("9", "b9"), ("dominant",), ("3", "b7"), into=_HOME, once=True,
                example=Example("G7 4", "0 4 G2 F3", "0 2 A3, 0 4 B3, 2 2 Ab3", "Cmaj7 E5", "D5")),
    MovingVoice(("13", "b13"), ("dominant",), ("3", "b7"), ADVANCED, into=_HOME, once=True,
                example=Example("G7 4", "0 4 G2 B3", "0 2 E4, 0 4 F4, 2 2 Eb4", "Cmaj7 E5", "B4")),
    MovingVoice(("1", "7", "b7", "6"), ("minor",), ("5",),
                example=Example("Cm 4", "0 4 C3 G3", "0 1 C4, 0 4 Eb4, 1 1 B3, 2 1 Bb3, 3 1 A3",
                                held="G4", key="Cm")),
    MovingVoice(("1", "7", "b7"), ("minor",), ("5",), once=True,
                example=Example("Cm 3", "0 3 C3 G3", "0 1 C4, 0 3 Eb4, 1 1 B3, 2 1 Bb3",
                                held="G4", key="Cm")),
    MovingVoice(("b7", "6"), ("minor",), ("b7", "5"), into=("dominant", "suspended"), once=True,
                example=Example("Dm7 4", "0 4 D3 A3", "0 2 C4, 0 4 F4, 2 2 B3", "G7 B4", "A4")),
)


CLOSES: tuple[tuple[str, MovingVoice], ...] = (
    # Over the last root the tones of the subdominant, or of the minor one, come home.
    ("plagal close", MovingVoice(
        ("4", "3"), ("major",), ("3", "5"), BEGINNER, once=True, along=("6", "5"), ends=True,
        example=Example("C 4", "0 4 C3", "0 2 F4 A4, 2 2 E4 G4", held="C5"))),
    ("minor plagal close", MovingVoice(
        ("4", "3"), ("major",), ("3", "5"), once=True, along=("b6", "5"), ends=True,
        example=Example("C 4", "0 4 C3", "0 2 F4 Ab4, 2 2 E4 G4", held="C5"))),
)
"""Two voices that move together where a tune closes, with the name of each."""


def line_fits(line: MovingVoice, harmony: Harmony, following: Harmony | None) -> bool:
    """Whether a chord takes a line: quality and tones are right, and nothing that the symbol
    names is contradicted."""
    own = (*harmony.tones, *(harmony.tensions if adds_sixth(harmony) else ()))
    tones = {degree_pitch_class(d) for d in own}
    if harmony.symbol.quality not in line.qualities or any(
            degree_pitch_class(d) not in tones for d in line.tones):
        return False
    bass = harmony.symbol.bass
    if bass is not None and bass.pitch_class != harmony.root.pitch_class:
        return False
    named = [d for d in harmony.symbol.degrees if d not in harmony.tones]
    if not all(compatible((a, b)) for a in named for b in line.degrees):
        return False
    if line.ends:
        return following is None
    first = line.degrees[0]
    if line.into == _HOME and named:
        return False  # the sheet has its own colour
    if line.into:
        return (following is not None and following.symbol.quality in line.into
                and (following.root.pitch_class - harmony.root.pitch_class) % 12 == 5
                and (first in harmony.tensions or first in harmony.tones))
    return True


def there_and_back(line: MovingVoice) -> tuple[str, ...]:
    """The degrees of a line and back to before its first."""
    return (*line.degrees, *line.degrees[-2:0:-1])


def longest(line: MovingVoice) -> int:
    """Strokes of a line before it would set out a third time: what goes to and fro twice says no
    more."""
    return 2 * len(there_and_back(line)) - 1


def line_steps(line: MovingVoice, right: Sequence[PlannedStroke], following: Harmony | None,
               beat_quarter: Fraction) -> list[PlannedStroke] | None:
    """The strokes with the degree the moving voice has on each, or None where it cannot move.

    following   the chord after the last stroke

    Over every chord that takes it and is struck twice or more; past its end the line turns
    back. What is sung once has a beat for its first tone, that it is heard to be waiting.
    """
    done: list[PlannedStroke] = []
    groups = [list(group) for _, group in groupby(right, key=lambda s: s.harmony)]
    moves = False
    for place, group in enumerate(groups):
        after = groups[place + 1][0].harmony if place + 1 < len(groups) else following
        if len(group) < 2 or not line_fits(line, group[0].harmony, after):
            done += group
            continue
        moves = True
        turning = there_and_back(line)
        row = [turning[i % len(turning)] for i in range(len(group))]
        if len(group) > longest(line):
            return None
        if line.once and (len(group) != len(line.degrees) or (
                group[1].onset_quarter - group[0].onset_quarter < beat_quarter)):
            return None
        if row[-1] != line.degrees[-1] and not _rests(group[0].harmony, row[-1]):
            return None  # the voice would stop on its way
        done += [replace(stroke, degree=degree)
                 for stroke, degree in zip(group, row, strict=True)]
    return done if moves else None


def _rests(harmony: Harmony, degree: str) -> bool:
    """May a voice stay on this degree?"""
    classes = {degree_pitch_class(d) for d in (*harmony.tones, *harmony.tensions)}
    return degree_pitch_class(degree) in classes


@SEARCHES.keep
def pair_voicings(harmony: Harmony, pair: tuple[str, str], player: Player, room: tuple[int, int]
                  ) -> tuple[Voicing, ...]:
    """Two voices that move together on their degrees, either of them at the bottom.

    room   lowest and highest key
    """
    found = [voicing for row in (pair, pair[::-1]) for voicing in form_voicings(
        harmony, VoicingForm(KIND, row), player.hand.name, low=room[0], top=room[1])]
    return tuple(sorted(found, key=lambda v: (v.midis, v.degrees)))


@SEARCHES.keep
def line_voicings(harmony: Harmony, line: tuple[str, ...], player: Player,
                  room: tuple[int, int], voices: tuple[int, int]) -> tuple[Voicing, ...]:
    """The moving voice on a degree at the bottom, and what stands still above it.

    line     its degree, then all those it goes through: nothing else takes them or rubs them
    room     lowest and highest key
    voices   least and greatest number of keys
    """
    c = colours(harmony, player.level.voicing.palette)
    taken = {degree_pitch_class(x) for x in line}
    stays = harmony.symbol.quality == "dominant"  # its seventh stands over its thirteenth
    over = set() if stays else {(pc + 1) % 12 for pc in taken}
    pool = [d for d in c.all_but_root if degree_pitch_class(d) not in taken
            and (d == harmony.third or degree_pitch_class(d) not in over)
            and all(compatible((d, x)) for x in line)]
    forms = [VoicingForm(KIND, (line[0], *row)) for count in range(voices[0] - 1, voices[1])
             for others in combinations(pool, count) for row in permutations(others)]
    found = [voicing for form in forms
             for voicing in form_voicings(harmony, form, player.hand.name, low=room[0],
                                          top=room[1])]
    return tuple(sorted(found, key=lambda v: (v.midis, v.degrees)))
