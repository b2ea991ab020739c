"""What no reharmonization does, one object a rule.

A rule looks at the chords between the one that sounds and the one that comes, before they
have a rhythm; `broken` names the first that is broken. The rules hold for every move, for
the tune's own ways too: that a tune goes home somewhere is no reason to give it away here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from fillwright.fills.devices.reharm.function import (
    is_two_of,
    low_class,
    named_classes,
    plain_chord,
    printed_chord,
    sounds_as,
)
from fillwright.fills.devices.reharm.place import Place, disguised, is_tonic, is_two
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["LINE_MAY", "OWN_MAY", "RULES", "NeverRule", "broken"]


_STEP, _MINOR_THIRD, _FOURTH, _TRITONE, _FIFTH = 2, 3, 5, 6, 7


@dataclass(frozen=True, slots=True)
class NeverRule:
    """A rule: its name, and whether chords break it at a place."""

    name: str
    breaks: Callable[[Place, Sequence[Harmony]], bool]


@lru_cache(512)
def _tones(harmony: Harmony) -> frozenset[int]:
    """What a chord sounds, as it is printed and with what a pianist adds to a bare triad."""
    return named_classes(harmony.symbol) | {
        (harmony.root.pitch_class + degree_pitch_class(d)) % 12 for d in harmony.tones}


def _same_home(one: Harmony, other: Harmony) -> bool:
    """Whether two chords are one chord to the ear, whatever their colour."""
    return one.root.pitch_class == other.root.pitch_class and (
        sounds_as(one) == sounds_as(other) or {sounds_as(one), sounds_as(other)} <= set("M7"))


def _gives_goal_away(place: Place, chords: Sequence[Harmony]) -> bool:
    if place.same:  # the tune's own next colour: A minor, and its major seventh comes in the tune
        here, goal = place.here.symbol, place.goal.symbol
        return here != goal and any((c.symbol.root, c.symbol.degrees, c.symbol.bass)
                                    == (goal.root, goal.degrees, goal.bass) for c in chords)
    return any(
        plain_chord(c) == plain_chord(place.goal) and low_class(c) == low_class(place.goal)
        for c in chords)


def _six_four(place: Place, chord: Harmony) -> bool:
    """Whether a chord is the tonic over the root of the coming dominant: no home, but the dominant
    with its third and fifth held back (the cadential six-four, common practice)."""
    goal = place.goal
    return (sounds_as(goal) == "7" and low_class(chord) == low_class(goal)
            == goal.root.pitch_class == (chord.root.pitch_class + _FIFTH) % 12
            and sounds_as(chord) in "Mm")


def _leads_to(goal: Harmony, after: Harmony) -> bool:
    """Whether a chord is there to lead to the next: a dominant, a diminished chord, a II."""
    fall = (after.root.pitch_class - goal.root.pitch_class) % 12
    kind = sounds_as(goal)
    return (kind in "7h" and fall in (5, 11)) or (kind == "o" and fall in (1, 11)) or (
        kind == "m" and fall == 5 and sounds_as(after) == "7")


def _gives_next_away(place: Place, chords: Sequence[Harmony]) -> bool:
    """The chord after the goal is heard before the goal that leads to it, over whatever bass; or
    over a chord that only waits for it, a bar at most: not where the tune goes to and fro
    between the two."""
    after, goal = place.after, place.goal
    if after is None or plain_chord(after) == plain_chord(place.here):
        return False
    if place.same and place.before is not None and (
            plain_chord(place.before) == plain_chord(after)) and printed_chord(after) in place.own:
        return False
    waits = place.soon and sounds_as(after) != "7" if place.same else _leads_to(goal, after)
    leads = waits or (sounds_as(goal) == "7" and _leads_to(goal, after))
    return leads and any(_same_home(c, after) and not _six_four(place, c) for c in chords)


def _home_between_dominants(place: Place, chords: Sequence[Harmony]) -> bool:
    """V I V, and I between a dominant and the II with which the way home begins anew, or the
    III that stands where home was awaited; with a major third that leads on to the VI."""
    here, goal = place.here, place.goal
    if sounds_as(here) != "7":
        return False
    home = (here.root.pitch_class + 5) % 12
    again = sounds_as(goal) == "7" and goal.root.pitch_class == here.root.pitch_class
    above = (goal.root.pitch_class - home) % 12
    two = above in ((2, 4) if sounds_as(goal) in "mh" else (2,) if sounds_as(goal) == "7" else ())
    substitute = sounds_as(goal) == "7" and (goal.root.pitch_class - home) % 12 == 1
    return (again or two or substitute) and any(
        c.root.pitch_class == home and sounds_as(c) in "Mm" for c in chords)


def _home_before_the_tune(place: Place, chords: Sequence[Harmony]) -> bool:
    """The tonic right before the chords that lead to it. Where its dominant falls to it and a chord
    at rest comes after it, it is home for once, and the tune sets off anew: V, I, IV, I; to a
    seventh chord on the IV, as in a blues, where the tune itself does so (common practice)."""
    after, goal = place.after, place.goal
    if after is None or not is_tonic(after, after.key) or is_tonic(goal, goal.key):
        return False
    waits = sounds_as(goal) in "7oh" or is_two(goal) or sounds_as(place.here) == "7"
    return waits and not is_tonic(place.here, after.key) and any(
        c.root.pitch_class == after.root.pitch_class and sounds_as(c) in "Mm"
        and low_class(c) != goal.root.pitch_class and not _sets_off(place, chords) for c in chords)


def _sets_off(place: Place, chords: Sequence[Harmony]) -> bool:
    """Whether the dominant here falls to one chord, and another begins after that: one at rest
    which is no II, or the seventh chord on its fourth degree in a tune that goes so itself."""
    goal, last = place.goal, chords[-1]
    if len(chords) != 1 or not _falls_to(place.here, last):
        return False
    if sounds_as(goal) in "Mm" and not is_two(goal):
        return True
    return printed_chord(last) in place.own and (
        goal.root.pitch_class - last.root.pitch_class) % 12 == _FOURTH


def _sounding(written: Harmony) -> frozenset[int]:
    """What a written chord sounds, with what a pianist adds to a triad; of a dominant its ninth,
    flat or natural, and over its third the thirteenth are its own colours too."""
    found = _tones(written)
    if sounds_as(written) == "7":
        root = written.root.pitch_class
        found |= {(root + step) % 12 for step in _OWN_COLOURS[:2 + ("3" in written.tones)]}
    return found


_OWN_COLOURS = (1, 2, 9)
"""Semitones above its root of what a dominant takes as its own; the thirteenth over its third."""


def _written_again(place: Place, chords: Sequence[Harmony]) -> bool:
    """The first chord has no tone that the written one has not, on whatever root: A minor 7 over C6
    is C6, B half-diminished over G7 is G9, E minor 7 is G13; or it has only one, its own root, to
    which no fifth falls and which leads nowhere (C major seven over E minor seven before E flat);
    or a minor chord between a major one and its return has only one; or it is the major chord on
    the third of a minor one that comes back: F major seven between two D minor chords is D minor
    nine; or it is a half-diminished chord on the root of a diminished one, or the other way round.
    A diminished chord by whose root the bass moves on in half steps is a way of its own, and so is
    the II of an added dominant that comes after it, or of the coming one after a dominant (F7, D
    minor 7, G7: a new cadence begins), and the VI after a bare triad whose root goes on by a fifth
    or a step: the hands then play a tone that the triad has not, even with its sixth."""
    first = chords[0]
    if low_class(first) == low_class(place.here) and {
            sounds_as(first), sounds_as(place.here)} <= set("ho"):
        return True
    if place.here.third == "4" and sounds_as(first) == "m" and first.symbol.bass is None and (
            first.root.pitch_class - place.here.root.pitch_class) % 12 == _FIFTH:
        return True  # a suspended dominant is its II over its root
    new = _tones(first) - _sounding(place.here)
    if is_two_of(first, place.goal if len(chords) == 1 else chords[1]) and (
            len(chords) > 1 or sounds_as(place.here) == "7"):
        return False
    if _relative(place.here, first) and _leads_on(
            first, low_class(chords[1] if len(chords) > 1 else place.goal)):
        return False
    if place.same and _on_its_third(place.here, first):
        return True
    if (place.same and sounds_as(place.here) == "M" and sounds_as(first) == "m"
            and len(new) < _NEW_TONES):
        return True
    after = low_class(chords[1] if len(chords) > 1 else place.goal)
    fell = _FOURTH in ((first.root.pitch_class - low_class(place.here)) % 12,
                       (first.root.pitch_class - place.here.root.pitch_class) % 12)
    if first.symbol.bass is None and new == {first.root.pitch_class} and not (
            fell or _leads_on(first, after)):
        return True
    if first.symbol.bass is not None or new:
        return False
    steps = ((low_class(first) - low_class(place.here)) % 12,
             (after - low_class(first)) % 12)
    return not (sounds_as(first) == "o" and steps in ((1, 1), (11, 11)))


def _on_its_third(minor: Harmony, chord: Harmony) -> bool:
    """Whether a chord is the major one on the third of a minor chord."""
    return sounds_as(minor) == "m" and sounds_as(chord) == "M" and (
        chord.root.pitch_class - minor.root.pitch_class) % 12 == _MINOR_THIRD


def _relative(here: Harmony, first: Harmony) -> bool:
    """Whether a chord is the minor one a third below a major triad without a printed sixth, or the
    major one a third above a minor triad, over another bass."""
    symbol = here.symbol
    if symbol.seventh is not None or "6" in symbol.degrees or first.symbol.bass is not None or (
            low_class(here) == low_class(first)):
        return False
    return _on_its_third(here, first) or (
        sounds_as(here) == "M" and sounds_as(first) == "m"
        and (first.root.pitch_class - here.root.pitch_class) % 12 == _SIXTH)


_SIXTH = 9
"""Semitones of a sixth."""


def _turned_over(place: Place, chords: Sequence[Harmony]) -> bool:
    """The written chord again, over the bass of the coming one: nothing is new but a bass that
    comes before its time."""
    only = chords[-1]
    return (len(chords) == 1 and only.root == place.here.root
            and low_class(only) == low_class(place.goal) != low_class(place.here)
            and named_classes(only.symbol) <= _sounding(place.here))


def _leads_on(chord: Harmony, after: int) -> bool:
    """Whether the root of a chord goes on by a fifth or by a step: then it is the bass that is
    new, and it leads somewhere."""
    return (after - chord.root.pitch_class) % 12 in (1, 2, 5, 7, 10, 11)


_NEW_TONES = 2
"""Tones that a chord has to have of its own where the one before it comes back."""


def _diminished_on_a_dominant(place: Place, chords: Sequence[Harmony]) -> bool:
    roots = {h.root.pitch_class for h in (place.here, place.goal) if sounds_as(h) == "7"}
    return any(sounds_as(c) == "o" and c.root.pitch_class in roots for c in chords)


def _diminished_undone(place: Place, chords: Sequence[Harmony]) -> bool:
    """A written diminished chord that leads by half step to the coming bass is led elsewhere, or
    to the root of the coming chord before its time."""
    here, goal, first = place.here, place.goal, chords[0]
    by = (low_class(goal) - low_class(here)) % 12
    return sounds_as(here) == "o" and by in (1, 11) and low_class(first) != low_class(here) and (
        low_class(first) != low_class(goal) or first.root == goal.root)


def _diminished_for_the_goal(place: Place, chords: Sequence[Harmony]) -> bool:
    """A written diminished chord stands for the coming dominant, with its flat nine and without its
    root, and a chord at rest comes between: what was on its way is undone."""
    here, goal = place.here, place.goal
    return (sounds_as(here) == "o" and sounds_as(goal) == "7"
            and (here.root.pitch_class - goal.root.pitch_class) % 3 == 1
            and sounds_as(chords[0]) in "Mm")


def _raised_comes_back(place: Place, chords: Sequence[Harmony]) -> bool:
    """The raised fifth of a written dominant leads up, a chord at rest takes it, and it is there
    again."""
    return place.same and place.here.symbol.fifth == "#5" and sounds_as(chords[-1]) in "Mm"


def _lowered_comes_back(place: Place, chords: Sequence[Harmony]) -> bool:
    """A major chord turns minor on its root, and the next chord has the major third again, with
    nothing a step below the minor one: B, B flat, B is a wrong note put right. A chord that
    comes back itself has only breathed. Nor does a half-diminished chord, whose fifth wants down,
    get its fifth back."""
    here, first = place.here, chords[0]
    if sounds_as(here) == "h" and sounds_as(first) == "m" and here.root == first.root:
        return True
    after = chords[1] if len(chords) > 1 else place.goal
    if here.third != "3" or first.third != "b3" or here.root != first.root or (
            len(chords) == 1 and place.same):
        return False
    third = (here.root.pitch_class + degree_pitch_class("3")) % 12
    tones = named_classes(after.symbol)
    return third in tones and not tones & {(third - 2) % 12, (third - 3) % 12}


def _ends_on_goal(place: Place, chords: Sequence[Harmony]) -> bool:
    """The last chord is the coming one already, or has no tone it has not: D minor 7 before F6;
    B half-diminished or E minor 7 before G7, which bears its ninth and thirteenth; E minor 7 alone
    before C, which bears its major seventh and ninth. A diminished chord whose bass moves into
    it by a half step is a way of its own, and a bass that falls a fifth arrives; so does the chord
    to which a written dominant falls: V, I, VI."""
    last = chords[-1]
    step = (low_class(place.goal) - low_class(last)) % 12
    if len(chords) == 1 and _falls_to(place.here, last):
        return disguised(last, place.goal)
    goal = _sounding(place.goal)
    if len(chords) == 1 and step != _FOURTH:  # at the end of a walk it is the bass that arrives
        goal |= _resting(place.goal)
    return disguised(last, place.goal) or (
        last.symbol.bass is None and _tones(last) <= goal
        and not (sounds_as(last) == "o" and step in (1, 11)))


def _falls_to(dominant: Harmony, chord: Harmony) -> bool:
    """Whether a dominant comes home in a chord on the root a fifth below."""
    return sounds_as(dominant) == "7" and chord.symbol.bass is None and (
        chord.root.pitch_class - dominant.root.pitch_class) % 12 == _FOURTH


def _goal_turned_over(place: Place, chords: Sequence[Harmony]) -> bool:
    """The last chord has the tones of the coming one: A flat minor 6 before F half-diminished; or
    its triad, where a half-diminished chord has sounded all the time: A flat minor 7 there is one
    tone moved to and fro."""
    last, goal = chords[-1].symbol, place.goal.symbol
    if last.bass is not None or last.root == goal.root:
        return False
    tones = named_classes(goal)
    if place.same and sounds_as(place.goal) == "h" and sounds_as(chords[-1]) == "m":
        return _triad_of(chords[-1]) <= tones
    return named_classes(last) == tones


def _triad_of(chord: Harmony) -> frozenset[int]:
    """Root, third and fifth of a chord, as far as it has them."""
    symbol = chord.symbol
    return frozenset((chord.root.pitch_class + degree_pitch_class(d)) % 12
                     for d in ("1", chord.third, symbol.fifth) if d is not None)


def _resting(goal: Harmony) -> frozenset[int]:
    """What a major chord bears when it has come: its major seventh and ninth."""
    root = goal.root.pitch_class
    return frozenset(((root + 11) % 12, (root + 2) % 12) if sounds_as(goal) == "M" else ())


def _goal_is_nothing_new(place: Place, chords: Sequence[Harmony]) -> bool:
    """The coming triad is in the last dominant already, with its ninth and thirteenth: after G13 no
    one takes E minor for a surprise. After its own II the dominant makes a cadence of what the tune
    has: II, V, and the III in the place of the tonic."""
    last, goal = chords[-1], place.goal
    if len(chords) == 1 and is_two_of(place.here, last):
        return False
    if place.same or sounds_as(last) != "7" or sounds_as(goal) not in "Mm" or goal.symbol.bass:
        return False
    return named_classes(goal.symbol) & _triad(goal) <= _sounding(last)


def _triad(harmony: Harmony) -> frozenset[int]:
    root = harmony.root.pitch_class
    return frozenset((root + step) % 12 for step in range(_FIFTH + 1))


def _home_on_the_way(place: Place, chords: Sequence[Harmony]) -> bool:
    """The tonic between a II and its dominant, or between a dominant and a chord that only stands
    for it, as a diminished one with its leading tone does. To the dominant of the II the tonic is
    the way: V, I, VI seven, II; to that of the VI too; and to the seventh chord on the IV, to
    which it falls a fifth itself (common practice)."""
    here, goal = place.here, place.goal
    fall = (goal.root.pitch_class - here.root.pitch_class) % 12
    if is_two(here) and sounds_as(goal) == "7" and fall == 5:
        home = (goal.root.pitch_class + 5) % 12
    else:
        home = (here.root.pitch_class + 5) % 12
        stands = (fall not in (_STEP, _FOURTH, _SIXTH) if sounds_as(goal) == "7"
                  else fall % _MINOR_THIRD == 1)
        on_the_four = (goal.root.pitch_class - home) % 12 == _FOURTH
        if sounds_as(here) != "7" or sounds_as(goal) not in "o7" or not stands or on_the_four or (
                home != place.key.tonic.pitch_class):
            return False
    return any(c.root.pitch_class == home and sounds_as(c) in "Mm" and not _six_four(place, c)
               for c in chords)


def _cadence_steps_back(place: Place, chords: Sequence[Harmony]) -> bool:
    """Between a dominant and the chord a fifth below it stands a chord with neither its leading
    tone nor a half step down to the goal: the cadence was on its way, and is undone. But before
    another dominant the first may turn minor, and is its II then: A7, A minor 7, D7."""
    here, goal = place.here, place.goal
    if sounds_as(here) != "7" or (goal.root.pitch_class - here.root.pitch_class) % 12 != 5:
        return False
    leading = (here.root.pitch_class + 4) % 12
    falls = (low_class(chords[-1]) - low_class(goal)) % 12 in (1, 11)
    return not falls and leading not in _tones(chords[-1]) and not (
        _back_door(goal, chords) or is_two_of(chords[-1], goal))


def _back_door(goal: Harmony, chords: Sequence[Harmony]) -> bool:
    """The minor IV and the dominant a whole step under a chord: a cadence of their own."""
    above = tuple((c.root.pitch_class - goal.root.pitch_class) % 12 for c in chords[-2:])
    return above == (5, 10) and [sounds_as(c) for c in chords[-2:]] == ["m", "7"]


def _just_left(place: Place, chords: Sequence[Harmony]) -> bool:
    """The chord before the written one comes back at once, but between a II and its V that go to
    and fro, or two neighbours of one kind, where a dominant leads once more to the chord it has led
    to, and where what comes back is on its way: the V of the goal, or a link of falling fifths."""
    before, here = place.before, place.here
    if before is None or plain_chord(before) == plain_chord(here) or (
            len(chords) == 1 and not place.same and _on_its_way(place, chords[0])):
        return False
    falls = (here.root.pitch_class - before.root.pitch_class) % 12 == 5
    apart = (here.root.pitch_class - before.root.pitch_class) % 12
    swing = (falls and (sounds_as(here) == "7" or sounds_as(before) == "7")) or (
        apart in (_STEP, 12 - _STEP) and sounds_as(here) == sounds_as(before))
    return not (place.same and swing) and any(
        _same_home(c, before) and not _six_four(place, c) for c in chords[:1])


def _on_its_way(place: Place, chord: Harmony) -> bool:
    """Whether a chord is the dominant of the goal, or what the dominant here falls to on its way to
    the goal, or home to: G7 between D minor 7 and C, D minor 7 between A7 and G7, in C the tonic
    between G7 and A minor (common practice)."""
    here, goal, root = (h.root.pitch_class for h in (place.here, place.goal, chord))
    if sounds_as(chord) == "7" and (goal - root) % 12 == _FOURTH:
        return True
    if sounds_as(place.here) != "7" or (root - here) % 12 != _FOURTH:
        return False
    return (sounds_as(chord) in "mh" and (goal - root) % 12 == _FOURTH) or (
        is_tonic(chord, place.key) and sounds_as(place.goal) in "Mm")


def _dominant_undone(place: Place, chords: Sequence[Harmony]) -> bool:
    """The last chord is the dominant of nothing that comes: it goes back to its own II, which had
    not sounded before."""
    back = (place.goal.root.pitch_class - chords[-1].root.pitch_class) % 12 == _FIFTH
    return sounds_as(chords[-1]) == "7" and sounds_as(place.goal) == "m" and back and not place.same


def _past_the_bass(place: Place, chords: Sequence[Harmony]) -> bool:
    """A dominant or a diminished chord a half step from the root of a chord whose bass is another
    tone: what leads by half step is the bass, and here it does not arrive."""
    last, goal = chords[-1], place.goal
    bass = low_class(goal)
    if bass == goal.root.pitch_class or sounds_as(last) not in "7o":
        return False
    near = (last.root.pitch_class - goal.root.pitch_class) % 12
    by_half_step = near == 1 or (sounds_as(last) == "o" and near == 11)
    return by_half_step and (low_class(last) - bass) % 12 not in (0, 1, 11)


def _printed_bass_left(place: Place, chords: Sequence[Harmony]) -> bool:
    """The sheet prints a bass that stays under two chords, or goes from one to the next by step,
    or a line of half steps, and a chord between them leaves it: what is printed is a line, and its
    way is its idea. The dominant for which the coming one stands, a tritone away, may be heard
    before it: C minor 7, F7, B7, B flat 7."""
    here, goal = place.here, place.goal
    if place.same or (here.symbol.bass is None and goal.symbol.bass is None
                      and not place.chromatic) or _stands_for(goal, chords[-1]):
        return False
    start = low_class(here)
    by = (low_class(goal) - start + 6) % 12 - 6
    if abs(by) > _STEP or (not by and here.root == goal.root):
        return False
    way = (start, low_class(goal), (start + by // 2) % 12)
    return any(low_class(chord) not in way for chord in chords)


def _stands_for(substitute: Harmony, dominant: Harmony) -> bool:
    """Whether two dominants lie a tritone apart."""
    return sounds_as(substitute) == sounds_as(dominant) == "7" and (
        substitute.root.pitch_class - dominant.root.pitch_class) % 12 == _TRITONE


RULES: tuple[NeverRule, ...] = (
    NeverRule("the coming chord given away", _gives_goal_away),
    NeverRule("the next target given away", _gives_next_away),
    NeverRule("home between its dominants", _home_between_dominants),
    NeverRule("home before the tune", _home_before_the_tune),
    NeverRule("home on the way", _home_on_the_way),
    NeverRule("the written chord again", _written_again),
    NeverRule("the written chord over the coming bass", _turned_over),
    NeverRule("a diminished chord on a dominant's root", _diminished_on_a_dominant),
    NeverRule("a diminished chord led elsewhere", _diminished_undone),
    NeverRule("a diminished chord undone", _diminished_for_the_goal),
    NeverRule("a raised tone taken back", _raised_comes_back),
    NeverRule("a lowered tone taken back", _lowered_comes_back),
    NeverRule("the coming chord again", _ends_on_goal),
    NeverRule("the coming chord turned over", _goal_turned_over),
    NeverRule("the coming chord sounds already", _goal_is_nothing_new),
    NeverRule("a dominant that goes back", _dominant_undone),
    NeverRule("a cadence steps back", _cadence_steps_back),
    NeverRule("the chord just left", _just_left),
    NeverRule("a half step past the bass", _past_the_bass),
    NeverRule("the printed bass left", _printed_bass_left),
)


OWN_MAY = frozenset(("home on the way", "the coming chord again", "the coming chord sounds already",
                     "the chord just left", "a cadence steps back", "a dominant that goes back"))
"""What a chord may be that the tune itself has between these two in another place: dull, but heard
so already. That it goes home somewhere is no reason to give the coming chord away."""

LINE_MAY = frozenset(("the written chord again", "the coming chord again"))
"""What chords may be over which one voice moves: it is the voice that is new."""


def broken(place: Place, chords: Sequence[Harmony], spared: frozenset[str] = frozenset()
           ) -> str | None:
    """The name of a rule that chords after the written one break at a place, or None.

    spared   names of rules that are not asked
    """
    return next((rule.name for rule in RULES
                 if rule.name not in spared and rule.breaks(place, chords)), None)
