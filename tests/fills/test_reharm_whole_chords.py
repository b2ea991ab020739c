"""A chord between chords is heard, written and led as what it is called. Check values are common
practice."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from tests.fills.test_reharm_strict import LEVELS, between, gap_of, offered

from fillwright import ChordSymbol, Fill, Key
from fillwright.fills.devices.reharm.options import options
from fillwright.fills.devices.reharm.sound import heard_as_printed, root_heard
from fillwright.theory import harmony_of

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("chord", "heard", "is_it"), [
    ("Eb6/Bb", "bass 6 3", False),        # B flat, C and G: C7
    ("Eb6/Bb", "bass 1 3", True),
    ("D/C#", "bass 3 5", False),          # C sharp, F sharp and A: F sharp minor
    ("D/C#", "bass 1 3 5", True),
    ("Gmaj7/F#", "bass 3 6", False),      # F sharp, B and E: B sus
    ("F6/E", "bass 3 5 6", False),        # E, A, C and D: A minor
    ("Abmaj7/G", "bass 3 5 9", False),    # G, C, E flat and B flat: C minor 7
    ("C", "3 5", True)])
def test_a_chord_over_another_bass_has_its_root(chord: str, heard: str, is_it: bool) -> None:
    harmony = harmony_of(ChordSymbol.parse(chord), Key.parse("C"), None)
    assert root_heard(harmony, heard.split()) is is_it


@pytest.mark.parametrize(("heard", "is_it"), [("1 b3 b7", True), ("1 b3 b7 13", False)])
def test_a_minor_seventh_chord_with_its_sixth_is_the_dominant(heard: str, is_it: bool) -> None:
    """D F C with B is G7."""
    harmony = harmony_of(ChordSymbol.parse("Dm7"), Key.parse("C"), None)
    assert heard_as_printed(harmony, heard.split(), True) is is_it


def _names(fill: Fill, added: bool = True) -> list[set[str]]:
    return [{str(n.pitch.note_name) for n in fill.notes
             if n.onset_quarter < c.end_quarter and c.onset_quarter < n.end_quarter}
            for c in fill.chords if c.added is added]


@pytest.mark.parametrize("level", LEVELS)
def test_a_written_chord_over_its_fifth_is_struck_with_its_root(level: str) -> None:
    task = gap_of("G4 4, F4 4", "Eb6/Bb 4, Fm7 4", level=level, key="Eb", tempo=72)
    for fill in offered(task, 6):
        if not fill.chords[0].added:
            assert "Eb" in _names(fill, False)[0], (fill.device, _names(fill, False))


def test_a_diminished_chord_in_a_sharp_key_has_sharps_alone() -> None:
    """Over E in E major: A sharp beside C sharp, not B flat."""
    seen = False
    for level in LEVELS:
        for fill in offered(gap_of("E5 4, E5 4", "E 4, E 4", level=level, key="E"), 8):
            for chord, names in zip([c for c in fill.chords if c.added], _names(fill),
                                    strict=True):
                if str(chord.symbol) == "Edim7":
                    seen = True
                    assert not {"Bb", "Db"} & names, names
    assert seen


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_high_hands_stay_high_when_the_tune_is_over(level: str) -> None:
    """Under A6 the right hand lay over A5: it goes on by steps, not a seventh down."""
    for fill in offered(gap_of("A6 3/2, - 5/2, A5 4".replace("3/2", "1.5").replace("5/2", "2.5"),
                               "Am 4, Am 4", level=level, key="Am", tempo=63), 3):
        tops = [max(n.midi for n in fill.notes if n.hand == "right" and n.onset_quarter == onset)
                for onset in sorted({n.onset_quarter for n in fill.notes if n.hand == "right"})]
        assert all(abs(b - a) < 8 for a, b in pairwise(tops)), (fill.device, tops)


def test_a_diminished_chord_does_not_leave_by_a_tritone() -> None:
    """G, G sharp diminished, D7: the bass wants A, and C sharp diminished is there for D."""
    basses = [o.chords[-1].symbol for o in options(between("G", "D7", "G"))
              if o.chords[-1].symbol.quality == "diminished"]
    assert "C#dim7" in map(str, basses) and "G#dim7" not in map(str, basses)


def test_no_dominant_slides_up_into_another() -> None:
    assert "C#7" not in [str(o.chords[-1].symbol) for o in options(between("G", "D7", "G"))]


def test_a_raised_fifth_rises_in_its_own_voice() -> None:
    """B flat, B and then the C of A flat, in one hand's one voice."""
    seen = False
    for level in ("intermediate", "advanced"):
        task = gap_of("Eb5 4, Eb5 4", "Eb6 4, G7 4", level=level, key="Eb", tempo=60)
        for fill in offered(task, 20):
            for one, other in pairwise(fill.chords):
                if str(one.symbol) != "Eb7#5" or other.symbol.root.pitch_class != 8:  # type: ignore[union-attr]
                    continue
                seen = True
                keys = [{h: sorted(n.midi for n in fill.notes if n.hand == h
                                   and c.onset_quarter <= n.onset_quarter < c.end_quarter)
                         for h in ("left", "right")} for c in (one, other)]
                rises = [(a, b) for h in ("left", "right")
                         for a in keys[0][h] for b in keys[1][h] if a % 12 == 11 and b == a + 1]
                assert rises, (fill.device, keys)
    assert seen


@pytest.mark.parametrize("level", LEVELS[1:])
def test_the_landing_is_not_rung_half_a_beat_before_it(level: str) -> None:
    """C comes on the first beat, the melody's E half a beat later."""
    task = gap_of("A4 4.5, E4 3.5", "Dm7 4, C 4", level=level, tempo=140)
    fills = offered(task, 8)
    assert fills
    for fill in fills:
        last = max(n.onset_quarter for n in fill.notes)
        assert last < 4 or max(n.midi for n in fill.notes if n.onset_quarter == last) != 64, (
            fill.device, [str(n.pitch) for n in fill.notes])


def test_what_a_thirteenth_chord_leaves_out_is_not_shared() -> None:
    """E flat is no tone of B flat thirteen, whose third is D."""
    said = " ".join(reason for level in LEVELS for fill in offered(
        gap_of("G5 3, C5 5", "C 3, Bb13 5", level=level, tempo=126), 10)
        for reason in (*fill.reasons, *(c.reason for c in fill.chords if c.reason)))
    assert "Fm7" in said and "E♭ in common" not in said


def test_the_relative_major_parts_no_minor_chord_from_itself() -> None:
    """F major seven between two D minor chords is D minor nine; on the way to G7 it is another."""
    def roots(goal: str) -> set[str]:
        return {str(o.chords[0].root) for o in options(between("Dm", goal, "Dm"))
                if o.chords[0].symbol.quality == "major"}
    assert "F" not in roots("Dm") and "F" in roots("A7")


@pytest.mark.parametrize("level", LEVELS)
def test_no_thirds_are_piled_up_below_c3(level: str) -> None:
    fills = offered(gap_of("Bb4 4, Eb5 4", "Eb6 4, Cm7 4", level=level, key="Eb"), 20)
    assert any("dim7" in str(c.symbol) for fill in fills for c in fill.chords)
    for fill in fills:
        for onset in {n.onset_quarter for n in fill.notes}:
            keys = sorted(n.midi for n in fill.notes
                          if n.onset_quarter <= onset < n.end_quarter)
            assert not any(a < 48 and {b - a, c - b} <= {3, 4}
                           for a, b, c in zip(keys, keys[1:], keys[2:], strict=False)), (
                fill.device, keys)


def test_a_third_that_the_tune_sings_is_not_held_back() -> None:
    """Under D sharp no B7 without its third; under F sharp it may wait."""
    def waits(note: str) -> bool:
        return any("sus" in str(c.symbol) for level in LEVELS for fill in offered(
            gap_of(f"{note} 4, E5 4", "B7 4, E 4", level=level, key="E"), 20)
            for c in fill.chords)
    assert waits("F#4") and not waits("D#5")


@pytest.mark.parametrize("level", LEVELS)
def test_no_note_is_cut_where_another_way_keeps_it(level: str) -> None:
    fills = offered(gap_of("G4 4, F#4 4", "G 4, G7 4", level=level), 20)
    kept = [fill for fill in fills if fill.held_end.kept != "pedal"]
    assert kept and all(fill.held_end.until_quarter == 4 for fill in kept)


def test_a_flat_does_not_stand_beside_a_sharp_colour_in_a_diminished_chord() -> None:
    """F sharp, A, C and D sharp under G sharp, though the key has E flat."""
    seen = False
    for level in LEVELS:
        for fill in offered(gap_of("G#4 4, G4 4", "E7 4, Gm 4", level=level, key="Gm"), 20):
            for chord in fill.chords:
                if chord.symbol.quality != "diminished":
                    continue
                seen = True
                names = {n.pitch.note_name for n in fill.notes
                         if chord.onset_quarter <= n.onset_quarter < chord.end_quarter}
                assert not any(name.alter < 0 for name in names), (str(chord.symbol), names)
    assert seen


def _singles(here: str, goal: str, key: str, before: str, after: str) -> set[str]:
    """The single chords that may stand between two of four."""
    home = Key.parse(key)
    row = [ChordSymbol.parse(text) for text in (before, here, goal, after)]
    first, second, third, fourth = (harmony_of(a, home, b)
                                    for a, b in zip(row, [*row[1:], None], strict=True))
    place = replace(between(here, goal, key), here=second, goal=third, before=first, after=fourth)
    return {str(o.chords[0].symbol) for o in options(place, single=True)}


def test_a_dominant_may_come_before_the_one_that_stands_for_it() -> None:
    """C minor 7, F7, B7, B flat 7: the half steps in the bass are printed, and F7 is B7's own."""
    assert "F7" in _singles("Cm7", "B7", "Eb", "G7", "Bb7")
    assert "Fm7" not in _singles("Cm7", "B7", "Eb", "G7", "Bb7")


def test_a_dominant_over_its_fifth_may_fall_to_its_tonic() -> None:
    assert _singles("C7/G", "D7", "F", "E7", "G7") & {"F", "F6", "Fmaj7"}


def test_the_third_of_a_bare_minor_triad_may_carry_the_bass_on() -> None:
    assert _singles("Am", "Dm", "C", "E7", "G7") & {"C", "C6", "Cmaj7"}


def test_a_dominant_climbs_to_the_diminished_chord_over_it() -> None:
    assert "Bb7" in _singles("Fm", "Bdim7", "Eb", "Ab", "Cm")


def test_no_dominant_leads_to_a_chord_over_a_foreign_bass() -> None:
    assert "F7" in _singles("F", "Bb", "F", "C7", "F")
    assert "F7" not in _singles("F", "Bb/C", "F", "C7", "F")


def test_a_cadence_around_a_chord_is_the_key_it_is_spoken_of_in() -> None:
    """Between D minor and its A7 the G minor is the IV of D minor, whatever the tune's key."""
    said = " ".join(reason for level in LEVELS for fill in offered(
        gap_of("A4 4, G4 4, F4 4", "Dm 4, A7 4, Dm 4", level=level, key="F"), 20)
        for reason in fill.reasons)
    assert "of D minor" in said and "F major" not in said


def test_a_dominant_that_resolves_is_altered_for_those_who_know_how() -> None:
    fills = offered(gap_of("G4 4, E4 4", "G7 4, Cmaj7 4", level="advanced"), 3)
    assert any("alt" in str(c.symbol) for fill in fills for c in fill.chords)
