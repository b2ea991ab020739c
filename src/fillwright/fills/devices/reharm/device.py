"""What a move of reharmonization is: one object with its name, its ways and its worked example.

A *way* is a pattern of chords to put between the chord that sounds (*here*) and the chord
that comes (*goal*), with the conditions under which it may stand there, the level from which
it is taught, the least space it wants, and the sentence that explains it.

Patterns. `5:7` is a dominant seventh on the fifth degree above the way's root: the root of the
goal, of the chord here, or the tonic of the local key. `=` takes the quality of the goal (or
of the chord here); `@3` puts that degree in the bass; `+1` and `-2` are the diatonic seventh
chords so many steps of the local scale above or below the chord here; `*2 4` is any one of
the diatonic chords on these degrees of the local key; `~` is any one that the tune itself has
between these two chords elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum, Flag, auto

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm.conditions import Condition
from fillwright.fills.devices.reharm.place import (
    Place,
    chord_at,
    diatonic,
    own_symbol,
    scale_place,
)
from fillwright.fills.player import BEGINNER, Level
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.pitch import Interval, degree_interval

__all__ = ["Fare", "Heard", "Motion", "Move", "Root", "Stands", "Way"]


class Root(Enum):
    """What the degrees of a pattern count from; BASS is the lowest note of the goal."""

    GOAL = auto()
    HERE = auto()
    KEY = auto()
    BASS = auto()


class Stands(Enum):
    """Where the chords of a way stand against the written one: after it; before it, in its
    place, which it takes then; instead of it; or as nothing but its colours."""

    AFTER = auto()
    DELAY = auto()
    INSTEAD = auto()
    COLOUR = auto()


class Motion(Enum):
    """How the hands move."""

    SMOOTH = auto()
    CONTRARY = auto()
    PARALLEL = auto()
    COMMON_TOP = auto()
    THIRDS = auto()
    TENTHS = auto()
    INNER_LINE = auto()
    PEDAL = auto()


class Heard(Flag):
    """What the sentence names, and the hands have to do: the bass line from the chord here on,
    or from the first added chord; a voice that moves by half steps; triads, which one hand has
    to itself."""

    NOTHING = 0
    BASS = auto()
    WALK = auto()
    LINE = auto()
    TRIAD = auto()


class Fare(Enum):
    """What kind of food a move is: plain diatonic fare, which is taught first and is dull for
    those who have had it; what every player knows; what is rich."""

    PLAIN = auto()
    USUAL = auto()
    RICH = auto()


@dataclass(frozen=True, slots=True)
class Way:
    """One way to make a move.

    chords   the pattern
    root     what its degrees count from
    when     conditions, all of which must hold
    says     the sentence; in braces what is filled in (see `words`)
    level    the lowest level it is taught at
    beats    the least number of felt beats from the chord here to the goal
    taste    what the trade's habit adds to the cost, or takes off, tenths of a natural logarithm
    slides   the chords only slide into the goal: the progression is the one without them
    """

    chords: str
    root: Root
    when: tuple[Condition, ...]
    says: str
    level: Level = BEGINNER
    beats: int = 2
    motion: Motion = Motion.SMOOTH
    stands: Stands = Stands.AFTER
    heard: Heard = Heard.NOTHING
    taste: int = 0
    slides: bool = False

    def __post_init__(self) -> None:
        if not self.chords or self.beats < 1 or not self.says.endswith("."):
            raise ValueError(f"no way: {self.chords!r}")

    @property
    def from_scale(self) -> bool:
        """Whether it takes its chords from the scale of a key."""
        return self.chords[0] in "*+-"

    @property
    def of_the_tune(self) -> bool:
        """Whether it takes its chords from the tune itself."""
        return self.chords == "~"

    @property
    def single(self) -> bool:
        """Whether it is one chord that follows the written one."""
        return self.stands is Stands.AFTER and (
            self.chords.startswith("*") or " " not in self.chords)

    def fits(self, place: Place) -> bool:
        """Whether its conditions hold."""
        return all(condition.holds(place) for condition in self.when)

    def at(self, place: Place) -> list[tuple[ChordSymbol, ...]]:
        """The chords it stands for at a place; several rows of chords for "*" and "~"."""
        if self.of_the_tune:
            root = place.goal.root.pitch_class  # on it the goal would only come early
            return [(own_symbol(place, chord),) for chord in sorted(place.own) if chord[0] != root]
        if self.chords[0] == "*":
            key, degrees = place.collection, self.chords[1:].split()
            rows: list[tuple[ChordSymbol, ...]] = [
                (diatonic(key, int(degree) - 1),) for degree in degrees]
            if key.mode == "minor" and "1" in degrees:  # its sixth may be foreign to the place
                rows.append((chord_at(key.tonic, "m7"),))
            return rows
        found: list[ChordSymbol] = []
        for token in self.chords.split():
            symbol = self._chord(token, place)
            if symbol is None:
                return []
            found.append(symbol)
        return [tuple(found)]

    def _chord(self, token: str, place: Place) -> ChordSymbol | None:
        walk = _STEP.fullmatch(token)
        if walk is not None:
            start = scale_place(place.here, place.key)
            by = int(walk[2]) if walk[1] == "+" else -int(walk[2])
            return None if start is None else diatonic(place.key, start + by)
        match = _TOKEN.fullmatch(token)
        if match is None:
            raise ValueError(f"not a pattern: {token!r}")
        anchor = {Root.GOAL: place.goal.root, Root.HERE: place.here.root,
                  Root.KEY: place.key.tonic,
                  Root.BASS: place.goal.symbol.lowest or place.goal.root}[self.root]
        root = anchor + degree_interval(match[1])
        if match[2] == "=":
            like = (place.goal if self.root is Root.GOAL else place.here).symbol
            return ChordSymbol(root, like.kind, like.degrees, None, like.suffix).transposed(
                Interval(0, 0))
        return chord_at(root, match[2],
                        None if match[3] is None else anchor + degree_interval(match[3]))


_TOKEN = re.compile(r"([b#]?[1-7]):([^@]*)(?:@([b#]?[1-7]))?")
_STEP = re.compile(r"([+-])(\d)")


@dataclass(frozen=True, slots=True)
class Move:
    """A device of reharmonization.

    name      the trade's name of it
    fare      what kind of food it is
    ways      the ways to make it
    example   one of them worked by hand in C
    colour    nothing but the colour of the written chord changes
    """

    name: str
    fare: Fare
    ways: tuple[Way, ...]
    example: Example
    colour: bool = False
