"""A place for passing chords, and what each row of the table of moves gives there.

A *place* is a chord that sounds, the chord that comes, and the key both are heard in.
`options` reads the table: it tests the conditions, spells the chords, weighs the
progression and writes the reason. The result knows nothing of time or of hands.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import LETTERS, Chord, follow_cost, letter
from fillwright.fills.devices.reharm.moves import MOVES, Move
from fillwright.fills.devices.reharm.words import Words, inner_line, is_two, leads, sentence
from fillwright.fills.player import ADVANCED, Level
from fillwright.fills.situation import Habits
from fillwright.memory import SEARCHES
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.chordtext import parse_suffix
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.local_key import DIATONIC
from fillwright.theory.pitch import Interval, NoteName, degree_interval

__all__ = ["CONDITIONS", "Option", "Place", "chord_at", "disguised", "options", "own_ways",
           "scale_place"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where passing chords are wanted.

    here, goal   the chord that sounds and the chord that comes
    ending       no melody comes after: the goal is the ending itself
    own          what the tune itself puts between two such chords elsewhere (see `own_ways`)
    """

    here: Harmony
    goal: Harmony
    ending: bool = False
    own: frozenset[Chord] = frozenset()

    @property
    def key(self) -> Key:
        """The local key of the chord here."""
        return self.here.key

    @property
    def collection(self) -> Key:
        """The key whose scale chords on the way are taken from: the local key, or the one that
        both chords have notes of instead: a major key's minor (a II V through the back door) or,
        where only the seventh step is lowered, the key of its fourth."""
        if self.key.mode == "minor":
            return self.key
        here, goal = _steps(self.here, self.key), _steps(self.goal, self.key)
        lowered = {step for step in _LOWERED if here.get(step) == goal.get(step) == {-1}}
        if any(_is_tonic(side, self.key) for side in (self.here, self.goal)):
            return self.key  # a blues is at home on a seventh chord
        if lowered == {_SEVENTH}:
            return Key.of(self.key.tonic + Interval(3, 5), "major")
        return Key.of(self.key.tonic, "minor") if lowered else self.key


@dataclass(frozen=True, slots=True)
class Option:
    """The chords a row gives at a place.

    chords   the added ones, in order
    cost     of the progression, the row's habit included
    reason   the sentence
    inner    pitch classes of the moving voice the sentence names, chord by chord; () where it
             names none
    """

    move: Move
    chords: tuple[Harmony, ...]
    cost: int
    reason: str
    inner: tuple[int, ...] = ()

    @property
    def identity(self) -> tuple[tuple[int, str, int], ...]:
        """Roots, kinds and basses: two options of one identity sound the same chords. Of a
        single chord only the quality counts: Cm7 and Cm6 are one idea."""
        if len(self.chords) == 1:
            chord = self.chords[0]
            return ((chord.root.pitch_class, letter(chord), _low(chord)),)
        return tuple((h.root.pitch_class, "M" if letter(h) == "M" else h.symbol.kind, _low(h))
                     for h in self.chords)


def own_ways(habits: Habits, here: Harmony, goal: Harmony) -> frozenset[Chord]:
    """A tune's own ways of getting from one chord to the other: see `Habits.between`."""
    return frozenset((root, LETTERS[quality]) for root, quality in habits.between(here, goal))


def _low(harmony: Harmony) -> int:
    lowest = harmony.symbol.lowest
    return harmony.root.pitch_class if lowest is None else lowest.pitch_class


def _plain_chord(harmony: Harmony) -> Chord:
    return harmony.root.pitch_class, letter(harmony)


def scale_place(harmony: Harmony, key: Key) -> int | None:
    """The place, 0 to 6, of a chord's root in the scale of a key; None outside it."""
    for place, name in enumerate(key.scale):
        if name.pitch_class == harmony.root.pitch_class:
            return place
    return None


# --- conditions ------------------------------------------------------------------------------

def _is_tonic(harmony: Harmony, key: Key) -> bool:
    quality = "M" if key.mode == "major" else "m"
    return (harmony.root.pitch_class == key.tonic.pitch_class
            and letter(harmony) in (quality, "7" if key.mode == "major" else quality)
            and "V" not in harmony.function)


def _leading(place: Place) -> bool:
    """Whether the goal stands on the leading tone, which has no dominant of its own."""
    return (place.goal.root.pitch_class + 1 - place.key.tonic.pitch_class) % 12 == 0


def _same(place: Place) -> bool:
    return (_plain_chord(place.here) == _plain_chord(place.goal)
            and _low(place.here) == _low(place.goal))


def _quality(side: str, quality: str) -> Callable[[Place], bool]:
    return lambda place: letter(getattr(place, side)) == quality


def _root_motion(place: Place) -> int:
    return (place.goal.root.pitch_class - place.here.root.pitch_class) % 12


def _bass_motion(place: Place) -> int:
    return (_low(place.goal) - _low(place.here)) % 12


def _is_sus(harmony: Harmony) -> bool:
    """Whether a dominant is printed without its third, which then cannot be held back."""
    return letter(harmony) == "7" and "3" not in harmony.tones


def _flat_nine(harmony: Harmony) -> bool:
    """Whether a dominant has a flat nine, printed or by its place: its sus chord has no natural
    ninth."""
    return "b9" in (*harmony.symbol.degrees, *harmony.scale.degrees)


def _takes_six(place: Place) -> bool:
    here = place.here
    return letter(here) == "M" and here.takes((here.root.pitch_class + 9) % 12)


def _resolves_minor(place: Place) -> bool:
    target = (place.here.root.pitch_class + 5 - place.key.tonic.pitch_class) % 12
    qualities = dict(DIATONIC[place.key.mode])
    return qualities.get(target, "maj7") in ("m7", "m6", "m7b5")


_INTO_MINOR = ("mixolydian b13", "mixolydian b9 #9 b13", "altered")
"""The scales of a dominant that resolves to a minor chord (or says so by its own symbol); with
the first of them it is the II of a major key."""


def _from_degree(place: Place, degree: int) -> int:
    """Semitones from a degree of the local scale (0 the tonic) up to the goal's lowest note: a
    walk that ends on the III arrives by step or by fifth, or goes back home."""
    return (_low(place.goal) - place.key.scale[degree].pitch_class) % 12


def _next_two_five(place: Place) -> bool:
    """Whether the goal begins a II V a half step below that of the chord here."""
    return _root_motion(place) == 11 and is_two(place.goal)

CONDITIONS: MappingProxyType[str, Callable[[Place], bool]] = MappingProxyType({
    "here major": _quality("here", "M"),
    "here minor": _quality("here", "m"),
    "here dominant": _quality("here", "7"),
    "here stable": lambda p: letter(p.here) in "Mm",
    "here sus": lambda p: _is_sus(p.here),
    "goal sus": lambda p: _is_sus(p.goal),
    "here flat nine": lambda p: _flat_nine(p.here),
    "goal flat nine": lambda p: _flat_nine(p.goal),
    "here inverted": lambda p: _low(p.here) != p.here.root.pitch_class,
    "here tonic": lambda p: _is_tonic(p.here, p.key),
    "here six": _takes_six,
    "goal major": _quality("goal", "M"),
    "goal minor": _quality("goal", "m"),
    "goal dominant": _quality("goal", "7"),
    "goal diminished": lambda p: letter(p.goal) in "oh",
    "goal stable": lambda p: letter(p.goal) in "Mm7",
    "goal tonic": lambda p: _is_tonic(p.goal, p.goal.key),
    "here its II": lambda p: _root_motion(p) == 5 and letter(p.here) in "mh",
    "here its V": lambda p: _root_motion(p) == 5 and letter(p.here) == "7",
    "here a fourth degree": lambda p: (p.here.root.pitch_class - p.key.tonic.pitch_class) % 12 == 5,
    "goal third degree": lambda p: (p.goal.root.pitch_class - p.key.tonic.pitch_class) % 12 == 4,
    "goal over its fifth": lambda p: (_low(p.goal) - p.goal.root.pitch_class) % 12 == 7,
    "goal same root": lambda p: _root_motion(p) == 0 and letter(p.goal) == "7",
    "turns": lambda p: _root_motion(p) == 0 and letter(p.here) != letter(p.goal),
    "goal fifth below": lambda p: _root_motion(p) == 5,
    "goal inverted": lambda p: _low(p.goal) != p.goal.root.pitch_class,
    "goal leads to a minor key": lambda p: p.goal.scale.name in _INTO_MINOR[1:],
    "goal leads to minor": lambda p: p.goal.scale.name in _INTO_MINOR,
    "goal on the tonic": lambda p: (p.goal.root == p.key.tonic and letter(p.goal) in "M7m"),
    "goal second degree": lambda p: (p.goal.root.pitch_class - p.key.tonic.pitch_class) % 12 == 2,
    "here a second degree": lambda p: (
        p.here.root.pitch_class - p.key.tonic.pitch_class) % 12 == 2,
    "here its related II": lambda p: letter(p.here) in "mh",
    "half step down": lambda p: _root_motion(p) == 11,
    "next II V": _next_two_five,
    "alike": lambda p: letter(p.here) == letter(p.goal),
    "goal a II": lambda p: is_two(p.goal),
    "goal after the III": lambda p: _from_degree(p, 2) in (1, 5, 8, 10),
    "goal after the II": lambda p: _from_degree(p, 1) in (5, 10, 11),
    "goal a fourth degree": lambda p: (p.goal.root.pitch_class - p.key.tonic.pitch_class) % 12 == 5,
    "goal a fifth degree": lambda p: (p.goal.root.pitch_class - p.key.tonic.pitch_class) % 12 == 7,
    "target": lambda p: letter(p.goal) in "Mm7" or (letter(p.goal) == "h" and not _leading(p)),
    "same": _same,
    "whole step up": lambda p: _bass_motion(p) == 2,
    "whole step down": lambda p: _bass_motion(p) == 10,
    "ending": lambda p: p.ending,
    "resolves to minor": _resolves_minor,
})
"""Every condition a row may name, besides "up N" and "down N" (steps of the local scale from
the chord here to the goal) and "last leads" (the last chord leads to the goal by a named
resolution)."""


def _holds(condition: str, place: Place) -> bool:
    negated = condition.startswith("not ")
    name = condition.removeprefix("not ")
    steps = re.fullmatch(r"(up|down) (\d)", name)
    if steps is not None:
        here, goal = scale_place(place.here, place.key), scale_place(place.goal, place.key)
        wanted = int(steps[2]) * (1 if steps[1] == "up" else -1)
        # a slash chord has no root position to walk to
        held = (here is not None and goal is not None and (goal - here - wanted) % 7 == 0
                and place.goal.symbol.bass is None)
    elif name == "last leads":
        return True  # tested once the chords are known
    else:
        held = CONDITIONS[name](place)
    return held != negated


# --- chords ------------------------------------------------------------------------------------

_TOKEN = re.compile(r"([b#]?[1-7]):([^@]*)(?:@([b#]?[1-7]))?")
_STEP = re.compile(r"([+-])(\d)")


def _name(anchor: NoteName, degree: str) -> NoteName:
    return anchor + degree_interval(degree)


def chord_at(root: NoteName, suffix: str, bass: NoteName | None = None) -> ChordSymbol:
    """A chord symbol on a root, spelled without double accidentals, B♯, E♯, C♭ or F♭.

    >>> str(chord_at(NoteName("D", -1) + degree_interval("b2"), "7"))
    'D7'
    """
    kind, degrees = parse_suffix(suffix)
    symbol = ChordSymbol(root, kind, degrees, bass, suffix)
    return symbol.transposed(Interval(0, 0))


def _diatonic(key: Key, place: int) -> ChordSymbol:
    name = key.scale[place % 7]
    quality = dict(DIATONIC[key.mode])[(name.pitch_class - key.tonic.pitch_class) % 12]
    return chord_at(name, quality)


def _expand(move: Move, place: Place) -> list[tuple[ChordSymbol, ...]]:
    """The chords a pattern stands for; several rows of chords for "*"."""
    if move.pattern.startswith("*"):
        key, steps = place.collection, move.pattern[1:].split()
        rows: list[tuple[ChordSymbol, ...]] = [(_diatonic(key, int(step) - 1),) for step in steps]
        if key.mode == "minor" and "1" in steps:  # its sixth may be foreign to the place
            rows.append((chord_at(key.tonic, "m7"),))
        return rows
    anchor = {"goal": place.goal.root, "here": place.here.root,
              "key": place.key.tonic,
              "bass": place.goal.symbol.lowest or place.goal.root}[move.anchor]
    like = place.goal.symbol if move.anchor == "goal" else place.here.symbol
    symbols: list[ChordSymbol] = []
    for token in move.pattern.split():
        walk = _STEP.fullmatch(token)
        if walk is not None:
            start = scale_place(place.here, place.key)
            if start is None:
                return []
            by = int(walk[2]) if walk[1] == "+" else -int(walk[2])
            symbols.append(_diatonic(place.key, start + by))
            continue
        match = _TOKEN.fullmatch(token)
        if match is None:
            raise ValueError(f"not a pattern: {token!r}")
        bass = None if match[3] is None else _name(anchor, match[3])
        root = _name(anchor, match[1])
        if match[2] == "=":
            symbol = ChordSymbol(root, like.kind, like.degrees, None, like.suffix)
            symbols.append(symbol.transposed(Interval(0, 0)))
        else:
            symbols.append(chord_at(root, match[2], bass))
    return [tuple(symbols)]


def _from_scale(move: Move) -> bool:
    """Whether a row takes its chords from the scale of a key."""
    return move.pattern[0] in "*+-"


_ROOT_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_RAISED = MappingProxyType({1: 0, 8: 4})
"""The step of the scale a root so many semitones above the tonic stands on; a diminished chord
stands on a raised one."""
_LOWERED, _SEVENTH = (2, 5, 6), 6
"""The steps on which a minor key differs from the major key on its tonic."""


def _steps(harmony: Harmony, key: Key) -> dict[int, set[int]]:
    """The notes of a chord as steps of a scale, 0 to 6, and their alterations: the same in every
    key, however a key has to be spelled."""
    above = (harmony.root.pitch_class - key.tonic.pitch_class) % 12
    root = _RAISED.get(above, _ROOT_STEPS[above]) if letter(harmony) in "oh" else (
        _ROOT_STEPS[above])
    found: dict[int, set[int]] = {}
    for degree in harmony.tones:
        step = (root + int(degree.lstrip("b#")) - 1) % 7
        by = harmony.root.pitch_class + degree_pitch_class(degree) - key.scale[step].pitch_class
        found.setdefault(step, set()).add((by + 6) % 12 - 6)
    return found


def _contradicts(chord: Harmony, place: Place) -> bool:
    """Whether a chord of the scale has a note that both its neighbours have otherwise, as the E
    of G6 between Cm7 and F7; or one outside the signature that one of them has otherwise.

    A chord on the way belongs to the collection of its neighbours (common practice).
    """
    key = place.collection
    sides = (_steps(place.here, key), _steps(place.goal, key))
    for step, alters in _steps(chord, key).items():
        for alter in alters:
            here, goal = (side.get(step, set()) for side in sides)
            if alter not in here | goal and (here & goal or (alter and here | goal)):
                return True
    return False


def _harmonies(symbols: tuple[ChordSymbol, ...], place: Place, key: Key
               ) -> tuple[Harmony, ...]:
    row = [*symbols, place.goal.symbol]
    return tuple(harmony_of(symbol, key, following)
                 for symbol, following in pairwise(row))


_TONICIZED = 12
"""What it costs to hear a step in the key of the goal where the goal is not at home there: as
much as a motion outside the key's own table (three in ten, see `function`)."""


_OWN_WAY = -20
"""What it is worth that the tune itself takes this chord between two such chords elsewhere: it
is in its style for certain (design choice; seven times as likely)."""


def _path_cost(chords: list[Chord], place: Place, to_goal: bool) -> int:
    """Twice the mean cost of the steps, in whichever of the two local keys it is cheaper.

    to_goal   the chords belong to the goal: each step may also be heard in the goal's own
              key, at a price
    """
    steps = list(pairwise(chords))
    own: Key | None = None
    if to_goal and letter(place.goal) in "Mm":
        own = Key.of(place.goal.root, "major" if letter(place.goal) == "M" else "minor")

    def cost(step: tuple[Chord, Chord], key: Key) -> int:
        plain = follow_cost(*step, key)
        return plain if own is None else min(plain, follow_cost(*step, own) + _TONICIZED)

    return min(round(2 * sum(cost(step, key) for step in steps) / len(steps))
               for key in dict.fromkeys((place.here.key, place.goal.key, place.collection)))


@SEARCHES.keep
def options(place: Place, melody: int | None = None, level: Level = ADVANCED,
            without: frozenset[str] = frozenset()) -> tuple[Option, ...]:
    """Everything the table offers at a place, cheapest first.

    melody   pitch class of the note above, where there is one: a major seventh chord under
             its own root gives way to the sixth chord. Whether the note fits is for the
             caller to say: a chord may come after it is let go.
    level    the highest level of rows to read
    without  devices that are switched off

    Of rows that give the same chords the cheapest is kept, of equal ones the first.
    """
    found: dict[tuple[tuple[int, str, int], ...], Option] = {}
    for move in MOVES:
        if (not level.is_taught(move.level) or move.device in without
                or not all(_holds(condition, place) for condition in move.when)):
            continue
        for symbols in _expand(move, place):
            option = _option(move, symbols, place, melody)
            if option is None:
                continue
            identity = (*option.identity, (move.delay, str(move.instead), int(move.colour)))
            other = found.get(identity)
            if other is None or option.cost < other.cost:
                found[identity] = option
    return tuple(sorted(found.values(), key=lambda o: o.cost))


def disguised(chord: Harmony, written: Harmony) -> bool:
    """Whether a chord is the written one again: root, quality, third and bass."""
    return (_plain_chord(chord) == _plain_chord(written) and _low(chord) == _low(written)
            and chord.third == written.third)


def _diminished_undone(first: Harmony, place: Place) -> bool:
    """Whether a written diminished chord that leads by half step to the coming bass would be led
    somewhere else first."""
    return (letter(place.here) == "o" and _bass_motion(place) in (1, 11)
            and _low(first) not in (_low(place.goal), _low(place.here)))


def _option(move: Move, symbols: tuple[ChordSymbol, ...], place: Place, melody: int | None
            ) -> Option | None:
    key = place.collection if move.pattern.startswith("*") else place.key
    chords = _harmonies(symbols, place, key)
    if move.device == "sus delay":  # before a flat nine no natural tension
        chords = tuple(replace(h, tensions=()) if h.symbol.suffix == "7sus4" else h
                       for h in chords)
    if melody is not None and move.device != "sus delay":
        symbols = tuple(
            chord_at(h.root, "6", h.symbol.bass)
            if h.symbol.suffix == "maj7" and h.root.pitch_class == melody else h.symbol
            for h in chords)
        chords = _harmonies(symbols, place, key)
    if not (move.delay or move.instead or move.motion == "inner line"):
        # where the written chord comes back on the way, it comes as it is written
        chords = (chords[0], *(place.here if disguised(h, place.here) else h
                               for h in chords[1:]))
    if any(a.symbol == b.symbol for a, b in pairwise(chords)):
        return None
    row = [_plain_chord(h) for h in chords]
    here, goal = _plain_chord(place.here), _plain_chord(place.goal)
    if not (move.colour or move.delay or move.instead):
        # a chord that is the written one again, or already the goal, is no passing chord
        if move.pattern.startswith("*") and row[0][0] in (here[0], goal[0]):
            return None
        if disguised(chords[-1], place.goal):
            return None
        if (row[0] == here and _low(chords[0]) == _low(place.here)) and (
                move.motion != "inner line" or chords[0].symbol == place.here.symbol):
            return None  # a sus chord that takes its third is no new chord either
        if _diminished_undone(chords[0], place):
            return None
        if _from_scale(move) and any(_contradicts(chord, place) for chord in chords):
            return None
        if move.device.startswith("chord standing") and (
                chords[0].symbol.pitch_classes == place.here.symbol.pitch_classes):
            return None  # it would not stand for the written chord, it would be it (C6, Am7)
    following = place.here if move.delay else place.goal
    how = leads(chords[-1], following, place.key)
    if how is None and not move.colour:
        return None
    if move.colour or (move.device == "sus delay" and row[0][0] in (here[0], goal[0])):
        path = [here, goal]  # the function stays, only the third waits
    elif move.delay:
        path = [*row, here]
    elif move.instead:
        path = [*row, goal]
    elif "alike" in move.when:
        path = [here, goal]  # the one between only slides
    elif move.motion == "inner line" and len(row) > 1 and all(c[0] == here[0] for c in row):
        path = [here, goal]
    else:
        path = [here, *row, goal]
    cost = _path_cost(path, place, move.anchor == "goal") + move.habit
    if move.motion == "thirds" and melody is not None and not all(
            h.takes(melody) for h in chords):
        return None  # the note on top has to belong to all of them
    own = len(row) == 1 and row[0] in place.own and not (move.delay or move.instead)
    words = Words(place.here, place.goal, chords, how or "", key, move.delay,
                  None if melody is None else place.here.spell(melody))
    line = inner_line(words) if "{inner}" in move.reason else ()
    said = sentence(move.reason, words)
    if own:
        said = f"{said} The tune goes this way itself in another place."
    return Option(move, chords, cost + (_OWN_WAY if own else 0), said,
                  tuple(name.pitch_class for name in line))
