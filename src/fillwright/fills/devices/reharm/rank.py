"""What a progression costs at its place in time: how surprising its chords are, and to whom.

The surprise is learnt (`prior`): of each added chord between its neighbours, with its place in
the bar and the form, the melody note above it, and what the tune itself has elsewhere. A
progression costs the mean of it. To each level its own food: the plain is dull to those who
have had it, and who knows more is less surprised.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.device import Fare, Stands
from fillwright.fills.devices.reharm.function import LETTERS, Chord, printed_chord
from fillwright.fills.devices.reharm.options import Option
from fillwright.fills.devices.reharm.own import Standing, own_chords
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.devices.reharm.prior import Around, OwnChord, Tonality, cost
from fillwright.fills.player import Level
from fillwright.fills.situation import Habits, Situation
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key

__all__ = ["TASTE", "Ranking", "Struck", "form_place", "place_in_bar"]

STILL_COST = 12
"""What it costs that one voice of the written chord moves, or that a chord only slides into one
that is like it: such chords stand in no chart (design choice; see `prior` for the unit)."""

_LIKE = ("same phrase", "same side")
"""Places of the tune that are as good as the same (see `prior.OWN_WEIGHTS`)."""

TASTE = "taste"
"""The term of what the level thinks of it."""

DOUBLE, FOUR = 8, 4

Struck = tuple[Fraction, Fraction]
"""Where an added chord begins and ends."""


def place_in_bar(situation: Situation, onset_quarter: Fraction) -> int:
    """0 at the beginning of a bar, 1 in its middle, 2 elsewhere."""
    bar = situation.bar_at(onset_quarter)
    inside = bar.beat_at(onset_quarter) - 1
    if inside == 0:
        return 0
    return 1 if 2 * inside * bar.meter.beat_quarter == bar.meter.length_quarter else 2


def form_place(situation: Situation, onset_quarter: Fraction) -> int:
    """2 where eight bars begin, 1 where four do, else 0."""
    if place_in_bar(situation, onset_quarter) or situation.form.bar < 0:
        return 0
    first, there = situation.bar_index_at(Fraction(0)), situation.bar_index_at(onset_quarter)
    bar = situation.form.bar + there - first
    return (bar % DOUBLE == 0) + (bar % FOUR == 0)


def _tonality(key: Key) -> Tonality:
    return key.tonic.pitch_class, key.mode


def _chord(heard: tuple[int, str] | None) -> Chord | None:
    return None if heard is None else (heard[0], LETTERS[heard[1]])


def _standings(habits: Habits) -> tuple[tuple[Standing, int], ...]:
    found = []
    for number, (five, times) in enumerate(habits.fives):
        before, here, chord, goal, after = map(_chord, five)
        assert here is not None and chord is not None and goal is not None
        found.append((Standing(before, here, chord, goal, after, number), times))
    return tuple(found)


class Ranking:
    """The costs of progressions in one situation, for one level."""

    def __init__(self, situation: Situation, level: Level) -> None:
        self._situation, self._taste = situation, level.reharm
        self._standings = _standings(situation.habits)
        self._places: dict[Fraction, tuple[int, int]] = {}
        self._ways: dict[tuple[Chord | None, Chord, Chord, Chord | None], tuple[OwnChord, ...]] = {}

    def costs(self, chosen: Sequence[Option], struck: Sequence[Struck], goal_quarter: Fraction,
              note: tuple[int, Fraction] | None) -> tuple[tuple[str, int], ...]:
        """The costs, by term, of a row of options (one, or two single chords) that go from one
        chord to the next: how surprising they are, what the trade's habit adds, and what the
        level thinks of such food.

        struck        where each added chord begins and ends
        goal_quarter  where the chord after them begins
        note          pitch class of the held note and until when it sounds, or None
        """
        found = ("progression", self._surprise(chosen, struck, goal_quarter, note))
        if len(chosen) == 1 and self._is_own(chosen[0]):
            fare = self._fare(chosen[0]) * self._taste.own_fare // 100
            return (found, (TASTE, fare)) if fare > 0 else (found,)
        return (found, ("habit", sum(option.way.taste for option in chosen) // len(chosen)),
                (TASTE, sum(self._fare(option) for option in chosen) // len(chosen)))

    def _is_own(self, option: Option) -> bool:
        if len(option.chords) != 1 or option.way.stands is not Stands.AFTER:
            return False
        place = option.place
        before, after = (None if h is None else printed_chord(h)
                         for h in (place.before, place.after))
        chord = printed_chord(option.chords[0])
        return any(way.chord == chord and way.likeness in _LIKE for way in self._own(
            before, printed_chord(place.here), printed_chord(place.goal), after))

    def _fare(self, option: Option) -> int:
        return self._taste.fare[list(Fare).index(option.move.fare)]

    def _surprise(self, chosen: Sequence[Option], struck: Sequence[Struck],
                  goal_quarter: Fraction, note: tuple[int, Fraction] | None) -> int:
        first = chosen[0]
        if first.stays_on_root or first.way.slides or first.way.stands is Stands.COLOUR:
            return STILL_COST
        row = [h for option in chosen for h in option.chords]
        stands, place = first.way.stands, chosen[-1].place
        if stands is Stands.AFTER:
            before, goal, after = first.place.here, place.goal, place.after
            outer = first.place.before
        else:  # the chords come before the written one, or in its stead
            before, outer = first.place.before or first.place.here, None
            goal = first.place.here if stands is Stands.DELAY else place.goal
            after = place.goal if stands is Stands.DELAY else place.after
        sides = [outer, before, *row, goal, after]
        costs = [self._one(sides[i:i + 5], place, struck[i], goal_quarter, note)
                 for i in range(len(row))]
        felt = sum(costs) / len(costs)
        if len(chosen) > 1:  # no pattern that is known as a whole: as good as its worst link
            felt = (felt + max(costs)) / 2
        return round(felt * self._taste.surprise / 100)

    def _one(self, around: Sequence[Harmony | None], place: Place, struck: Struck,
             goal_quarter: Fraction, note: tuple[int, Fraction] | None) -> int:
        before, here, chord, goal, after = (None if h is None else printed_chord(h)
                                            for h in around)
        assert here is not None and chord is not None and goal is not None
        if chord in (here, goal):
            return STILL_COST
        onset, end = struck
        beats = int((end - onset) / self._situation.beat_quarter)
        home = place.home or place.key
        seen = Around(
            here, goal, _tonality(place.goal.key), _tonality(place.here.key), _tonality(home),
            before, after, self._at(onset)[0], self._at(end)[0], max(1, min(beats, 4)),
            self._at(end)[1],
            None if note is None or note[1] <= onset else note[0])
        return cost(chord, seen, self._own(before, here, goal, after))

    def _at(self, onset_quarter: Fraction) -> tuple[int, int]:
        """A place in its bar and in the form."""
        if onset_quarter not in self._places:
            self._places[onset_quarter] = (place_in_bar(self._situation, onset_quarter),
                                           form_place(self._situation, onset_quarter))
        return self._places[onset_quarter]

    def _own(self, before: Chord | None, here: Chord, goal: Chord, after: Chord | None
             ) -> tuple[OwnChord, ...]:
        key = (before, here, goal, after)
        if key not in self._ways:
            looked_for = Standing(before, here, here, goal, after, where=-1)
            found: list[OwnChord] = []
            for other, times in self._standings:
                found += own_chords(looked_for, [other]) * min(times, 3)
            self._ways[key] = tuple(sorted(found, key=lambda w: (w.likeness, w.chord)))
        return self._ways[key]
