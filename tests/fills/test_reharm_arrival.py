"""Where added chords arrive, what is no arrival, and by which names a gap's chords are written.

Check values are common practice.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import ChordSymbol, Fill, Key
from fillwright.exact import Fraction
from fillwright.fills import Task
from fillwright.fills.devices.reharm.arrival import leavings
from fillwright.fills.devices.reharm.options import options
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.devices.reharm.plan import plans
from fillwright.fills.devices.reharm.time import is_strong, slots
from fillwright.fills.devices.reharm.words import leads
from fillwright.rules import RUB
from fillwright.theory import harmony_of

LEVELS = ("beginner", "intermediate", "advanced")


def gap_of(melody: str, chords: str, key: str, *, level: str = "intermediate", tempo: int = 63,
           number: int = 1) -> Task:
    rows = [[(name, float(length)) for name, length in (part.split() for part in text.split(", "))]
            for text in (melody, chords)]
    return one_task(chorus_of("4/4", key, tempo, *rows), number, level=level)


def offered(task: Task, count: int = 6) -> tuple[Fill, ...]:
    found = options_of(task, "reharm", count)
    assert not isinstance(found, str), found
    return found


def between(here: str, goal: str, key: str) -> Place:
    home, first, second = Key.parse(key), ChordSymbol.parse(here), ChordSymbol.parse(goal)
    return Place(harmony_of(first, home, second), harmony_of(second, home, None))


PICKUP = ("F5 1/2, Db6 1, F5 2, Gb5 1/2, G5 4, Ab5 4".replace("1/2", "0.5"),
          "Bbm7 4, Eb7 4, Ab 4", "Ab")
"""The held F lasts until the last eighth of its bar, where B flat minor 7 would come back."""


def test_a_chord_that_comes_back_for_an_eighth_is_no_goal() -> None:
    (found,) = leavings(gap_of(*PICKUP), 0)
    assert str(found.place.goal.symbol) == "Eb7"
    assert found.place.skipped is not None and str(found.place.skipped.symbol) == "Bbm7"
    assert (found.end_quarter, found.goal_quarter) == (Fraction(2), Fraction(5, 2))


@pytest.mark.parametrize(("melody", "goal"), [
    ("F5 2, Gb5 2, G5 4", "Bbm7 Eb7"), ("F5 3, Gb5 1, G5 4", "Eb7"), ("F5 4, G5 4", "Eb7"),
    ("F5 2, Gb5 2, G5 4, Ab5 4", "Bbm7 Eb7"), ("F5 2, Gb5 6", "Bbm7 Eb7")])
def test_a_chord_that_comes_back_for_half_a_bar_is_one_of_two(melody: str, goal: str) -> None:
    found = leavings(gap_of(melody, "Bbm7 4, Eb7 4", "Ab"), 0)
    assert " ".join(str(leave.place.goal.symbol) for leave in found) == goal
    assert [leave.soon for leave in found] == [True, False][-len(found):]


@pytest.mark.parametrize("level", LEVELS)
def test_past_the_landing_to_the_next_real_change(level: str) -> None:
    """C is held for two beats, the melody comes in on beat 3, and the chord changes in the next bar
    only: a chord rings on under the melody until its goal comes."""
    task = gap_of("C5 2, C5 1, D5 1, E5 4, F5 4", "F 4, C7 4, F 4", "F", tempo=132, level=level)
    past = [plan for plan in plans(task, 60) if plan.options[-1].place.skipped is not None]
    assert past
    for plan in past:
        last = plan.events[-1]
        assert last.end_quarter == 4
        assert last.harmony.takes(0) and last.harmony.takes(2), last.harmony.symbol
    for fill in offered(task, 12):
        over = [n for n in fill.notes if n.end_quarter > task.end_quarter]
        assert {n.hand for n in over} <= {"left"}
        assert bool(over) <= any("does not come back" in reason for reason in fill.reasons)


def test_a_diminished_chord_does_not_ring_under_a_note_of_another() -> None:
    """C sharp diminished would wait for D minor under the C on beat 3."""
    task = gap_of("C5 2, C5 2, D5 4, F5 4", "C 4, Dm7 4, G7 4", "C", tempo=132, level="beginner")
    for plan in plans(task, 60):
        last = plan.events[-1]
        assert last.end_quarter <= task.end_quarter or last.harmony.symbol.quality != "diminished"


def test_a_passing_note_of_the_melody_stops_no_chord() -> None:
    """E natural, an eighth between D and F, is no note of the chord that rings on."""
    rings = [leave for leave in leavings(gap_of("C5 2, C5 1, D5 0.5, E5 0.5, E5 4", "F 4, C7 4",
                                                "F"), 0) if not leave.soon]
    assert [[str(n.pitch) for n in leave.passing] for leave in rings] == [["C5", "D5"]]


@pytest.mark.parametrize("level", LEVELS[1:])
def test_the_last_chord_leads_past_it_and_says_so(level: str) -> None:
    task = gap_of(*PICKUP, level=level)
    goal = leavings(task, 0)[0].place.goal
    led = [f for f in offered(task) if f.chords[-1].added]
    for fill in led:
        last = harmony_of(fill.chords[-1].symbol, goal.key, goal.symbol)
        assert leads(last, goal, goal.key), fill.device
        assert any("is not struck again" in reason for reason in fill.reasons)
    assert led


@pytest.mark.parametrize("level", LEVELS[1:])
def test_only_the_left_hand_rings_over_the_landing_and_rubs_nothing(level: str) -> None:
    task = gap_of(*PICKUP, level=level)
    coming = [n.midi for n in task.following if n.onset_quarter < Fraction(5, 2)]
    for fill in offered(task):
        over = [n for n in fill.notes if n.end_quarter > task.end_quarter]
        assert {n.hand for n in over} <= {"left"}
        assert all(n.end_quarter <= Fraction(5, 2) for n in over)
        assert not any(RUB.among([n.midi for n in over], midi) for midi in coming)


@pytest.mark.parametrize(("here", "goal", "key", "refused"), [
    ("G7", "Dm7", "C", "Em7"), ("Eb7", "Bbm7", "Ab", "Cm7"), ("Fdim", "Bb7", "Ab", "Fm7b5"),
    ("C", "Em", "C", "G7"), ("Gmaj7", "Gmaj7", "G", "Em7"), ("Ab7", "Eb", "Eb", "Gm7")])
def test_a_new_name_is_no_new_chord(here: str, goal: str, key: str, refused: str) -> None:
    """E minor 7 after G7 is G13; after G7 nobody takes E minor for a surprise; between two chords
    of G major E minor 7 is G6."""
    found = [[str(c.symbol) for c in o.chords] for o in options(between(here, goal, key))]
    assert found
    assert [refused] not in found


def test_colours_alone_are_offered_where_nothing_else_is() -> None:
    for level in LEVELS[1:]:
        fills = offered(gap_of("G5 4, F5 4", "Eb7 4, Ab 4", "Ab", level=level))
        assert not any(f.device.startswith("colour change") for f in fills[1:])


@pytest.mark.parametrize(("melody", "chords", "key"), [
    ("A5 2, Ab5 2, F5 4", "Gb7 4, F7 4", "Ab"), ("Gb5 4, D5 4", "B6 2, Abm7 2, Gb7 4", "Eb"),
    ("F5 4, D5 4", "Bb 4, Bb7 4", "F"), ("Eb5 4, D5 4", "F7 4, Bb7 4", "Eb")])
@pytest.mark.parametrize("level", LEVELS)
def test_one_name_for_a_key_in_one_chord(melody: str, chords: str, key: str, level: str) -> None:
    task = gap_of(melody, chords, key, level=level, tempo=120)
    assert task.held is not None
    for fill in offered(task):
        assert fill.held_end is not None
        # what a push strikes is the coming chord's
        early = Fraction(any("half a beat early" in reason for reason in fill.reasons), 2)
        for chord in fill.chords:
            start, end = chord.onset_quarter - early, chord.end_quarter - early
            names = {n.pitch.note_name for n in fill.notes if start <= n.onset_quarter < end}
            if chord.onset_quarter < fill.held_end.until_quarter:
                names.add(task.held.pitch.note_name)
            assert len({name.pitch_class for name in names}) == len(names), (fill.device, names)


def test_a_substitute_is_named_as_the_sheet_and_the_melody_are() -> None:
    """Under G flat, in a sheet that writes G flat 7, no chord is called F sharp 7."""
    task = gap_of("Gb5 4, Eb5 4, Gb5 4", "Gb7 2, B6 2, Abm7 4, Gb7 4", "Eb", level="advanced",
                  tempo=120)
    roots = {str(c.symbol.root) for f in offered(task, 12) for c in f.chords if c.added}
    assert roots and "F#" not in roots


def test_f_flat_is_read_under_a_held_e_flat_and_without_double_flats() -> None:
    """F flat major seven has the tune's E flat, E major seven a D sharp; F flat 7 is E7."""
    added = {str(c.symbol) for chords in ("Ab 4, Eb7 4", "Ab 4, Fm 4")
             for f in offered(gap_of("Eb5 4, C5 4", chords, "Ab", level="advanced"), 40)
             for c in f.chords if c.added}
    assert {"Fbmaj7", "Edim7"} <= added and "Fbdim7" not in added


@pytest.mark.parametrize("last, fits", [("D5 1", False), ("Eb5 1", True), ("D5 0.5, C5 0.5", False),
                                        ("Eb5 0.5, C5 0.5", True)])
@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_a_beat_of_melody_over_the_last_chord_fits_it(last: str, fits: bool, level: str) -> None:
    """E flat 7 waits for F: not under a D, a half step above its seventh, were it an eighth: there
    the hands would have to let go of the chord, and what stops leads nowhere."""
    task = gap_of(f"G4 3, {last}, C5 4", "C7 4, F 4", "F", level=level)
    rows = [[str(e.harmony.symbol) for e in p.events if e.added] for p in plans(task, 2000)]
    assert (["Bbm6", "Eb7"] in rows) == fits


# --- the bar -------------------------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
def test_no_chord_is_tied_over_a_bar_line_to_the_beat_after_it(level: str) -> None:
    """Two chords between the second beat and the third of the next bar: one of them comes on the
    first beat, or both before it or after it; none on the fourth and then on the second."""
    task = gap_of("F5 1, G4 5, G4 1, A4 1, Bb4 4", "C7 12", "F", level=level)
    rows = [row.onsets for row in slots(2, Fraction(0), Fraction(5), task)]
    line = 3  # quarters from the opening of the gap on the second beat
    assert rows
    assert all(not (a < line < b) or a in (Fraction(1), Fraction(5, 2)) for a, b in rows), rows


def test_chords_may_stand_on_the_strong_beats_alone() -> None:
    task = gap_of("G4 6, A4 2, C5 4", "C7 8, F 4", "F", tempo=66)
    rows = [row.onsets for row in slots(2, Fraction(0), Fraction(8), task)]
    assert (Fraction(4), Fraction(6)) in rows
    assert any(is_strong(task, row[0]) and row[1] - row[0] == 1 for row in rows)


@pytest.mark.parametrize("level", LEVELS)
def test_the_hands_come_in_on_the_beat_after_a_note_a_sixteenth_before_it(level: str) -> None:
    task = gap_of("C5 0.75, D5 1, C5 1, E5 3.25, D5 2, C5 4", "C 8, F 4", "C", level=level,
                  tempo=120)
    fills = offered(task)
    assert fills
    for fill in fills:
        assert min(n.onset_quarter for n in fill.notes) >= Fraction(1, 4)


# --- the melody note and the chord under it ----------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
def test_a_major_third_gives_way_to_the_minor_one_that_the_tune_sings(level: str) -> None:
    task = gap_of("Eb4 4, F4 4", "C 4, F 4", "C", level=level, tempo=100)
    for fill in offered(task):
        first = fill.chords[0]
        if not first.added:
            assert not any(n.midi % 12 == 4 for n in fill.notes
                           if n.onset_quarter == 0)


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
@pytest.mark.parametrize(("melody", "chords"), [
    ("F5 2, F5 2", "D 4"), ("F5 2, F5 2, A5 4", "Bbm 2, A 2, D 4"), ("Ab4 4, Bb4 4", "C7 4, F 4")])
def test_a_key_an_octave_from_the_held_note_is_called_as_it_is(melody: str, chords: str, level: str
                                                               ) -> None:
    task = gap_of(melody, chords, "C", level=level, tempo=132)
    assert task.held is not None
    held = task.held.pitch
    for fill in offered(task, 10):
        for note in fill.notes:
            if (note.midi - held.midi) % 12 == 0 and (
                    note.onset_quarter < fill.held_end.until_quarter):
                assert note.pitch.note_name == held.note_name, (fill.device, str(note.pitch))


@pytest.mark.parametrize("level", LEVELS)
def test_the_fourth_that_is_held_back_falls_in_its_own_hand(level: str) -> None:
    task = gap_of("D5 4, E5 4", "G7 4, C 4", "C", level=level, tempo=100)
    fills = [f for f in offered(task, 10) if f.device == "sus delay"]
    assert fills
    for fill in fills:
        late = fill.chords[1].onset_quarter
        before = {(n.midi, n.hand) for n in fill.notes if n.onset_quarter < late}
        after = {(n.midi, n.hand) for n in fill.notes if n.onset_quarter >= late}
        assert any((midi - 1, hand) in after for midi, hand in before if midi % 12 == 0)


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_a_half_step_leads_to_the_bass_that_comes(level: str) -> None:
    """F7 or Fdim7 before Em/G leads nowhere: the bass would go from F up to G."""
    task = gap_of("F5 2, D5 2, F5 4", "G 2, Em/G 2, D 4", "C", level=level, tempo=132)
    for fill in offered(task, 12):
        last = [c.symbol for c in fill.chords if c.added][-1:]
        assert not any(str(s.root) == "F" and s.bass in (None, s.root) and
                       s.quality in ("dominant", "diminished") for s in last), fill.device


def test_a_half_diminished_chord_with_its_flat_thirteenth_is_another() -> None:
    """C sharp half-diminished with A is A9 over its third."""
    found = [c for o in options(between("D", "D", "D")) for c in o.chords
             if str(c.symbol) == "C#m7b5"]
    assert found and not any(c.takes(9) for c in found)


# --- what is said is what the tune and the keys do ---------------------------------------

def before(here: str, goal: str, after: str, key: str = "C") -> Place:
    """Between two chords, before a third."""
    return replace(between(here, goal, key),
                   after=harmony_of(ChordSymbol.parse(after), Key.parse(key), None))


@pytest.mark.parametrize(("device", "here", "goal", "after", "there"), [
    ("dominant turning minor", "Cmaj7", "Dm7", "G7", True),
    ("dominant turning minor", "Cmaj7", "Dm7", "C", False),       # no V follows
    ("dominant turning minor", "Fm7", "Fm7/Bb", "Eb", False),     # the third goes up and back
    ("half-diminished II before the dominant", "Dm", "D7", "Dm", False),
    ("half-diminished II before the dominant", "Cmaj7", "D7", "Gm", True),
    ("flat VI before the dominant", "C", "G", "C", True),
    ("flat VI before the dominant", "C", "G", "Em/G", False),     # a bare triad that leads nowhere
    ("slash cadence", "C", "G7", "C", False),                     # C once more, over G too early
    ("slash cadence", "F", "G7", "Am", True)])
def test_a_function_is_named_where_it_is_one(device: str, here: str, goal: str, after: str,
                                             there: bool) -> None:
    found = [o for o in options(before(here, goal, after, "Eb" if after == "Eb" else "C"))
             if o.move.name == device]
    assert bool(found) == there


def test_a_dominant_that_turns_minor_is_not_said_to_be_a_two() -> None:
    assert not any("the II of what follows" in option.said()
                   for option in options(before("Cmaj7", "Dm7", "G7")))


def test_a_minor_chord_takes_its_seventh_from_the_melody() -> None:
    """Under F the minor IV is G minor 7, not G minor 6, which would have to let F go."""
    place = between("G", "D", "D")
    for melody, name in ((5, "Gm7"), (9, "Gm6")):
        found = [str(o.chords[0].symbol) for o in options(place, melody)
                 if o.move.name == "IV minor"]
        assert name in found, found


def test_a_raised_fifth_leads_to_no_third_that_the_tune_denies() -> None:
    for landing, there in (("F5 4", False), ("F#5 4", True)):
        task = gap_of(f"F5 4, {landing}", "Dm 4, D 4", "C", tempo=132)
        devices = {f.device for f in offered(task, 30)}
        assert ("augmented dominant" in devices) == there


def test_a_diminished_chord_is_spelt_by_its_leading_tone() -> None:
    """B diminished into C under a B flat in three flats: C flat would not lead."""
    found = [c.symbol for f in offered(gap_of("Bb5 3, Bb5 1, C6 4", "Gm7 3, C7 1, Fm7 4", "Eb",
                                              level="beginner", tempo=132), 30)
             for c in f.chords if c.added and c.symbol.quality == "diminished"
             and c.symbol.root is not None and c.symbol.root.pitch_class == 11]
    assert found and {str(symbol.root) for symbol in found} == {"B"}


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_a_half_step_in_the_bass_is_one_in_the_keys(level: str) -> None:
    task = gap_of("D4 4, C#4 4", "G7 2, Dm 2, A7 4", "C", level=level, tempo=132)
    for fill in offered(task, 30):
        for one, two in zip(fill.chords, fill.chords[1:], strict=False):
            low, next_low = (min(n.midi for n in fill.notes if n.onset_quarter <= c.onset_quarter
                                 < n.end_quarter) for c in (one, two))
            if one.added and (next_low - low) % 12 in (1, 11):
                assert abs(next_low - low) == 1, (fill.device, low, next_low)


def test_a_chord_that_waits_is_not_left_by_a_foreign_note() -> None:
    """A7 with its B does not wait for A flat under a B flat of the tune."""
    task = gap_of("G5 3.5, Bb5 0.5, Ab5 4", "Eb7 4, Ab 4", "Ab", level="advanced",
                  tempo=132)
    for fill in offered(task, 30):
        if fill.chords[-1].added:
            assert "A" not in str(fill.chords[-1].symbol.root), fill.device


# --- what is left of the tune's own cadences and bars ------------------------------------------

def at_a_place(place: Place, *symbols: str) -> list[str]:
    """What is said of these chords where they are offered at a place."""
    return [o.said() for o in options(place) if tuple(str(c.symbol) for c in o.chords) == symbols]


@pytest.mark.parametrize(("here", "goal", "after", "chord", "there"), [
    ("Dm7", "G7", "C", "C/G", True),      # the cadential six-four
    ("Gm7", "A7", "Dm", "Dm/A", True),
    ("Dm7", "G7", "C", "C6", False),      # home before its dominant
    ("C/G", "Dm7", "G7", "Am7", True)])   # the bass goes on, by a step and by a fifth
def test_home_waits_for_its_dominant(here: str, goal: str, after: str, chord: str, there: bool
                                     ) -> None:
    assert bool(at_a_place(before(here, goal, after), chord)) == there


def test_no_fifth_falls_to_a_chord_over_another_bass() -> None:
    home = Key.parse("C")
    five, one, over = (harmony_of(ChordSymbol.parse(text), home, None)
                       for text in ("G7", "C", "C/G"))
    assert leads(five, one, home) == "G7 falls a fifth to C"
    assert leads(five, over, home) == "G7 is the dominant of C/G: the bass stays"
    said = at_a_place(between("Dm7", "C/G", "C"), "G7")
    assert said and all("fifth" not in text and "the bass stays" in text for text in said)


@pytest.mark.parametrize("tempo", [63, 132])
def test_the_bar_line_keeps_its_chord(tempo: int) -> None:
    """From the fourth beat to the second: G7 on the bar line would make it the first of a bar."""
    task = gap_of("A4 3, G5 2, E5 3, C5 4", "C 8, F 4", "C", tempo=tempo, number=2)
    over = [e.harmony.symbol for p in plans(task, 400) for e in p.events
            if e.added and e.onset_quarter <= 1 < e.end_quarter]
    assert all(symbol.lowest is not None and symbol.lowest.pitch_class == 0 for symbol in over)


def test_altered_dominants_are_for_those_who_know_the_plain_ones() -> None:
    found = {str(o.chords[-1].symbol): o.way.level.name
             for o in options(between("Am7", "Am7", "A minor")) if len(o.chords) == 1}
    assert found["E7alt"] == "advanced" != found["E7"]


def named(here: str, goal: str, key: str) -> dict[str, list[str]]:
    """The single chords offered between two others, by device."""
    found: dict[str, list[str]] = {}
    for option in options(between(here, goal, key)):
        if len(option.chords) == 1:
            found.setdefault(option.move.name, []).append(str(option.chords[0].symbol))
    return found


def test_the_ii_of_a_dominant_of_minor_is_half_diminished() -> None:
    """After another dominant it may be the major key's (common practice)."""
    device = "related II before the dominant"
    assert named("Am", "E7b9", "Am")[device] == ["Bm7b5"]
    assert named("D7", "E7b9", "Am")[device] == ["Bm7b5", "Bm7"]
    assert named("C", "G7", "C")[device] == ["Dm7"]


def test_what_comes_home_turns_nowhere_aside() -> None:
    device = "II V that turns aside"
    assert device not in named("Dm7", "C", "C")
    assert device in named("Dm7", "Em7", "C")


def test_what_the_tune_has_elsewhere_is_not_the_goal_come_early() -> None:
    """Where the tune once has A before A7, it is no passing chord on the way to A7."""
    place = replace(between("Dm", "A7", "Dm"), own=frozenset({(9, "M"), (7, "m")}))
    assert not any(str(o.chords[0].symbol) == "A" for o in options(place))


@pytest.mark.parametrize(("goal", "said"), [
    ("D7", None), ("E7", "Bm7♭5 falls a fifth to E7"), ("Am7", "Bm7♭5 steps down to Am7")])
def test_a_half_diminished_chord_leads_to_no_dominant_a_third_away(goal: str, said: str | None
                                                                   ) -> None:
    """Its F contradicts the F sharp of D7, whose II it is not."""
    home = Key.parse("C")
    last, then = (ChordSymbol.parse(text) for text in ("Bm7b5", goal))
    found = leads(harmony_of(last, home, then), harmony_of(then, home, None), home)
    assert found == said
