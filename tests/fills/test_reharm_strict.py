"""What a strict teacher strikes out of chords between chords: names, claims and voicings that
the notes do not bear out. Check values are common practice."""

from __future__ import annotations

import pytest
from tests.fills.builders import chorus_of, context_of

from fillwright.fills.context import GapContext
from fillwright.fills.model import Fill
from fillwright.fills.moves_place import Place, options
from fillwright.fills.reharm import propose_reharm
from fillwright.fills.reharm_plan import plans
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import harmony_of
from fillwright.theory.key import Key

LEVELS = ("beginner", "intermediate", "advanced")


def gap_of(melody: str, chords: str, *, level: str = "intermediate", tempo: int = 120,
           key: str = "C") -> GapContext:
    """The first gap of ``"E5 4, A4 4"`` over ``"C 4, F 4"``."""
    notes = [(a, float(b)) for a, b in (part.split() for part in melody.split(","))]
    symbols = [(a, float(b)) for a, b in (part.split() for part in chords.split(","))]
    return context_of(chorus_of("4/4", key, tempo, notes, symbols), 1, level=level)


def offered(context: GapContext, count: int = 10) -> tuple[Fill, ...]:
    found = propose_reharm(context, count)
    assert not isinstance(found, str), found
    return found


def chords_of(context: GapContext) -> list[list[str]]:
    return [[str(c.symbol) for o in p.options for c in o.chords] for p in plans(context, 2000)]


def between(here: str, goal: str, key: str = "C") -> Place:
    home = Key.parse(key)
    first, second = parse_chord(here), parse_chord(goal)
    return Place(harmony_of(first, home, second), harmony_of(second, home, None))


# --- what is said -------------------------------------------------------------------------

@pytest.mark.parametrize(("chord", "four", "shared"), [
    ("F", "Bbmaj7", "F and A"), ("Cm7", "Fm7", "C and E♭")])
def test_iv_and_back_speaks_of_no_voice_that_does_not_move(chord: str, four: str, shared: str
                                                           ) -> None:
    """A whole chord on the fourth degree is no neighbour over a standing bass."""
    option = next(o for o in options(between(chord, chord, "F")) if o.move.device == "IV and back")
    assert str(option.chords[0].symbol) == four
    assert "step up" not in option.reason
    assert f"with {shared} in common" in option.reason


@pytest.mark.parametrize(("here", "x", "goal", "said"), [
    ("Abmaj7", "Eb7", "Abm7", "G rises to A♭ and D♭ falls to C♭"),
    ("Gmaj7", "D7", "Gm7", "F♯ rises to G and C falls to B♭")])
def test_the_leading_tone_rises_and_the_seventh_falls(here: str, x: str, goal: str, said: str
                                                      ) -> None:
    option = next(o for o in options(between(here, goal, "Eb"))
                  if [str(c.symbol) for c in o.chords] == [x])
    assert said in option.reason


# --- where chords stand ---------------------------------------------------------------------

def test_no_early_resolution_where_the_dominant_comes_back() -> None:
    """Home between a dominant and the same dominant undoes its resolution."""
    assert not any(o.move.device == "early resolution" for o in options(between("G7", "G7")))
    assert any(o.move.device == "early resolution" for o in options(between("G7", "Dm7")))


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("here", "goal", "after"), [
    ("Ab7", "Ab7", "G7"), ("G7", "Gm7", "C7"), ("Cmaj7", "Cmaj7", "Dm7")])
def test_the_written_chord_after_the_return_is_not_taken_away(here: str, goal: str, after: str,
                                                              level: str) -> None:
    context = gap_of("C5 4, C5 1, Bb4 1, C5 1, Bb4 1, D5 4",
                     f"{here} 4, {goal} 4, {after} 4", level=level)
    assert chords_of(context)
    assert not any(after in row for row in chords_of(context))
    without = gap_of("C5 4, C5 1, Bb4 1, C5 1, Bb4 1", f"{here} 4, {goal} 4", level="advanced")
    assert any(after in row for row in chords_of(without))
