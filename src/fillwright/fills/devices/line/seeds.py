"""Seeds: what a line is asked for before it is drawn, so that a gap has several ideas.

A seed narrows a question: pitches at some notes, intervals at some moves, the part of the
room to begin in. It is a wish, not a name: whether the line is what was wished for is heard
afterwards, from its notes (see `devices`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice, pairwise, zip_longest

from fillwright.exact import Fraction
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.gestures import (
    LEAST_RHYTHM,
    LEAST_SHAPE,
    gaps_of,
    in_step,
    last_leap,
    like,
    melody_cells,
    twice_as_fast,
)
from fillwright.fills.devices.line.motives import is_told, openings
from fillwright.fills.devices.line.rhythms import LineRhythm
from fillwright.fills.devices.line.room import Room
from fillwright.fills.devices.line.sounding import parts, quarters
from fillwright.fills.devices.line.walk import CHROMATIC, TENSION, TONE, Slot
from fillwright.theory.chord import degree_pitch_class

__all__ = ["Seed", "melody_rhythms", "seeds_of"]

_CHANGES = 2
"""Changes that a line of guide tones goes through at least."""

_STEPS_UP, _STEPS_DOWN = (1, 2), (-1, -2)
_SEQUENCE = (1, 2, 3, 4, 5)
"""Semitones that a motive is carried on by."""

_OCTAVE = 12


@dataclass(slots=True)
class Seed:
    """Pitches (as pitch classes or keys) by note, intervals by move.

    classes   note: pitch classes it is kept to
    keys      note: MIDI numbers it is kept to
    moves     move (from note i to i + 1): intervals it is kept to
    """

    classes: dict[int, frozenset[int]] = field(default_factory=dict)
    keys: dict[int, frozenset[int]] = field(default_factory=dict)
    moves: dict[int, tuple[int, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _View:
    """What seeds are made from: room, rhythm, slots, and throws."""

    room: Room
    rhythm: LineRhythm
    slots: tuple[Slot, ...]
    dice: Dice

    @property
    def count(self) -> int:
        return len(self.slots)

    @property
    def leads(self) -> bool:
        """The last note runs into the landing."""
        return (self.room.landing is not None
                and self.rhythm.air < self.room.situation.beat_quarter / 2)

    def joined(self, first: int, last: int) -> bool:
        return not any(self.slots[i].closes for i in range(first, last))

    def tones(self, index: int) -> frozenset[int]:
        return frozenset(pc for pc, kind in enumerate(self.slots[index].kinds) if kind == TONE)

    def degree(self, index: int, degree: str | None) -> frozenset[int]:
        if degree is None:
            return frozenset()
        return frozenset({(self.slots[index].root + degree_pitch_class(degree)) % 12})

    def is_last(self, index: int) -> bool:
        """Whether a note goes into the next chord, or into the landing."""
        if index + 1 == self.count:
            return self.leads
        return self.slots[index].span != self.slots[index + 1].span and self.joined(index,
                                                                                  index + 1)

    def one_of(self, places: Sequence[int]) -> int:
        return places[self.dice.below(len(places))]


_Maker = Callable[[_View], Seed | None]


def _free(view: _View) -> Seed | None:
    return Seed()


def _led(view: _View, index: int) -> list[tuple[frozenset[int], frozenset[int]]]:
    """The ways from seventh to third or from third to seventh across the change before a note, a
    step down (seventh to third first), as pitch classes."""
    before, here = (view.room.spans[view.slots[k].span].harmony for k in (index - 1, index))
    old7, new7 = (h.seventh if h.seventh in h.symbol.degrees else None for h in (before, here))
    ways = ((view.degree(index - 1, old), view.degree(index, new)) for old, new in (
        (old7, here.third), (before.third, new7)))
    return [(one, two) for one, two in ways
            if any((a - b) % _OCTAVE in (0, *_STEPS_UP) for a in one for b in two)]


def _changes(view: _View) -> list[int]:
    """The notes before which a chord changes without a breath."""
    return [i for i in range(1, view.count)
            if view.slots[i].span != view.slots[i - 1].span and view.joined(i - 1, i)]


def _change(view: _View) -> Seed | None:
    """Seventh to third across a change, or third to seventh."""
    places = [i for i in _changes(view) if _led(view, i)]
    if not places:
        return None
    i = view.one_of(places)
    ways = _led(view, i)
    one, two = ways[0] if view.dice.below(3) else ways[-1]
    return Seed({i - 1: one, i: two}, moves={i - 1: (0, *_STEPS_DOWN)})


def _targets(view: _View, least: int) -> list[int]:
    return [i for i in range(least, view.count) if view.slots[i].place <= 1
            and view.joined(i - least, i) and not view.slots[i].closes | (i < least)]


def _enclosed(view: _View) -> Seed | None:
    """Both sides of a chord tone on a beat, one a half step away."""
    places = _targets(view, 2)
    if not places:
        return None
    i = view.one_of(places)
    down, up = ((-2, 1), (-3, 1))[view.dice.below(2)], ((2, -1), (3, -1))[view.dice.below(2)]
    first, second = down if view.dice.below(2) else up
    return Seed({i: view.tones(i)}, moves={i - 2: (first,), i - 1: (second,)})


def _landing_enclosed(view: _View) -> Seed | None:
    landing = view.room.landing
    if not view.leads or landing is None or view.count < 3 or not view.joined(view.count - 2,
                                                                             view.count - 1):
        return None
    side = 1 if view.dice.below(2) else -1
    return Seed(keys={view.count - 1: frozenset({landing - side}),
                      view.count - 2: frozenset({landing + side, landing + 2 * side})})


def _to_ninth(view: _View) -> Seed | None:
    """Third, fifth, seventh, ninth; a flat nine last over its chord, so that it goes home."""
    places = [i for i in range(view.count - 3)
              if len({s.span for s in view.slots[i:i + 4]}) == 1 and view.joined(i, i + 3)]
    if not places:
        return None
    homeward = [i for i in places if view.is_last(i + 3)]
    i = view.one_of(homeward or places)
    harmony = view.room.spans[view.slots[i].span].harmony
    flat = (bool(homeward) and harmony.symbol.quality == "dominant"
            and "b9" in harmony.tensions)
    row = (harmony.third, harmony.symbol.fifth or "5", harmony.seventh, "b9" if flat else "9")
    if harmony.seventh == "6" or any(d is None for d in row):
        return None
    seed = Seed({i + k: view.degree(i, d) for k, d in enumerate(row)},
                moves=dict.fromkeys(range(i, i + 3), (3, 4, 5)))
    landing = view.room.landing
    if flat and i + 4 < view.count:
        seed.moves[i + 3] = _STEPS_DOWN
    elif flat and landing is not None:
        seed.keys[i + 3] = frozenset({landing + 1, landing + 2})
    return seed


def _chromatic_run(view: _View) -> Seed | None:
    """A run by step with a half step passed through, chord tones on its beats."""
    places = [i for i in range(1, view.count - 2)
              if view.slots[i].place >= 2 and view.joined(i - 1, i + 2)]
    if not places:
        return None
    i = view.one_of(places)
    down = view.dice.below(3) > 0
    half, step = (-1, _STEPS_DOWN) if down else (1, _STEPS_UP)
    seed = Seed({i: frozenset(pc for pc, kind in enumerate(view.slots[i].kinds)
                              if kind == CHROMATIC)},
                moves={i - 1: (half,), i: (half,), i + 1: step})
    for k in range(i - 1, i + 3):
        if view.slots[k].place <= 1:
            seed.classes[k] = view.tones(k)
    if i >= 2 and view.joined(i - 2, i - 1):
        seed.moves[i - 2] = step
        if view.slots[i - 2].place <= 1:
            seed.classes[i - 2] = view.tones(i - 2)
    return seed


def _arpeggio(view: _View) -> Seed | None:
    """Chord tones up or down, three or four in a row."""
    size = 3 + view.dice.below(2)
    places = [i for i in range(view.count - size + 1)
              if len({s.span for s in view.slots[i:i + size]}) == 1
              and view.joined(i, i + size - 1)]
    if not places:
        return None
    i = view.one_of(places)
    move = (3, 4, 5) if view.dice.below(2) else (-3, -4, -5)
    return Seed({k: view.tones(k) for k in range(i, i + size)},
                moves=dict.fromkeys(range(i, i + size - 1), move))


def _scale(view: _View) -> Seed | None:
    size = 4 + view.dice.below(2)
    places = [i for i in range(view.count - size + 1) if view.joined(i, i + size - 1)]
    if not places:
        return None
    i = view.one_of(places)
    move = _STEPS_UP if view.dice.below(2) else _STEPS_DOWN
    seed = Seed(moves=dict.fromkeys(range(i, i + size - 1), move))
    for k in range(i, i + size):
        seed.classes[k] = frozenset(pc for pc, kind in enumerate(view.slots[k].kinds)
                                    if kind < CHROMATIC)
    return seed


def _neighbour(view: _View) -> Seed | None:
    places = [i for i in range(view.count - 2) if view.joined(i, i + 2)]
    if not places:
        return None
    i = view.one_of(places)
    out, back = ((1, 2), (-1, -2)) if view.dice.below(2) else ((-1, -2), (1, 2))
    return Seed({i: view.tones(i), i + 2: view.tones(i + 2)}, moves={i: out, i + 1: back})


def _leap(view: _View) -> Seed | None:
    places = [i for i in range(view.count - 2) if view.joined(i, i + 2)]
    if not places:
        return None
    i = view.one_of(places)
    up = view.dice.below(2)
    return Seed({i + 1: frozenset(pc for pc, kind in enumerate(view.slots[i + 1].kinds)
                                  if kind <= TENSION)},
                moves={i: (8, 9, 10, 12) if up else (-8, -9, -12),
                       i + 1: _STEPS_DOWN if up else _STEPS_UP})


_CELLS = (((1, 2), (3, 4)), ((-1, -2), (3, 4)), ((3, 4), (-1, -2)), ((-3, -4), (1, 2)),
          ((3, 4, 5), (-3, -4)), ((-1, -2), (-3, -4)))


def _sequence(view: _View) -> Seed | None:
    """A cell and the same cell on another step, in one rhythm."""
    gaps = [b - a for a, b in pairwise(view.rhythm.onsets)]
    places = [i for i in range(view.count - 5)
              if gaps[i:i + 2] == gaps[i + 3:i + 5] and view.joined(i, i + 5)]
    if not places:
        return None
    i = view.one_of(places)
    cell = _CELLS[view.dice.below(len(_CELLS))]
    seed = Seed(moves={i: cell[0], i + 1: cell[1], i + 3: cell[0], i + 4: cell[1]})
    shift = (1, 2) if view.dice.below(2) else (-1, -2)
    seed.moves[i + 2] = tuple(sorted({s - a - b for s in shift for a in cell[0]
                                      for b in cell[1]}))
    return seed


_ALTERED = ("b9", "#9", "#11", "b13")


def _alterations(view: _View, span: int) -> frozenset[str]:
    """The altered colours of a dominant with its third."""
    harmony = view.room.spans[span].harmony
    if harmony.symbol.quality != "dominant" or harmony.third != "3":
        return frozenset()
    return frozenset(_ALTERED) & frozenset(harmony.tensions)


def _homeward(view: _View, size: int) -> list[int]:
    """The notes with which a dominant goes on without a breath, so many notes of it before."""
    return [i for i in range(view.count - 1, size - 2, -1)
            if view.is_last(i) and view.slots[i - size + 1].span == view.slots[i].span
            and view.joined(i - size + 1, i)]


def _goes_on(view: _View, index: int, seed: Seed) -> Seed:
    """A seed whose note goes by step to a tone of the next chord."""
    if index + 1 < view.count:
        seed.classes[index + 1] = view.tones(index + 1)
        seed.moves[index] = (*_STEPS_UP, *_STEPS_DOWN)
    return seed


def _altered(view: _View) -> Seed | None:
    """Two altered tones before the chord goes home, and a step to where it goes."""
    for i in _homeward(view, 2):
        degrees = _alterations(view, view.slots[i].span)
        if len(degrees) > 1:
            classes = frozenset(pc for d in degrees for pc in view.degree(i, d))
            return _goes_on(view, i, Seed({i: classes, i - 1: classes}))
    return None


_HOMEWARD = (("#9", "b9"), ("b7", "b9"), ("b13", "b9"), ("b9", "b13"), ("b7", "b13"))
"""With which two of its tones a dominant goes home: the flat nine to the fifth of its tonic, the
flat thirteen to the ninth or the third (common practice)."""


def _pair_home(view: _View) -> Seed | None:
    """Two tones of an altered dominant that are known from there, its third or seventh before
    them, and a step home."""
    for i in _homeward(view, 3):
        degrees = _alterations(view, view.slots[i].span)
        pairs = [pair for pair in _HOMEWARD if degrees >= set(pair) - {"b7"}]
        if pairs:
            pair = pairs[view.dice.below(len(pairs))]
            harmony = view.room.spans[view.slots[i].span].harmony
            guides = view.degree(i, harmony.third) | view.degree(i, harmony.seventh)
            return _goes_on(view, i, Seed({
                i - 2: guides | view.degree(i, "#9") if "#9" in degrees else guides,
                i - 1: view.degree(i, pair[0]), i: view.degree(i, pair[1])}))
    return None


def _tritone(view: _View) -> Seed | None:
    """The chord a tritone away broken up or down, and a step to where the dominant goes."""
    for i in _homeward(view, 3):
        if {"#11", "b9"} <= _alterations(view, view.slots[i].span):
            up = view.dice.below(2)
            degrees, move = (("#11", "b7", "b9"), (3, 4, 5)) if up else (("b9", "b7", "#11"),
                                                                         (-3, -4, -5))
            return _goes_on(view, i, Seed(
                {i - 2 + k: view.degree(i - 2 + k, d) for k, d in enumerate(degrees)},
                moves={i - 2: move, i - 1: move}))
    return None


def _guide_line(view: _View) -> Seed | None:
    """Third and seventh by turns through all the changes of the line."""
    places = _changes(view)
    if len(places) + view.is_last(view.count - 1) < _CHANGES:
        return None
    seed = Seed()
    for i in places:
        ways = [(one, two) for one, two in _led(view, i)
                if one == seed.classes.get(i - 1, one)]
        if not ways:
            return None
        seed.classes[i - 1], seed.classes[i] = ways[view.dice.below(len(ways))]
        seed.moves[i - 1] = (0, *_STEPS_DOWN)
    return seed


def _blues(view: _View) -> Seed | None:
    situation = view.room.situation
    if not situation.blues or view.count < 3:
        return None
    tonic = situation.key.tonic.pitch_class
    minor = situation.key.mode == "minor"
    places = [i for i in range(view.count - 1) if view.slots[i].place >= 2
              and view.joined(i, i + 1)]
    if not places:
        return None
    i = view.one_of(places)
    blue, move = (6, -1) if minor or not view.dice.below(2) else (3, 1)
    return Seed({i: frozenset({(tonic + blue) % 12})}, moves={i: (move,)})


def _melody_shape(view: _View) -> Seed | None:
    """The melody's last moves in the melody's time, moved elsewhere or turned over."""
    onsets = [parts(onset) for onset in view.rhythm.onsets]
    gaps = [b - a for a, b in pairwise(onsets)]
    cells = [c for c in melody_cells(view.room.melody, view.room.beat, LEAST_SHAPE)
             if len(c) <= view.count
             and in_step(gaps[:len(c) - 1], [b[0] - a[0] for a, b in pairwise(c)])]
    cells = cells or [c for c in melody_cells(view.room.melody, view.room.beat, LEAST_RHYTHM)
                      if len(c) <= view.count and twice_as_fast(gaps[:len(c) - 1], c)]
    if not cells:
        return _melody_leap(view)
    sign = 1 if view.dice.below(4) else -1
    return Seed(moves={i: _near(sign * (b[1] - a[1])) for i, (a, b) in enumerate(
        pairwise(cells[0]))})


def _melody_motive(view: _View) -> Seed | None:
    """The melody's last notes, or the first of its phrase, on other keys, and again a few steps on
    where the rhythm comes again too."""
    gaps = gaps_of(tuple(map(parts, view.rhythm.onsets)))
    melody, beat = view.room.melody, view.room.beat
    for cell in chain(melody_cells(melody, beat, LEAST_RHYTHM), openings(melody, beat)):
        size = len(cell)
        if size > view.count or not is_told(cell) or gaps[:size - 1] != gaps_of(
                tuple(onset for onset, _ in cell)):
            continue
        moves = [b[1] - a[1] for a, b in pairwise(cell)]
        seed = Seed(classes={0: frozenset(range(12)) - {cell[0][1] % 12}},
                    moves=dict(enumerate(map(_near, moves))))
        if gaps[size:2 * size - 1] == gaps[:size - 1]:
            way = 1 if view.dice.below(2) else -1
            seed.moves[size - 1] = tuple(sorted({way * by - sum(moves) for by in _SEQUENCE}))
            seed.moves |= {size + i: _near(move) for i, move in enumerate(moves)}
        return seed
    return None


def _melody_leap(view: _View) -> Seed | None:
    """The melody's last leap, taken up at once."""
    leap = last_leap(view.room.melody, view.room.beat)
    if not leap or view.count < LEAST_RHYTHM or not view.joined(0, 1):
        return None
    return Seed(moves={0: (leap,)})


def _near(move: int) -> tuple[int, ...]:
    return tuple(m for m in range(-_OCTAVE, _OCTAVE + 1) if like(m, move))


def _both_chords(view: _View) -> Seed | None:
    """A cell over one chord and the same a step lower over the next."""
    gaps = [b - a for a, b in pairwise(view.rhythm.onsets)]
    places = [i for i in range(3, view.count - 2)
              if view.slots[i - 1].span != view.slots[i].span == view.slots[i + 2].span
              and view.slots[i - 3].span == view.slots[i - 1].span
              and gaps[i - 3:i - 1] == gaps[i:i + 2] and view.joined(i - 3, i + 2)]
    if not places:
        return None
    i = view.one_of(places)
    one, two = _CELLS[view.dice.below(len(_CELLS))]
    lower = tuple(sorted({-s - a - b for s in (1, 2) for a in one for b in two}))
    return Seed({i - 3: view.tones(i - 3), i: view.tones(i)},
                moves={i - 3: one, i - 2: two, i - 1: lower, i: one, i + 1: two})


def _calm_start(view: _View) -> Seed | None:
    """The third of the chord first."""
    harmony = view.room.spans[view.slots[0].span].harmony
    return Seed({0: view.degree(0, harmony.third)}) if harmony.third else None


_PLAIN: tuple[_Maker, ...] = (_arpeggio, _neighbour, _calm_start, _scale, _arpeggio, _free)
_FREE: tuple[_Maker, ...] = (
    _free, _chromatic_run, _free, _to_ninth, _enclosed, _free, _sequence, _arpeggio, _free,
    _leap, _free, _landing_enclosed)

_OF_ALTERED: tuple[_Maker, ...] = (_pair_home, _to_ninth, _altered, _tritone)
"""What an altered dominant gives."""

_OF_THE_PLACE: tuple[_Maker, ...] = (
    _guide_line, _altered, _change, _both_chords, _to_ninth, _blues)
"""What only some places give: a change of chord, a dominant that goes
home, a tune that bears the blues. Where a place gives it, it is asked for first."""


def seeds_of(room: Room, rhythm: LineRhythm, slots: tuple[Slot, ...], dice: Dice, first: int,
             count: int) -> Iterator[Seed]:
    """`count` seeds for a rhythm: the melody's shape where the rhythm is the melody's, one of what
    else this place alone gives (two where the player alters chords), then from the row of what
    every place gives, beginning with the `first`. Over altered chords what they give comes first of
    all."""
    view = _View(room, rhythm, slots, dice)
    special = _OF_ALTERED if room.altered else _OF_THE_PLACE if room.taste.foreign else ()
    makers = _FREE if room.taste.foreign else _PLAIN
    answer = _melody_motive(view) or _melody_shape(view)
    own = [seed for seed in (maker(view) for maker in special) if seed is not None]
    start = view.dice.below(len(own)) if own else 0
    chosen = [*own[start:], *own[:start]][:count if room.altered else 1 + room.taste.alters]
    if answer is not None and not room.altered:
        chosen = [answer, *chosen]
    yield from chosen
    yield from islice(filter(None, (makers[(first + k) % len(makers)](view)
                                    for k in range(len(makers)))), count - len(chosen))


def melody_rhythms(room: Room, start: Fraction, end: Fraction) -> Iterator[tuple[Fraction, ...]]:
    """The rhythm of the melody's last notes on every beat where it has room, by turns: as it lay
    to the beat; twice, one after the other; half a beat off; twice as fast, on every half beat; of
    its phrase's first notes as they lay, and half a beat off. The longest first. A rhythm has more
    than one value, but what is twice as fast, or is known by its shape."""
    beat = room.situation.beat_quarter
    cells = melody_cells(room.melody, room.beat, LEAST_RHYTHM)
    rows: list[list[tuple[Fraction, ...]]] = [[], [], [], [], []]
    for cell in cells:
        offsets = tuple(quarters(onset - cell[0][0]) for onset, _ in cell)
        phase = quarters(cell[0][0]) % beat
        if len({b - a for a, b in pairwise(offsets)}) > 1:
            rows[0] += _placed(offsets, phase, beat, (start, end))
        if is_told(cell):
            period = -(-(offsets[-1] + beat / 2) // beat) * beat
            twice = (*offsets, *(period + offset for offset in offsets))
            rows[1] += _placed(twice, phase, beat, (start, end))
            rows[2] += _placed(offsets, (phase + beat / 2) % beat, beat, (start, end))
        rows[3] += _placed(tuple(offset / 2 for offset in offsets), phase / 2, beat / 2,
                           (start, end))
    for cell in openings(room.melody, room.beat):
        offsets = tuple(quarters(onset - cell[0][0]) for onset, _ in cell)
        phase = quarters(cell[0][0]) % beat
        rows[4] += _placed(offsets, phase, beat, (start, end))
        rows[4] += _placed(offsets, (phase + beat / 2) % beat, beat, (start, end))
    for turn in zip_longest(*rows):
        yield from filter(None, turn)


def _placed(offsets: tuple[Fraction, ...], phase: Fraction, every: Fraction,
            room: tuple[Fraction, Fraction]) -> list[tuple[Fraction, ...]]:
    """A rhythm at every place of a phase where it lies in some room."""
    start, end = room
    place = phase + start - start % every
    if place < start:
        place += every
    found = []
    while place + offsets[-1] < end:
        found.append(tuple(place + offset for offset in offsets))
        place += every
    return found
