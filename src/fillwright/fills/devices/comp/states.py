"""Voicings to choose from at one stroke, and what every hand pays for them.

`lefts` and `rights` say which voicings a hand may choose from and what each is worth by
itself: over its chord, at the level, under the held note while it sounds and over the keys the
other hand has down. Whatever would break a rule of the hands or of sound is left out there; the
rest is a matter of cost.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.comp.colours import altered_by_choice
from fillwright.fills.voicing.forms import compatible, is_inversion
from fillwright.fills.voicing.voicings import Voicing
from fillwright.lattice import Costs
from fillwright.memory import VOICINGS
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["NO_HELD", "WEIGHTS", "States", "altered_cost", "is_altered", "is_other_chord",
           "missing",
           "rootless_cost", "rubs", "sparing"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice unless said
    "left register": 1,     # semitone of the left hand's bottom outside its room
    "high root": 6,         # semitone of a lone bass note above G3
    "right register": 1,    # two semitones of the right hand's middle off its aim
    "voice leading": 1,     # semitone moved in all (Levine ch. 7: forms that move least)
    "bass line": 1,         # a third of the left hand's movement
    "guides leap": 4,       # semitone beyond a step of a shell's keys above the bass
    "leap": 2,              # semitone of the top line beyond a third
    "lone leap": 4,         # more, where that line is all the right hand has
    "lower leap": 3,        # semitone of the lower of two voices beyond a third, over one chord
    "standing top": 3,      # the same top note again, above beginner
    "turns back": 8,        # a line of locked hands that stands or turns
    "same chord again": 6,  # exactly the same keys again; a third of it for a beginner
    "turned over": 40,      # a chord of the left hand that comes again in another order or octave
    "says less": 20,        # a chord struck again without some of its keys
    "given away": 8,        # the landing's own key on top of the last stroke
    "space": 6,             # beat that nothing answers after the held note has ended
    "struck while held": 40,  # more, in a ballad, where it would better be held
    "missing colour": 8,    # a degree the symbol names and nobody plays
    "missing alteration": 24,  # an altered degree the symbol names and nobody plays, at any level
    "colour of a shell": 3,  # the same where the left hand is alone, above beginner
    "plain": 3,             # no colour above beginner; twice that for a left hand that is alone
    "thin": 8,              # a moving voice with nothing beside it, above beginner
    "same way": 4,          # the top goes the way of a bass that goes further than a step
    "altered": 1,           # a plain dominant altered, where it leads on
    "altered undone": 40,   # an alteration followed by the plain colour: it leads nowhere
    "guides": 1000,         # a third or a seventh that nobody plays: only where there is no other
    "told by the melody": 4,  # a third or a seventh that only the melody has
    "no root": 16,          # an inversion whose root nobody plays
    "root above": 10,       # the root is all the right hand strikes
    "doubled": 2,           # a tone both hands have
    "tendency doubled": 8,  # ... and it wants to go on: a dominant's third, a seventh
    "octave grip": 10,      # the thumb has the octave of the held note under its finger
    "melody doubled": 2,    # the held note's tone again below it while it sounds
    "under the melody": 2,  # semitone nearer than a minor third to the held note
    "struck through": 14,   # the melody note struck again when the hand has left it
    "let go without need": 30,  # the held note, for a chord that fits under it
    "end": 14,              # at a tune's end another top above the tune's last note
    "over the landing": 60,  # the left hand lies above the melody that comes back
    "landing key": 8,       # the landing's own key rings up to it
    "hole": 3,              # semitone beyond a tenth between the hands, nothing sounding there
    "low intervals": 2,     # semitone below the strict low interval limits
    "second inside": 1,     # a half step inside a right-hand voicing
    "from the melody": 2,   # semitone of the first top beyond a fifth from the held note
    "sung lower": 8,        # it is left for its own tone an octave below
    "landing": 1,           # semitone of the top voice beyond a fourth from the landing note
    "far landing": 5,       # ... beyond an octave; three times as much for a beginner
})

NO_HELD = -1
"""Stands for the held note where it does not sound."""


class States:
    """Voicings to choose from, and their costs; compared by identity.

    voicings   at least one
    costs      term -> costs, shape (states,)
    keys       from the top down, the lowest repeated, shape (states, 5)
    counts     number of keys, shape (states,)
    altered    whether a plain dominant is altered, shape (states,)
    """

    __slots__ = ("altered", "costs", "counts", "keys", "voicings")

    def __init__(self, voicings: Sequence[Voicing], costs: Sequence[dict[str, int]]) -> None:
        self.voicings = tuple(voicings)
        rows = [[*reversed(v.midis[-5:])] for v in voicings]
        self.keys: npt.NDArray[np.int64] = np.array(
            [row + [row[-1]] * (5 - len(row)) for row in rows], dtype=np.int64)
        self.counts: npt.NDArray[np.int64] = np.array([len(row) for row in rows],
                                                      dtype=np.int64)
        terms = sorted({name for row in costs for name, cost in row.items() if cost})
        self.costs: Costs = {name: np.array([row.get(name, 0) for row in costs],
                                            dtype=np.int64) for name in terms}
        self.altered: npt.NDArray[np.bool_] = np.array(
            [row.get("altered", 0) > 0 for row in costs], dtype=np.bool_)

    def __len__(self) -> int:
        return len(self.voicings)


@VOICINGS.keep
def sparing(states: States, line: tuple[str, ...]) -> States | None:
    """Those voicings that leave the degrees of a moving voice to it, or None; the root at the
    bottom is the bass, not the voice's tone."""
    moving = {degree_pitch_class(d) for d in line}
    places = [i for i, v in enumerate(states.voicings)
              if all(degree_pitch_class(d) not in moving and all(compatible((d, x)) for x in line)
                     for d in v.degrees[v.degrees[0] == "1":] if d != "bass")]
    if not places:
        return None
    return States([states.voicings[i] for i in places],
                  [{name: int(row[i]) for name, row in states.costs.items()} for i in places])


def rubs(midis: Sequence[int], held: int, harmony: Harmony) -> bool:
    homes = flat_nine_homes(harmony.symbol)
    return held in midis or RUB.among(midis, held, homes)


def is_other_chord(harmony: Harmony, degrees: Collection[str]) -> bool:
    """Is this a diminished chord with an added tone and without its third or fifth? It would
    be heard as another chord: C sharp, B flat, F sharp and E are no C sharp diminished."""
    if harmony.symbol.quality != "diminished":
        return False
    classes = {degree_pitch_class(d) for d in degrees if d != "bass"}
    own = {degree_pitch_class(d) for d in harmony.symbol.degrees}
    return bool(classes - own) and not {3, 6} <= classes


def rootless_cost(harmony: Harmony, degrees: Collection[str]) -> int:
    """Over a bass that is the third, the fifth or the seventh a chord is told by its root."""
    return WEIGHTS["no root"] * (is_inversion(harmony) and "1" not in degrees)


def altered_cost(harmony: Harmony, degrees: Collection[str]) -> int:
    return WEIGHTS["altered"] * any(altered_by_choice(harmony, d) for d in degrees)


def degrees_are_plain(degrees: Collection[str]) -> bool:
    """Is this a bare triad, or less?"""
    return {degree_pitch_class(d) for d in degrees if d != "bass"} <= {0, 3, 4, 7}


def is_altered(degree: str) -> bool:
    """Is this degree, or group of degrees, an alteration that a symbol names?"""
    return degree[0] in "b#"


def missing(required: Iterable[str], degrees: Collection[str]) -> int:
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    return sum(not any(degree_pitch_class(d) in present for d in group.split("|"))
               for group in required)
