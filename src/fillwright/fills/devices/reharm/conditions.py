"""Where a move may stand: conditions on the chords around, each an object with its name.

``~`` turns a condition round. Moves import this module as `on`:
``when=(on.goal_dominant, ~on.here_its_two)``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fillwright.fills.devices.reharm.function import is_two_of, low_class, sounds_as
from fillwright.fills.devices.reharm.place import Place, is_tonic, is_two, scale_place
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.local_key import DIATONIC


@dataclass(frozen=True, slots=True)
class Condition:
    """A question about a place."""

    name: str
    holds: Callable[[Place], bool]

    def __invert__(self) -> Condition:
        holds = self.holds
        return Condition(f"not {self.name}", lambda place: not holds(place))


def _root_motion(place: Place) -> int:
    return (place.goal.root.pitch_class - place.here.root.pitch_class) % 12


def _over_another_chord(harmony: Harmony) -> bool:
    """Whether the bass of a chord is none of its tones, as in F over G: the ear counts from it, and
    no dominant of F leads there."""
    bass = harmony.symbol.bass
    return bass is not None and not harmony.is_tone(bass.pitch_class)


def _bass_motion(place: Place) -> int:
    return (low_class(place.goal) - low_class(place.here)) % 12


def _degree(harmony: Harmony, place: Place) -> int:
    return (harmony.root.pitch_class - place.key.tonic.pitch_class) % 12


def _is_sus(harmony: Harmony) -> bool:
    """Whether a dominant is printed without its third, which then cannot be held back."""
    return (sounds_as(harmony) == "7" and "3" not in harmony.tones
            and "b3" not in harmony.tones)  # which the tune sings over it


def _flat_nine(harmony: Harmony) -> bool:
    """Whether a dominant has a flat nine, printed or by its place: its sus chord has no natural
    ninth."""
    return "b9" in (*harmony.symbol.degrees, *harmony.scale.degrees)


def _resolves_minor(place: Place) -> bool:
    target = (place.here.root.pitch_class + 5 - place.key.tonic.pitch_class) % 12
    return dict(DIATONIC[place.key.mode]).get(target, "maj7") in ("m7", "m6", "m7b5")


def _resolves(place: Place) -> bool:
    """Whether what comes after the goal, as far as it is known, is what a dominant there leads to:
    a fifth or a half step below, or a step above. A bare triad on V that goes elsewhere is none."""
    after = place.after
    return after is None or (after.root.pitch_class - place.goal.root.pitch_class) % 12 in (
        1, 2, 5, 11)


def _then_falls(place: Place, qualities: str) -> bool:
    """Whether what comes after the goal lies a fifth below it, and is of such a quality."""
    after = place.after
    return after is not None and sounds_as(after) in qualities and (
        after.root.pitch_class - place.goal.root.pitch_class) % 12 == 5


_INTO_MINOR = ("mixolydian b13", "mixolydian b9 #9 b13", "altered")
"""The scales of a dominant that resolves to a minor chord (or says so by its own symbol); with
the first of them it is the II of a major key."""


def _from_degree(place: Place, degree: int) -> int:
    """Semitones from a degree of the local scale (0 the tonic) up to the goal's lowest note."""
    return (low_class(place.goal) - place.key.scale[degree].pitch_class) % 12


def _leading(place: Place) -> bool:
    """Whether the goal stands on the leading tone, which has no dominant of its own."""
    return (place.goal.root.pitch_class + 1 - place.key.tonic.pitch_class) % 12 == 0


def _steps_to_goal(place: Place, wanted: int) -> bool:
    here, goal = scale_place(place.here, place.key), scale_place(place.goal, place.key)
    # a slash chord has no root position to walk to
    return (here is not None and goal is not None and (goal - here - wanted) % 7 == 0
            and place.goal.symbol.bass is None)


def up(steps: int) -> Condition:
    """The goal lies so many steps of the local scale above the chord here."""
    return Condition(f"up {steps}", lambda p: _steps_to_goal(p, steps))


def down(steps: int) -> Condition:
    return Condition(f"down {steps}", lambda p: _steps_to_goal(p, -steps))


# --- the chord here
here_major = Condition("here major", lambda p: sounds_as(p.here) == "M")
here_minor = Condition("here minor", lambda p: sounds_as(p.here) == "m")
here_dominant = Condition("here dominant", lambda p: sounds_as(p.here) == "7")
here_stable = Condition("here stable", lambda p: sounds_as(p.here) in "Mm")
here_sus = Condition("here sus", lambda p: _is_sus(p.here))
here_flat_nine = Condition("here flat nine", lambda p: _flat_nine(p.here))
here_inverted = Condition("here inverted",
                          lambda p: low_class(p.here) != p.here.root.pitch_class)
here_raised_fifth = Condition("here with a raised fifth", lambda p: p.here.symbol.fifth == "#5")
here_comes_back = Condition("here again for a moment before the goal",
                            lambda p: p.skipped is not None)
here_begun = Condition("here heard before the gap opens", lambda p: p.begun)
here_tonic = Condition("here tonic", lambda p: is_tonic(p.here, p.key))
here_of_the_tonic = Condition("here the tonic, or the VI", lambda p: is_tonic(p.here, p.key) or (
    _degree(p.here, p), sounds_as(p.here)) == (9, "m"))
here_six = Condition("here takes its sixth", lambda p: sounds_as(p.here) == "M" and p.here.takes(
    (p.here.root.pitch_class + 9) % 12))
here_its_two = Condition("here the II of the goal, its dominant", lambda p: (
    _root_motion(p) == 5 and sounds_as(p.here) in "mh" and sounds_as(p.goal) == "7"))
here_its_five = Condition("here the V of the goal",
                          lambda p: _root_motion(p) == 5 and sounds_as(p.here) == "7")
two_before = Condition("its II before the chord here", lambda p: p.before is not None and (
    sounds_as(p.before) in "mh"
    and (p.here.root.pitch_class - p.before.root.pitch_class) % 12 == 5))
here_fourth_degree = Condition("here on the fourth degree", lambda p: _degree(p.here, p) == 5)
here_second_degree = Condition("here on the second degree", lambda p: _degree(p.here, p) == 2)
here_minor_or_half = Condition("here minor or half-diminished", lambda p: sounds_as(p.here) in "mh")
resolves_to_minor = Condition("here resolves to minor", _resolves_minor)

two_goes_on = Condition("its V or what that leads to comes after the goal", lambda p: (
    p.after is None or (p.after.root.pitch_class - p.here.root.pitch_class) % 12 in (5, 10)))

# --- the chord that comes
goal_major = Condition("goal major", lambda p: sounds_as(p.goal) == "M")
goal_third_major = Condition("goal with a major third", lambda p: p.goal.third == "3")
goal_minor = Condition("goal minor", lambda p: sounds_as(p.goal) == "m")
goal_dominant = Condition("goal dominant", lambda p: sounds_as(p.goal) == "7" and (
    p.goal.symbol.seventh is not None or p.goal.third != "3" or _resolves(p)))
goal_rests = Condition("goal major or minor", lambda p: sounds_as(p.goal) in "Mm")
goal_resolves = Condition("the goal, a dominant, resolves", lambda p: _resolves(p))
goal_its_two = Condition("goal the II of what comes after it",
                         lambda p: p.after is None or is_two_of(p.goal, p.after))
goal_diminished = Condition("goal diminished", lambda p: sounds_as(p.goal) in "oh")
goal_stable = Condition("goal major, minor or dominant", lambda p: sounds_as(p.goal) in "Mm7")
goal_tonic = Condition("goal tonic", lambda p: is_tonic(p.goal, p.goal.key))
goal_on_tonic = Condition("goal on the tonic of the key here", lambda p: (
    p.goal.root == p.key.tonic and sounds_as(p.goal) in "M7m"))
goal_plain_fifth = Condition("goal with a plain fifth",
                             lambda p: p.goal.symbol.fifth in (None, "5"))
goal_sus = Condition("goal sus", lambda p: _is_sus(p.goal))
goal_flat_nine = Condition("goal flat nine", lambda p: _flat_nine(p.goal))
goal_inverted = Condition("goal inverted",
                          lambda p: low_class(p.goal) != p.goal.root.pitch_class)
goal_over_its_fifth = Condition(
    "goal over its fifth", lambda p: (low_class(p.goal) - p.goal.root.pitch_class) % 12 == 7)
goal_third_degree = Condition("goal on the third degree", lambda p: _degree(p.goal, p) == 4)
goal_second_degree = Condition("goal on the second degree", lambda p: _degree(p.goal, p) == 2)
goal_fourth_degree = Condition("goal on the fourth degree", lambda p: _degree(p.goal, p) == 5)
goal_fifth_degree = Condition("goal on the fifth degree", lambda p: _degree(p.goal, p) == 7)
goal_for_tonic = Condition("goal stands for the tonic: the VI, the flat VI, the III", lambda p: (
    (_degree(p.goal, p), sounds_as(p.goal)) in ((9, "m"), (8, "M"), (4, "m"))))
goal_a_two = Condition("goal a II", lambda p: is_two(p.goal))
goal_leads_to_minor_key = Condition("goal leads to a minor key",
                                    lambda p: p.goal.scale.name in _INTO_MINOR[1:])
goal_leads_to_minor = Condition("goal leads to minor", lambda p: p.goal.scale.name in _INTO_MINOR)
goal_after_the_three = Condition("goal follows the III", lambda p: _from_degree(p, 2) in (
    1, 5, 8, 10))
goal_after_the_two = Condition("goal follows the II", lambda p: _from_degree(p, 1) in (5, 10, 11))
five_a_triad = Condition("the V of the goal a triad in the tune", lambda p: p.bare_five)
target = Condition("goal may have a dominant", lambda p: not _over_another_chord(p.goal) and (
    sounds_as(p.goal) in "Mm7" or (sounds_as(p.goal) == "h" and not _leading(p))))

# --- both
goal_on_this_root = Condition("goal on the root of the chord here", lambda p: _root_motion(p) == 0)
same = Condition("goal the chord here", lambda p: p.same)
alike = Condition("of one quality", lambda p: sounds_as(p.here) == sounds_as(p.goal))
over_its_leading_tone = Condition("here the triad on the V of the goal, over its third", lambda p: (
    _root_motion(p) == 5 and _bass_motion(p) == 1))
turns = Condition("turns on its root", lambda p: _root_motion(p) == 0 and (
    sounds_as(p.here) != sounds_as(p.goal)))
goal_same_root = Condition("a dominant on the same root",
                           lambda p: _root_motion(p) == 0 and sounds_as(p.goal) == "7")
goal_fifth_below = Condition("goal a fifth below", lambda p: (
    _root_motion(p) == 5 and not _over_another_chord(p.goal)))
goal_whole_step_below = Condition("goal a whole step below", lambda p: _root_motion(p) == 10)
half_step_down = Condition("goal a half step below", lambda p: _root_motion(p) == 11)
next_two_five = Condition("goal begins a II V a half step below",
                          lambda p: _root_motion(p) == 11 and is_two(p.goal))
whole_step_up = Condition("bass a whole step up", lambda p: _bass_motion(p) == 2)
whole_step_down = Condition("bass a whole step down", lambda p: _bass_motion(p) == 10)
ending = Condition("the ending", lambda p: p.ending)
last_of_form = Condition("the form ends here", lambda p: p.last)
after_fifth_below = Condition(
    "the goal then falls a fifth", lambda p: p.after is not None and (
        p.after.root.pitch_class - p.goal.root.pitch_class) % 12 == 5)
leads_to_major = Condition("goal the V of a major key, or it falls to a major chord", lambda p: (
    _then_falls(p, "M7") or (_degree(p.goal, p) == 7 and p.goal.key.mode == "major")))
leads_to_minor = Condition("the goal then falls a fifth to minor", lambda p: _then_falls(p, "m"))
major_key = Condition("in major", lambda p: p.goal.key.mode == "major")
minor_key = Condition("in minor", lambda p: p.goal.key.mode == "minor")
goal_third_step = Condition("goal a major third above the tonic here in the bass", lambda p: (
    low_class(p.goal) - p.key.tonic.pitch_class) % 12 == 4)
goal_after_line = Condition("goal reached from the VI by step or fifth", lambda p: (
    low_class(p.goal) - p.here.root.pitch_class - 9) % 12 in (5, 10, 8))
goal_sixth_below = Condition("goal a minor sixth above the chord here in the bass", lambda p: (
    low_class(p.goal) - p.here.root.pitch_class) % 12 == 8)
whole_line_down = Condition("goal's bass two or three half steps under the seventh", lambda p: (
    low_class(p.here) - low_class(p.goal)) % 12 in (3, 4))
goal_fourth_inverted = Condition("goal the IV over its third", lambda p: (
    p.goal.root.pitch_class - p.here.root.pitch_class) % 12 == 5 and (
    low_class(p.goal) - p.goal.root.pitch_class) % 12 == 4)
third_below = Condition("goal's bass a minor third below the bass here", lambda p: (
    low_class(p.here) - low_class(p.goal)) % 12 == 3)
goal_over_the_third = Condition("goal's bass a step above the third of the chord here", lambda p: (
    p.here.third in ("3", "b3") and (
        low_class(p.goal) - p.here.root.pitch_class - degree_pitch_class(p.here.third)) % 12
    in (1, 2)))
bass_by_step_to_the_third = Condition("leading tone of the goal a step from the bass here",
                                      lambda p: (low_class(p.goal) - 1 - low_class(p.here)) % 12
                                      in (1, 2, 3, 10, 11))
goal_from_the_fifth = Condition("goal the chord here, or reached from its fifth in the bass",
                                lambda p: p.same or (low_class(p.goal)
                                                     - p.here.root.pitch_class) % 12
                                in (0, 5, 7, 9))
