"""A round: a fill, a phrase or a whole chorus through the keys a teacher names.

In each key the sheet is moved, and every fill is carried into it with the hands fitted anew
(`lesson.carried`); the pieces follow one another on one page and in one performance, each new
key announced (`lesson.strung`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.build import Offers, prepare
from fillwright.arranging.model import Arrangement, Decided, Options
from fillwright.edition.decisions import Decisions
from fillwright.edition.desk import Desk
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.ladder.naming import joined
from fillwright.fills.ladder.taken_back import Place
from fillwright.fills.model import FAMILIES, Fill
from fillwright.given import a, several
from fillwright.hands.difficulty import difficulty
from fillwright.lesson.carried import Carried, carried
from fillwright.lesson.strung import Piece, cut_piece, strung
from fillwright.rules import Audit
from fillwright.theory.key import Key
from fillwright.theory.pitch import STEPS, NoteName
from fillwright.tune.model import Chorus, Gap, Tune

__all__ = ["ORDERS", "InKey", "Round", "around_gap", "keys_named", "round_of_keys"]

ORDERS = MappingProxyType({
    "fourths": 5, "fifths": 7, "half steps": 1, "whole steps": 2, "minor thirds": 3,
    "major thirds": 4})
"""Ways through the keys that have a name, in semitones up from each to the next; the keys go
round until the first would come again (common practice)."""

_MOST_KEYS = 24
_OTHER_OCTAVE = ("the melody lies where the sheet has it", "the melody lies an octave up")


@dataclass(frozen=True, slots=True)
class InKey:
    """What a round has in one of its keys.

    start_quarter   where the key begins in the arrangement, its announcement included
    difficulty      of the fill; of all that is played, where there is more than one
    fills           in times of the arrangement
    changed         what the hands made different from the fill moved as it stands, in words;
                    () where it is the same
    """

    key: Key
    start_quarter: Fraction
    difficulty: int
    fills: tuple[Fill, ...]
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Round:
    """The keys in the order they are played, and all of it as one arrangement."""

    keys: tuple[InKey, ...]
    arrangement: Arrangement = field(repr=False)

    def audit(self) -> Audit:
        """What the rules say of all of it."""
        return audit_arrangement(self.arrangement)

    def __repr__(self) -> str:
        return (f"<Round of {self.arrangement.chorus.tune.title!r}: "
                + ", ".join(f"{one.key} {one.difficulty}" for one in self.keys) + ">")


def keys_named(text: str, home: Key) -> tuple[Key, ...]:
    """The keys of a list, ``"C F Bb"``, or of an order that has a name, from `home` on:
    ``"fourths"``, ``"half steps"``; "down" goes the other way. The mode is that of `home`.

    Raises InputError.

    >>> [str(key) for key in keys_named("minor thirds", Key(0))]
    ['C major', 'Eb major', 'Gb major', 'A major']
    """
    if not isinstance(text, str):
        raise InputError(f"keys are named as text, not by {a(text)}")
    words = " ".join(text.lower().split())
    down = words.endswith(" down")
    step = ORDERS.get(words.removesuffix(" down").removesuffix(" up"))
    if step is not None:
        return tuple(_around(home, 12 - step if down else step))
    names = [name for name in re.split(r"[\s,]+", text.strip()) if name]
    if not names:
        raise InputError("no key is named; name them like C F Bb, or an order: "
                         + ", ".join(ORDERS))
    keys = []
    for name in names:
        try:
            keys.append(Key.of(Key.parse(name).tonic, home.mode))
        except ValueError as error:
            raise InputError(f"{error}; name the keys like C F Bb, or an order: "
                             + ", ".join(ORDERS)) from error
    return tuple(keys)


def _around(home: Key, step: int) -> list[Key]:
    found: list[Key] = []
    place = 0
    while not found or place % 12:
        found.append(_up(home, place % 12))
        place += step
    return found


def _up(home: Key, semitones: int) -> Key:
    """The key so far above another, with the fewer accidentals; of six, the flats."""
    tonic = (home.tonic.pitch_class + semitones) % 12
    names = [NoteName(step, alter) for step in STEPS for alter in (-1, 0, 1)
             if NoteName(step, alter).pitch_class == tonic]
    keys = [Key.of(name, home.mode) for name in names]
    return min(keys, key=lambda key: (abs(key.fifths), key.fifths))


def round_of_keys(tune: Tune | Edition, keys: Sequence[Key] | str, *, gap: int | None = None,
                  fill: str | None = None, bars: tuple[str, str] | None = None,
                  options: Options | None = None) -> Round:
    """A tune, or a part of it, through some keys.

    tune      a tune, or an edition with all that was decided in it, own notes too
    keys      keys, or text as `keys_named` reads it
    gap, fill one gap with the bars around it, and the fill to play there: its id or
              ``FAMILY:RANK``; without `fill` what was picked for it, else the best that is
              offered
    bars      printed numbers of the first and the last bar of a phrase; without gap and bars
              the whole chorus
    options   who plays, the tempo, and what is picked; their key is that of the fill before it
              is carried. An edition has its own

    Raises InputError.
    """
    if isinstance(tune, Edition) and options is not None:
        raise InputError("an edition has decided its options already")
    options = Options() if options is None else options
    if not isinstance(tune, Tune | Edition) or not isinstance(options, Options):
        raise InputError("a round takes a Tune, as read_tune gives it, or an Edition, and Options")
    if fill is not None and gap is None:
        raise InputError("a fill is named with its gap")
    if gap is not None and bars is not None:
        raise InputError("a round goes around a gap or through some bars, not both")
    made = _Made.of(tune, options)
    offers = made.offers
    wanted = (keys_named(keys, offers.chorus.key) if isinstance(keys, str)
              else tuple(_keys(keys)))
    if not 0 < len(wanted) <= _MOST_KEYS:
        raise InputError(f"a round has 1 to {_MOST_KEYS} keys, not {len(wanted)}")
    theme = _Theme.of(made, gap, fill, bars)
    return _played(theme, wanted)


def _keys(keys: Sequence[Key]) -> Sequence[Key]:
    found = several(keys, "the keys")
    if not all(isinstance(key, Key) for key in found):
        raise InputError("the keys of a round are Keys, or text such as C F Bb")
    return keys


@dataclass(frozen=True, slots=True)
class _Made:
    """The offers of a tune or an edition, and what was decided."""

    offers: Offers
    decided: Decided
    decisions: Decisions | None = None

    @classmethod
    def of(cls, tune: Tune | Edition, options: Options) -> _Made:
        if isinstance(tune, Edition):
            desk = Desk(tune)
            return cls(desk, desk.decided(tune.decisions)[0], tune.decisions)
        offers = Offers(tune, options)
        return cls(offers, Decided({number: offers.picked(number, wanted)
                                    for number, wanted in options.picks}))

    def fill(self, gap: int) -> Fill:
        """What was picked for a gap, else the best that is offered. Raises InputError."""
        chosen = self.decided.own.get(gap, self.decided.picked.get(gap))
        if chosen is not None:
            return chosen
        if gap in self.decided.picked:
            raise InputError(_OPEN)
        for family in FAMILIES:
            fills = self.offers.fills(gap, family, 1)
            if not isinstance(fills, str):
                return fills[0]
        raise InputError(f"gap {gap} has no fill at this level")

    def chorus(self) -> Arrangement:
        if isinstance(self.offers, Desk) and self.decisions is not None:
            return self.offers.chorus_of(self.decisions)
        return self.offers.arrangement(self.decided, self.offers.options)


_OPEN = "a gap left open has no fill to carry through the keys"


@dataclass(frozen=True, slots=True)
class _Theme:
    """What goes through the keys: bars of a chorus by their place, and the fills in them."""

    offers: Offers
    bars: tuple[int, int]
    fills: tuple[Fill, ...]
    words: str
    gap: int | None = None

    @classmethod
    def of(cls, made: _Made, gap: int | None, fill: str | None,
           bars: tuple[str, str] | None) -> _Theme:
        offers = made.offers
        chorus, title = offers.chorus, offers.chorus.tune.title
        if gap is not None:
            found = offers.gap(gap)
            played = made.fill(gap) if fill is None else offers.picked(gap, fill)
            if played is None:
                raise InputError(_OPEN)
            return cls(offers, around_gap(chorus, found), (played,), f"{title}: gap {gap}", gap)
        whole = 0, len(chorus.bars) - 1
        span = whole if bars is None else _printed(chorus, bars)
        start, end = chorus.bars[span[0]].onset_quarter, chorus.bars[span[1]].end_quarter
        inside = tuple(one for one in made.chorus().fills
                       if start <= offers.gaps[one.gap - 1].onset_quarter
                       and offers.gaps[one.gap - 1].end_quarter <= end)
        words = title if bars is None else f"{title}: bars {bars[0]} to {bars[1]}"
        return cls(offers, span, inside, words)


def around_gap(chorus: Chorus, gap: Gap) -> tuple[int, int]:
    """From the bar before the gap to the bar of its landing."""
    first = max(chorus.bars.index(chorus.bar_at(gap.onset_quarter)) - 1, 0)
    last = chorus.bar_at(min(gap.end_quarter, chorus.length_quarter))
    return first, chorus.bars.index(last)


def _printed(chorus: Chorus, numbers: tuple[str, str]) -> tuple[int, int]:
    """Where bars with these printed numbers stand, the first time they are played."""
    found = []
    for number in numbers:
        place = next((i for i, bar in enumerate(chorus.bars) if bar.number == str(number)
                      and bar.bar_index >= 0), None)
        if place is None:
            raise InputError(f"the tune has no bar {number}; its last is "
                             f"{chorus.bars[-1].number}")
        found.append(place)
    if found[0] > found[1]:
        raise InputError(f"bar {numbers[0]} comes after bar {numbers[1]}")
    return found[0], found[1]


def _played(theme: _Theme, keys: Sequence[Key]) -> Round:
    offers, options = theme.offers, theme.offers.options
    origins = {fill.gap: Place.of(offers.chorus, fill.gap, options.hand, offers.gaps)
               for fill in theme.fills}
    rows: list[list[Carried]] = []
    octave = offers.chorus.melody_octave
    pieces: list[Piece] = []
    for key in keys:
        chorus, gaps = prepare(offers.written, replace(options, key=str(key)))
        row = [carried(fill, origins[fill.gap],
                       Place.of(chorus, fill.gap, options.hand, gaps, options.level))
               for fill in theme.fills]
        if chorus.melody_octave != octave:
            row = [replace(one, changed=(*one.changed, _OTHER_OCTAVE[chorus.melody_octave]))
                   for one in row]
        rows.append(row)
        kept = [one.fill for one in row if one.fill is not None]
        shown = gaps if theme.gap is None else gaps[theme.gap - 1:theme.gap]
        pieces.append(cut_piece(chorus, shown, kept, f"in {chorus.key.tonic.pretty}", theme.bars))
    arrangement, starts = strung(f"{theme.words}, in {len(keys)} "
                                 f"{'key' if len(keys) == 1 else 'keys'}", pieces, options)
    ends = (*starts[1:], arrangement.chorus.length_quarter)
    return Round(tuple(
        _in_key(arrangement, theme, row, piece.chorus.key, (start, end))
        for row, piece, start, end in zip(rows, pieces, starts, ends, strict=True)), arrangement)


def _in_key(arrangement: Arrangement, theme: _Theme, row: Sequence[Carried], key: Key,
            span: tuple[Fraction, Fraction]) -> InKey:
    start, end = span
    fills = tuple(fill for fill in arrangement.fills
                  if start <= arrangement.gaps[fill.gap - 1].onset_quarter < end)
    notes = [note for note in arrangement.notes if start <= note.onset_quarter < end]
    one = next((carried.fill for carried in row if carried.fill is not None), None)
    hard = one.difficulty if one is not None and len(theme.fills) == 1 else difficulty(
        notes, arrangement.options.hand, arrangement.chorus.seconds_per_quarter).total
    return InKey(key, start, hard, fills, _changed(theme, row))


def _changed(theme: _Theme, row: Sequence[Carried]) -> tuple[str, ...]:
    """Each difference once, with the gaps it is in where it is not in all."""
    gaps: dict[str, list[int]] = {}
    for fill, one in zip(theme.fills, row, strict=True):
        for word in one.changed:
            gaps.setdefault(word, []).append(fill.gap)
    return tuple(
        word if len(where) == len(row) else
        f"gap{'' if len(where) == 1 else 's'} {joined([str(one) for one in where])}: {word}"
        for word, where in gaps.items())

