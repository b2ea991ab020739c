"""Lines drawn from the learnt costs: each as often as a soloist's habits make it likely.

A question is a row of slots with the pitches each allows. The chain is of second order: what
a note costs depends on the two before it. All ways through are summed from the first slot to
the last, then lines are drawn from the last slot back, each with its exact share of all that
is allowed (forward filtering, backward sampling; Carter & Kohn, Biometrika 81, 1994). So
what a rule forbids never comes, and what is left keeps its proportions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.learnt import LIMIT, NO_INTERVAL, before_class, table
from fillwright.memory import SEARCHES

__all__ = ["CHROMATIC", "FREEDOM", "GOES_ON", "HALF_STEPS", "ON_BEATS", "PASSING", "REPEATED",
           "SPARED", "TENSION", "TONE", "Question", "Slot", "Ways", "surprise", "ways_of"]

TONE, TENSION, PASSING, CHROMATIC = 0, 1, 2, 3
"""What a pitch is in its chord: chord tone, tension, scale note to be passed through, foreign."""

_LEAP, _WIDE, _OCTAVE = 5, 8, 12
_DESCENT = 2
_FAR = 7
_SKIP = 5

REPEATED = 1.0
"""The share of repeated keys that is left."""

HALF_STEPS = 0.7
"""The share of half steps that is left: foreign notes and landings, which rules lead by half
step, bring enough of their own."""

FREEDOM = 3.0
"""How much less the usual is preferred than solos do: rules and a short way to the landing
leave less that is unusual, and a whole line is to surprise as much as a real one. The most of its
surprise comes from its leaps, see `Question.leaps`."""

GOES_ON = 0.6
"""The share that is left of moves that go on the same way after a leap: three of five leaps in
solos are turned back, and preferring the usual less (`FREEDOM`) would leave one in two (Weimar Jazz
Database)."""

Grid = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Slot:
    """An onset of a line.

    place     as in `learnt.PLACES`
    cls       class of the chord that governs it, as in the learnt tables
    root      its pitch class
    kinds     for each pitch class what it is in the chord
    span      index of the governing chord
    held      sounds longer than an eighth
    closes    the last note before a breath, the landing with air, or the end
    down      on the first beat of the bar
    colours   pitch classes that alter the chord though its symbol does not print them
    """

    place: int
    cls: int
    root: int
    kinds: tuple[int, ...]
    span: int
    held: bool
    closes: bool
    down: bool = False
    colours: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of the walk.

    slots      in order of time
    low, high  the room, as MIDI numbers
    only       per slot None or the pitches it is kept to
    moves      per step (to slot i + 1) None or the intervals it is kept to
    first      the held note before the line, or None
    landing    (MIDI number, slot) of the note after it, or None
    air        whether half a beat or more is silent before the landing
    reach      semitones within which the landing lies from the last note, and from a chord tone
    repeats    notes may be struck again and again
    leaps      how much likelier leaps are made than solos make them
    """

    slots: tuple[Slot, ...]
    low: int
    high: int
    only: tuple[tuple[int, ...] | None, ...]
    moves: tuple[tuple[int, ...] | None, ...]
    first: int | None
    landing: tuple[int, Slot] | None
    air: bool
    reach: tuple[int, int]
    repeats: bool = False
    leaps: float = 1.0


@lru_cache(maxsize=1)
def _weights() -> Grid:
    """The learnt intervals as shares: (place, class, degree, interval before, interval)."""
    shares: Grid = np.exp2(-table("interval") / (100.0 * FREEDOM))
    shares[..., [LIMIT - 1, LIMIT + 1]] *= HALF_STEPS
    shares[..., LIMIT] *= REPEATED
    return shares


@SEARCHES.keep
def _steps(place: int, cls: int, root: int, low: int, size: int) -> Grid:
    """The shares of all triples of pitches, by the chord and place of the third; the index of
    a pitch counts from `low`."""
    keys = np.arange(size)
    between = keys[None, :] - keys[:, None]
    before = np.clip(between, -9, 9) + 9
    degree = (keys + low - root) % 12
    move = np.clip(between, -LIMIT, LIMIT) + LIMIT
    shares: Grid = _weights()[place, cls][degree[None, :, None], before[:, :, None],
                                          move[None, :, :]]
    shares[np.broadcast_to(np.abs(between)[None], shares.shape) > _OCTAVE] = 0.0
    return shares * _shape_rules(size)


@lru_cache(maxsize=64)
def _shape_rules(size: int) -> Grid:
    """What no line does whatever the chord: a wide leap that goes on the same way by leap, two
    leaps of more than an octave in all, one key three times. And what it does less: go on the same
    way after a leap."""
    keys = np.arange(size)
    one = (keys[None, :] - keys[:, None])[:, :, None]
    two = (keys[None, :] - keys[:, None])[None, :, :]
    same_way = (one > 0) == (two > 0)
    on = (np.abs(one) >= _WIDE) & same_way & (np.abs(two) > 2)
    on |= (np.abs(one) > 2) & same_way & (np.abs(two) >= _WIDE)
    on |= (np.abs(one) >= _LEAP) & (np.abs(two) >= _LEAP) & (np.abs(one + two) > _OCTAVE)
    on |= (one == 0) & (two == 0)
    back = (one == -two) & (np.abs(one) >= _LEAP)  # away by a leap and back by the same
    goes_on = (np.abs(one) >= _LEAP) & same_way & (two != 0)
    shares: Grid = np.logical_not(on | back) * np.where(goes_on, GOES_ON, 1.0)
    return shares


@SEARCHES.keep
def _pair_rules(before: tuple[int, ...], here: tuple[int, ...], low: int, size: int,
                easy: int) -> Mask:
    """A note to be passed through goes on by step, a foreign one by half step.

    easy   pitch class of the one that may also leap to what rests
    """
    keys = np.arange(size)
    step = np.abs(keys[None, :] - keys[:, None])
    kind = np.array(before)[(keys + low) % 12][:, None]
    there = np.array(here)[(keys + low) % 12][None, :]
    easy_here = ((keys + low) % 12 == easy)[:, None]
    far = (step > 2) & ((there > TENSION) | ~easy_here)
    bad = (kind == PASSING) & (far | (step == 0))
    bad |= (kind == CHROMATIC) & ((step > 3) | (step == 0))
    bad |= (kind == CHROMATIC) & (there == CHROMATIC) & (step != 1)
    allowed: Mask = np.logical_not(bad)
    return allowed


@SEARCHES.keep
def _marked(pitch_classes: tuple[int, ...]) -> Mask:
    """For each pitch class whether it is among some."""
    found = np.zeros(12, dtype=np.bool_)
    found[list(pitch_classes)] = True
    return found


def _place_rules(before: Slot, here: Slot, low: int, size: int) -> Mask:
    """What lies on a beat, or before a change of chord: an avoid note on a beat goes to a chord
    tone at once, a foreign one to what rests; a foreign note before a change goes to a tone of the
    coming chord; the minor third over a major one goes up into it, as in the blues. An altered
    colour goes on by step, or by a skip to another or to a tone of the same chord; the sharp nine
    only to another, or up into the third that it is under: it would take back the leading tone
    just before the chord goes home. What belies a chord is come to by step, and so is the fourth
    over a third; on a beat also the sixth of a minor chord, and a tone of the chord before that
    the new one has not."""
    keys = np.arange(size)
    step = np.abs(keys[None, :] - keys[:, None])
    kind = np.array(before.kinds)[(keys + low) % 12][:, None]
    there = np.array(here.kinds)[(keys + low) % 12][None, :]
    bad = np.zeros((size, size), dtype=np.bool_)
    if before.place <= 1:
        bad |= (kind == PASSING) & ((step > 2) | (there != TONE)) & (
            (keys + low) % 12 != _easy(before))[:, None]
        bad |= (kind == CHROMATIC) & ((step != 1) | (there > TENSION))
        blue = (kind == CHROMATIC) & ((keys + low - before.root) % 12 == _MINOR_THIRD)[:, None]
        bad |= blue & (before.cls <= 1) & (keys[None, :] - keys[:, None] != 1)
    if before.span != here.span:
        bad |= (kind == CHROMATIC) & (there != TONE)
    if before.colours:
        coloured, on = (_marked(s.colours)[(keys + low) % 12] for s in (before, here))
        skips = on[None, :] | ((there == TONE) & (before.span == here.span))
        nine = ((keys + low) % 12 == _sharp_nine(before))[:, None]
        bad |= nine & ((before.span != here.span)
                       | (~on[None, :] & (keys[None, :] - keys[:, None] != 1)))
        bad |= coloured[:, None] & ((step > 2) & ~((step <= _SKIP) & skips) | (step == 0))
    belies = _marked(_WRONG[here.cls])[(keys + low - here.root) % 12]
    bad |= belies[None, :] & (there > TENSION) & (step > _DESCENT)
    bad |= ((keys + low) % 12 == _avoided(here))[None, :] & (step > _DESCENT)
    if here.place <= 1:
        bad |= ((keys + low) % 12 == _easy(here))[None, :] & (step > _DESCENT)
        if before.span != here.span:  # what only the chord before it had
            old = np.array(before.kinds)[(keys + low) % 12] == TONE
            bad |= (old[None, :] & (there != TONE)) & (step > _DESCENT)
    allowed: Mask = np.logical_not(bad)
    return allowed


@SEARCHES.keep
def _triple_rules(one: tuple[int, ...], two: tuple[int, ...], three: tuple[int, ...], low: int,
                  size: int, breath: bool) -> Mask | None:
    """A foreign note that does not go on by half step encloses the third note, together with
    the second; two foreign notes in a row go on the same way; one that goes down by half step is
    come to from above. None where nothing is foreign.

    breath   there is a hole before the third note
    """
    keys = np.arange(size)
    first = np.array(one)[(keys + low) % 12] == CHROMATIC
    second = np.array(two)[(keys + low) % 12] == CHROMATIC
    if not first.any() and not second.any():
        return None
    home = np.array(three)[(keys + low) % 12] == TONE
    step = keys[None, :] - keys[:, None]
    a, b = step[:, :, None], step[None, :, :]
    encloses = (np.sign(a) == -np.sign(b)) & (a + b == np.sign(a)) & home[None, None, :]
    if breath:
        encloses = np.zeros_like(encloses)
    bad = first[:, None, None] & (np.abs(a) > 1) & ~encloses
    bad |= first[:, None, None] & second[None, :, None] & (b != a)
    bad |= second[None, :, None] & (b == -1) & ~from_above(a)
    allowed: Mask = np.logical_not(bad)
    return allowed


def from_above(step: npt.NDArray[np.int64]) -> Mask:
    """Whether a foreign note that goes down by half step is come to as in a descent, by step
    from above. From elsewhere the scale's own note leads down better (common practice)."""
    found: Mask = (step < 0) & (step >= -_DESCENT)
    return found


@SEARCHES.keep
def _allowed(slot: Slot, low: int, size: int, leads: bool, first: bool) -> Grid:
    """`_pool` as shares."""
    return np.array(_pool(slot, low, size, leads, first))


@SEARCHES.keep
def _among(midis: tuple[int, ...], low: int, size: int) -> Grid:
    """One for each pitch of a room that is among some, else zero."""
    kept = np.zeros(size)
    kept[[m - low for m in midis if low <= m < low + size]] = 1.0
    return kept


@SEARCHES.keep
def _moved_by(intervals: tuple[int, ...], size: int) -> Mask:
    """The pairs of pitches that lie one of some intervals apart."""
    keys = np.arange(size)
    among = np.zeros(2 * size - 1, dtype=np.bool_)  # by interval, counted from the widest down
    among[[i + size - 1 for i in intervals if abs(i) < size]] = True
    found: Mask = among[keys[None, :] - keys[:, None] + size - 1]
    return found


@SEARCHES.keep
def _leaping(size: int, leaps: float) -> Grid:
    """The share of each pair of pitches where leaps are made likelier."""
    keys = np.arange(size)
    return np.where(np.abs(keys[None, :] - keys[:, None]) >= _LEAP, leaps, 1.0)


@SEARCHES.keep
def _opening(slot: Slot, low: int, size: int, leads: bool, held: int | None) -> Grid:
    """The shares of the first pitch; `held` is the note before it."""
    keys = np.arange(low, low + size)
    shares: Grid = np.exp2(-table("start")[slot.cls, slot.place] / 100.0)[
        (keys - slot.root) % 12] * _allowed(slot, low, size, leads, True)
    if held is not None:
        away = np.abs(keys - held)
        shares = shares * np.where(away == 0, 0.25, np.exp2(-np.maximum(away - 5, 0) / 2.0))
        shares = shares * (away <= _OCTAVE)
        shares = shares * ~((keys % 12 == _avoided(slot)) & (away > _DESCENT))
    return shares


@SEARCHES.keep
def _pairs(before: Slot, here: Slot, low: int, size: int, leads: bool) -> Grid:
    """What is left of the pairs of pitches at two slots, whatever is asked of them."""
    return np.asarray(_pair_rules(before.kinds, here.kinds, low, size, _easy(before))
                      * _place_rules(before, here, low, size)
                      * _allowed(here, low, size, leads, False)[None, :])


@SEARCHES.keep
def _first_pairs(before: Slot, here: Slot, low: int, size: int, leads: bool, held: int | None
                 ) -> Grid:
    """The shares of the first two pitches by the second's learnt interval. A line that begins on
    a foreign note goes straight to a chord tone; after a wide leap out of the held note nobody
    would sing another."""
    keys = np.arange(size)
    between = keys[None, :] - keys[:, None]
    move = np.clip(between, -LIMIT, LIMIT) + LIMIT
    degree = (keys + low - here.root) % 12
    shares: Grid = _weights()[here.place, here.cls][degree[:, None], NO_INTERVAL, move]
    kind, there = (np.array(s.kinds)[(keys + low) % 12] for s in (before, here))
    leaning = kind == CHROMATIC
    mask = _pairs(before, here, low, size, leads) * ~(leaning[:, None] & (there != TONE)[None, :])
    if held is not None and bool(from_above(keys + low - held).any()):
        leaning = leaning & ~from_above(keys + low - held)
    mask = mask * ~(leaning[:, None] & (between == -1))
    if held is not None:
        away = np.abs(keys + low - held)[:, None]
        mask = mask * ~((away >= _FAR) & (np.abs(between) >= _LEAP))
    return np.asarray(shares * (np.abs(between) <= _OCTAVE) * mask)


@SEARCHES.keep
def _endings(slots: tuple[Slot, ...], low: int, size: int, landing: tuple[int, Slot] | None,
             air: bool, reach: tuple[int, int]) -> Grid:
    """The share of the landing after the last note, or after each pair of the last two `slots`
    where there are two. `landing`, `air` and `reach` as in a question."""
    keys = np.arange(low, low + size)
    last = slots[-1]
    ends = np.ones(size)
    if landing is None or air:
        ends = np.exp2(-table("end")[last.cls, last.place] / 100.0)[(keys - last.root) % 12]
        ends = ends * ~_marked(last.colours)[keys % 12]
    ends = ends * (keys % 12 != _sharp_nine(last))
    step = keys[None, :] - keys[:, None]
    foreign = np.zeros(size, dtype=np.bool_)
    if len(slots) > 1:
        foreign = np.array(slots[-2].kinds)[keys % 12] == CHROMATIC
    hangs = foreign[:, None] & (np.abs(step) > 1)
    wide = np.abs(step) >= _WIDE  # a leap that nothing turns back
    if landing is None:
        return ends if len(slots) == 1 else np.where(
            hangs | wide, 0.0, np.tile(ends, (size, 1)))
    midi, slot = landing
    away = midi - keys
    kind = np.array(last.kinds)[keys % 12]
    ends = ends * ((np.abs(away) <= np.where(kind == TONE, reach[1], reach[0])) & (away != 0))
    ends = ends * ~((kind == CHROMATIC) & (np.abs(away) != 1))
    ends = ends * ~(((kind == PASSING) | _marked(last.colours)[keys % 12]) & (np.abs(away) > 2))
    if len(slots) == 1:
        return np.asarray(ends)
    degree = (keys - slot.root) % 12
    before = np.clip(np.arange(size)[None, :] - np.arange(size)[:, None], -9, 9) + 9
    move = np.clip(away, -LIMIT, LIMIT) + LIMIT
    shares = _weights()[slot.place, slot.cls][degree[None, :], before, move[None, :]]
    result: Grid = ends[None, :] * (np.sqrt(shares) if air else shares)
    # the key that comes next is not struck one note before the last, unless there is air; on a
    # beat it would be the arrival itself
    if not air and low <= midi < low + size:
        result[midi - low, :] *= 0.0 if slots[-2].place <= 1 else 0.1
    if not air:  # a foreign note one before may enclose the landing
        way = np.sign(step)
        hangs &= ~((away[:, None] == way) & (way == -np.sign(away)[None, :]))
    result[hangs | wide] = 0.0
    leaning = (kind == CHROMATIC) & (away == -1)
    result[leaning[None, :] & ~from_above(step)] = 0.0
    return result


class Ways:
    """All lines that answer a question; `draw` takes one, as often as it is likely.

    What a slot, a pair of slots or the landing makes likely is the same for many questions and
    is kept; only what a question asks of it is set on top.
    """

    def __init__(self, question: Question) -> None:
        self.question = question
        self.size = question.high - question.low + 1
        self._sums: list[Grid] = []
        self._shares: list[Grid] = []
        self._last = self._forward()
        self._ends: list[int] = []

    @property
    def is_empty(self) -> bool:
        return not bool(self._last.any())

    def _only(self, index: int) -> Grid | None:
        only = self.question.only[index]
        return None if only is None else _among(only, self.question.low, self.size)

    def _leads(self, index: int) -> bool:
        return index + 1 == len(self.question.slots) and not self.question.air

    def _asked(self, shares: Grid, index: int) -> Grid:
        """The shares of pairs that end at a slot, with what is asked of it."""
        only, moves = self._only(index), self.question.moves[index - 1]
        if self.question.leaps != 1.0:
            shares = shares * _leaping(self.size, self.question.leaps)
        if only is not None:
            shares = shares * only
        if moves is not None:
            shares = shares * _moved_by(moves, self.size)
        return shares

    def _steps_to(self, index: int) -> Grid:
        """Shares of the triples that end at a slot (from the third on)."""
        question, low, size = self.question, self.question.low, self.size
        one, two, here = question.slots[index - 2:index + 1]
        shares = _steps(here.place, here.cls, here.root, low, size)
        triple = _triple_rules(one.kinds, two.kinds, here.kinds, low, size, two.closes)
        shares = shares * self._asked(_pairs(two, here, low, size, self._leads(index)), index)
        return shares if triple is None else shares * triple

    def _forward(self) -> Grid:
        question, low, size = self.question, self.question.low, self.size
        slots = question.slots
        first = _opening(slots[0], low, size, self._leads(0), question.first)
        only = self._only(0)
        if only is not None:
            first = first * only
        ends = _endings(slots[-2:], low, size, question.landing, question.air, question.reach)
        if len(slots) == 1:
            return first * ends
        pair = first[:, None] * self._asked(_first_pairs(
            slots[0], slots[1], low, size, self._leads(1), question.first), 1)
        self._sums.append(_scaled(pair))
        for index in range(2, len(slots)):
            shares = self._steps_to(index)
            self._shares.append(shares)
            self._sums.append(_scaled(np.einsum("ij,ijk->jk", self._sums[-1], shares)))
        return self._sums[-1] * ends

    def pairs(self) -> list[tuple[int, ...]]:
        """Every line of two notes that answers the question, from the lowest up."""
        low = self.question.low
        return [(low + int(one), low + int(two)) for one, two in np.argwhere(self._last > 0)]

    def draw(self, dice: Dice) -> tuple[int, ...]:
        """One line, as MIDI numbers."""
        low, count = self.question.low, len(self.question.slots)
        self._ends = self._ends or _whole(self._last.ravel()).cumsum().tolist()
        flat = dice.pick_by(self._ends)
        if count == 1:
            return (low + flat,)
        one, two = divmod(flat, self.size)
        midis = [two, one]
        for index in range(count - 1, 1, -1):
            ways = self._sums[index - 2][:, midis[-1]] * self._shares[index - 2][
                :, midis[-1], midis[-2]]
            midis.append(dice.pick_by(_whole(ways).cumsum().tolist()))
        return tuple(low + m for m in reversed(midis))


def ways_of(question: Question) -> Ways | None:
    """All ways through a question, or None where there is none."""
    if question.high <= question.low or not question.slots:
        return None
    ways = Ways(question)
    return None if ways.is_empty else ways


def _scaled(shares: Grid) -> Grid:
    most = float(shares.max())
    return shares / most if most > 0 else shares


def _whole(shares: Grid) -> npt.NDArray[np.int64]:
    """Shares as whole numbers, so that a throw falls alike on every machine."""
    return (shares * ((1 << 24) / float(shares.max()))).astype(np.int64)


_EASY = (-1, -1, 9, -1, -1)
"""By class of chord the degree that solos treat as any colour: the sixth of a minor chord (the
third of the dominant that follows it). Here it is not held, but leaps on as it likes. It is as
common in solos as the seventh (Weimar Jazz Database). So is the fourth of a dominant, but a
soloist's left hand is silent or another player's: over the third that ours sounds it only
passes."""

_FOURTH, _THIRD, _MINOR_THIRD = 5, 4, 3

_WRONG = ((11,), (1,), (1, 4), (4, 7), (4, 7))
"""By class of chord the degrees that belie it: the major seventh of a dominant, the flat ninth of
a major chord, the major third of a minor or diminished one, the plain fifth of one with a flat
fifth. Where they are foreign they come only from a step away, and never on a beat."""

ON_BEATS = (0.22, 0.18, 1.0)
"""What is left of all but tensions on strong beats, weak beats, elsewhere: what rules forbid there
would leave chord tones alone, where half of a solo's notes on beats are colours."""

SPARED: tuple[MappingProxyType[int, float], ...] = tuple(map(MappingProxyType, (
    {0: 1.1, 2: 0.35, 3: 2.4, 4: 0.35, 5: 6.0, 6: 1.5, 7: 0.75, 8: 2.0, 9: 0.4, 10: 0.5, 11: 2.6},
    {2: 0.32, 4: 0.75, 5: 2.5, 8: 1.8, 9: 0.75, 10: 2.0, 11: 1.7},
    {2: 0.4, 3: 0.5, 5: 1.4, 6: 2.4, 7: 0.7, 8: 2.0, 10: 0.3, 11: 2.0}, {}, {})))
"""By class of chord, what is left of degrees that rules and seeds bring oftener than solos of a
fill's length do over the same class (Weimar Jazz Database, unseen solos), thirds above all; and how
much likelier those are made that rules make rare: the fourth, where it may pass, above all."""

_EASILY = 3.0
"""How much likelier it is made where it may stand, for all the places where it may not."""


def _easy(slot: Slot) -> int:
    """The pitch class of that degree, or -1."""
    degree = _EASY[slot.cls]
    pitch_class = (slot.root + degree) % 12
    return pitch_class if degree >= 0 and slot.kinds[pitch_class] == PASSING else -1


def _sharp_nine(slot: Slot) -> int:
    """The pitch class of a dominant's sharp nine where it only colours it, or -1."""
    nine = (slot.root + 3) % 12
    return nine if slot.cls == 0 and nine in slot.colours else -1


def _avoided(slot: Slot) -> int:
    """The pitch class of the fourth where the third sounds below it, or -1: a half step over a
    tone that the left hand has, it comes and goes by step, on a weak beat too (common
    practice)."""
    fourth, third = ((slot.root + degree) % 12 for degree in (_FOURTH, _THIRD))
    return fourth if slot.kinds[fourth] > TENSION and slot.kinds[third] == TONE else -1


def _pool(slot: Slot, low: int, size: int, leads: bool, first: bool) -> tuple[float, ...]:
    """Which pitches of the room a slot allows, and the share that is left of each: an avoid note
    or a foreign one is neither held nor comes before a breath, nor on a strong beat, nor first on
    a weak one (an easy one may, but not on the first of the bar).

    leads   it is the last note and leads into the landing
    first   it is the first note
    """
    easy = _easy(slot)
    there = ON_BEATS[min(slot.place, 2)]
    shares = [there, 1.0, there, there]
    if slot.place == 0 or (slot.place == 1 and first):
        shares[PASSING] = shares[CHROMATIC] = 0.0
    if slot.held or (slot.closes and not leads):
        shares[PASSING] = shares[CHROMATIC] = 0.0
    row = [shares[kind] for kind in slot.kinds]
    for wrong in _WRONG[slot.cls]:
        if (slot.place <= 1 or first) and slot.kinds[(slot.root + wrong) % 12] > TENSION:
            row[(slot.root + wrong) % 12] = 0.0
    for degree, share in SPARED[slot.cls].items():
        row[(slot.root + degree) % 12] *= share
    if easy >= 0 and not ((first and slot.place <= 1) or slot.held or slot.closes or slot.down):
        row[easy] = _EASILY
    return tuple(row[(low + key) % 12] for key in range(size))


def surprise(slots: Sequence[Slot], midis: Sequence[int]) -> float:
    """Mean surprise of the moves of a line, in hundredths of a bit."""
    costs = table("interval")
    total, before = 0, NO_INTERVAL
    for slot, low, high in zip(slots[1:], midis, midis[1:], strict=False):
        move = max(-LIMIT, min(LIMIT, high - low))
        total += int(costs[slot.place, slot.cls, (low - slot.root) % 12, before, move + LIMIT])
        before = before_class(high - low)
    return total / max(len(midis) - 1, 1)
