"""Passing chords and what stands beside them: the chord that really comes, the notes that the
neighbours share, the written chord itself. Check values are common practice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, every_task, longest_hole, one_task, options_of

from fillwright import ChordSymbol, Fill, Key
from fillwright.fills import Task
from fillwright.fills.devices.reharm.arrival import leavings
from fillwright.fills.devices.reharm.device import Stands
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.devices.reharm.options import options
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.devices.reharm.plan import plans
from fillwright.rules import CROWDED
from fillwright.theory import Interval, degree_pitch_class, harmony_of

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")


def gap_of(melody: str, chords: str, *, level: str = "intermediate", tempo: int = 120,
           key: str = "C", hand: str = "medium") -> Task:
    notes = [(name, float(length)) for name, length in
             (part.split() for part in melody.split(", "))]
    symbols = [(name, float(length)) for name, length in
               (part.split() for part in chords.split(", "))]
    return one_task(chorus_of("4/4", key, tempo, notes, symbols), level=level, hand=hand)


def offered(task: Task, count: int = 10) -> tuple[Fill, ...]:
    found = options_of(task, "reharm", count)
    return () if isinstance(found, str) else found


def between(here: str, goal: str, key: str = "C", by: Interval | None = None) -> Place:
    home, row = Key.parse(key), [ChordSymbol.parse(here), ChordSymbol.parse(goal)]
    if by is not None:
        home = Key.of(home.tonic + by, home.mode)
        row = [symbol.transposed(by) for symbol in row]
    return Place(harmony_of(row[0], home, row[1]), harmony_of(row[1], home, None))


def names_at(place: Place, device: str = "") -> list[list[str]]:
    return [[str(c.symbol) for c in o.chords] for o in options(place)
            if o.move.name.endswith(device)]


# --- the chord that comes ---------------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("chords", ["C 4, N.C. 4", "Am7 2, D7 2, N.C. 4", "G7 4, N.C. 4"])
def test_where_no_chord_comes_the_written_one_comes_back(chords: str, level: str) -> None:
    task = gap_of("A4 4, E4 4", chords, level=level)
    written = task.spans[-1].harmony.symbol
    fills = offered(task)
    assert fills
    for fill in fills:
        last = fill.chords[-1]
        assert last.symbol == written or fill.device.startswith("colour change"), fill.device
        assert last.onset_quarter < task.end_quarter


@pytest.mark.parametrize("level", LEVELS)
def test_nothing_leads_into_a_part_of_the_gap_without_chord(level: str) -> None:
    """The last chord is back before N.C. begins."""
    task = gap_of("E4 6, E4 2", "C 4, N.C. 4", level=level)
    for fill in offered(task):
        added = [c.end_quarter for c in fill.chords if c.added]
        assert max(added) <= 4, fill.device


def test_a_chord_that_begins_with_the_landing_is_a_goal() -> None:
    task = gap_of("E4 4, D4 4", "C 2, N.C. 2, Dm7 4")
    assert any("dominant of Dm7" in " ".join(f.reasons) for f in offered(task))


@pytest.mark.parametrize(("chords", "key"), [
    ("Abm7b5 4, Db7 4, Gbm7 4", "Gb"), ("Dm7b5 4, G7 4, Cm6 4", "C minor"),
    ("Am7 4, D7 4, Gmaj7 4", "G"), ("Cm7 4, F7 4, Bbmaj7 4", "Bb")])
def test_no_move_leads_to_a_chord_that_another_takes_the_place_of(chords: str, key: str) -> None:
    task = gap_of("Ab4 8, F4 4", chords, key=key, level="advanced")
    seen = 0
    for plan in plans(task, 3000):
        seen += len(plan.options) > 1
        for before, after in pairwise(plan.events):
            if before.option is None or after.option in (None, before.option):
                continue
            span = task.span_at(after.onset_quarter)
            written = span.harmony
            if span.onset_quarter != after.onset_quarter:
                continue  # two chords after the same written one
            assert after.option is not None and after.option.way.stands is Stands.COLOUR
            assert after.harmony.root == written.root
    assert seen


def test_a_delayed_third_comes() -> None:
    """A sus chord is followed by a chord on its own root that has the third."""
    for here in ("D7", "Am7", "Gmaj7", "D7b9", "D7/F#", "D9sus4", "A7"):
        for goal in ("Gmaj7", "D7", "D7(b9)", "D7/F#", "Gm7", "D7sus4"):
            place = between(here, goal, "G")
            for option in options(place):
                if option.move.name != "sus delay":
                    continue
                if option.way.stands is Stands.INSTEAD:
                    continue
                following = place.here if option.way.stands is Stands.DELAY else place.goal
                assert following.root == option.chords[-1].root
                assert "3" in following.tones


def test_no_sus_chord_in_place_of_a_sus_chord() -> None:
    for goal in ("F", "Fm7", "C7"):
        found = options(between("C7sus4", goal, "F"))
        assert found
        for option in found:
            if option.move.colour:
                continue
            first = option.chords[0].symbol
            assert (str(first.root), quality_of(first), first.bass) != ("C", "7", None)
            assert "holds the third" not in option.said()


@pytest.mark.parametrize("level", LEVELS)
def test_a_sus_chord_before_a_flat_nine_has_no_natural_ninth(level: str) -> None:
    assert ["E9sus4"] not in names_at(between("Bm7b5", "E7b9", "A minor"))
    task = gap_of("D5 2, G#4 2, A4 4", "Bm7b5 2, E7b9 2, Am6 4", level=level, tempo=80,
                  key="A minor")
    for fill in offered(task):
        if fill.device == "sus delay":
            assert not any(n.midi % 12 == 6 for n in fill.notes)
    assert any(str(o.chords[0].symbol) == "C7sus4" and o.chords[0].tensions == ()
               for o in options(between("C7b9", "Fm7", "C minor")))


# --- the notes of the neighbours -----------------------------------------------------------------

STEPS = [Interval(0, 0), Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(2, 4),
         Interval(3, 5), Interval(3, 6), Interval(4, 7), Interval(5, 8), Interval(5, 9),
         Interval(6, 10), Interval(6, 11)]


@pytest.mark.parametrize("by", STEPS, ids=str)
def test_a_chord_on_the_way_has_the_notes_its_neighbours_share(by: Interval) -> None:
    """Between Cm7 and F7 in G major stands Gm7, not G6: both neighbours have E flat."""
    found = {(str(quality_of(o.chords[0].symbol)), (o.chords[0].root.pitch_class - by.semitones
                                                    ) % 12)
             for o in options(between("Cm7", "F7", "G", by)) if "on the way" in o.move.name}
    assert ("m", 7) in found
    assert ("M", 7) not in found and ("m", 4) not in found


@pytest.mark.parametrize(("here", "goal", "key", "refused"), [
    ("Ab7", "G7", "C minor", "Cm6"), ("Ab7", "Ab7", "C minor", "Cm6"),
    ("Ab7", "Ab7", "C minor", "Cm7"), ("Cm7", "F7", "G", "G6"), ("Cm7", "F7", "G", "Gmaj7"),
    ("Am7", "D7", "F", "Dm7"), ("Gm7b5", "Gm7b5", "Eb", "Bbm7"),
    ("Eb7sus4", "Eb7", "Ab", "Bbm7")])
def test_what_a_place_does_not_take(here: str, goal: str, key: str, refused: str) -> None:
    found = names_at(between(here, goal, key), "")
    assert found
    assert [refused] not in found


def test_a_blues_keeps_its_chords() -> None:
    assert str(between("F7", "F7", "F").collection) == "F major"
    assert str(between("Bb", "Bb", "C").collection) == "F major"


def test_no_half_step_beside_a_doubled_root() -> None:
    assert CROWDED.breaks((47, 56, 65, 70, 71, 74), 11, None)
    assert not CROWDED.breaks((47, 56, 65, 69, 74), 11, None)


# --- the written chord ---------------------------------------------------------------------------

@pytest.mark.parametrize("hand", ["small", "medium", "large"])
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("melody", "chords", "key"), [
    ("E5 4, A4 4", "Am7 4, D7 4", "F"), ("C5 4, F4 4", "Bbm7 4, Eb7 4", "Ab"),
    ("D5 4, D5 4", "Gmaj7 4, Gm7 4", "G"), ("D5 4, E5 4", "Bm7b5 4, E7 4", "A minor"),
    ("E5 2, A4 2", "Am7 2, D7 2", "C"), ("G5 4, C5 4", "Cmaj7 4, F7 4", "C")])
def test_the_third_of_a_written_chord_is_heard(melody: str, chords: str, key: str, level: str,
                                               hand: str) -> None:
    """And the flat fifth of a half-diminished one."""
    task = gap_of(melody, chords, level=level, key=key, hand=hand)
    for fill in offered(task, 3):
        first = fill.chords[0]
        if first.added or first.symbol.root is None:
            continue
        sounds = {n.midi % 12 for n in fill.notes if n.onset_quarter < first.end_quarter}
        if task.held_midi is not None:
            sounds.add(task.held_midi % 12)
        wanted = [first.symbol.third]
        if first.symbol.quality == "half-diminished":
            wanted.append("b5")
        for degree in wanted:
            assert degree is not None
            heard = (first.symbol.root.pitch_class + degree_pitch_class(degree)) % 12 in sounds
            assert heard, (fill.device, [str(n.pitch) for n in fill.notes])


# --- ideas ---------------------------------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("melody", "chords"), [
    ("A4 4, B4 4", "D7 4, Gmaj7 4"), ("G4 8, A4 4", "Cmaj7 8, F7 4"),
    ("C5 6, B4 2", "Am7 3, D7 3, Gmaj7 2")])
def test_the_same_chords_are_never_offered_again_in_other_places(melody: str, chords: str,
                                                                 level: str) -> None:
    rows = [tuple((c.symbol.root, quality_of(c.symbol), c.symbol.lowest,
                   c.symbol.suffix if "colour change" in fill.device else "")
                  for c in fill.chords if c.added)
            for fill in offered(gap_of(melody, chords, level=level, key="G"), 9)]
    assert len(rows) == len(set(rows))


@pytest.mark.parametrize(("melody", "chords", "level", "tempo", "key"), [
    ("G4 4, A4 4", "Cmaj7 4, F7 4", "beginner", 160, "C"),
    ("G4 4, D5 4", "Cmaj7 2, F7 2, Em7 4", "beginner", 160, "C"),
    ("G4 7, A4 1", "Cmaj7 7, F7 1", "beginner", 320, "C"),
    ("G4 7, A4 1", "Cmaj7 7, Dm7 1", "intermediate", 320, "C"),
    ("A4 4, B4 4", "D7 4, Em7 4", "intermediate", 120, "G")])
def test_three_ideas_where_there_is_room(melody: str, chords: str, level: str, tempo: int,
                                         key: str) -> None:
    fills = offered(gap_of(melody, chords, level=level, tempo=tempo, key=key), 3)
    assert len(fills) == 3
    assert all(any(c.added for c in fill.chords) for fill in fills)


# --- what the tune itself has elsewhere -------------------------------------------------------

def test_what_the_tune_has_between_two_chords_may_stand_there_again() -> None:
    """Home between a dominant and a chord that stands for it undoes the dominant; but where the
    tune goes that way itself, it is heard so already."""
    def majors_between(later: str) -> set[str]:
        task = gap_of("C5 4, E4 4, A4 4, C5 4, E4 4", f"C7 4, E7 4, {later}, E7 4", key="F")
        return {str(o.chords[0].symbol.root) for o in options(leavings(task, 0)[0].place)
                if len(o.chords) == 1 and quality_of(o.chords[0].symbol) == "M"}

    assert "F" in majors_between("C7 4, F 4")
    assert "F" not in majors_between("C7 8")


def test_a_major_chord_a_fifth_above_leads_to_the_next() -> None:
    """I before IV: its tones are in the IV with a major seventh and ninth, but the bass falls."""
    found = options(between("Gm7", "Ab", "Eb"), melody=3)
    assert ["Eb6"] in [[str(c.symbol) for c in o.chords] for o in found]


def test_four_after_one_is_no_chord_in_disguise() -> None:
    """A root that falls a fifth has arrived, though all its other tones sounded before."""
    assert any(row in (["Cmaj7"], ["C"], ["C6"]) for row in names_at(between("G", "Am7", "G")))


@pytest.mark.parametrize(("here", "goal", "basses"), [
    ("Dm/A", "A7", {9}), ("C/E", "F", {4, 5}), ("C", "G/B", {0, 11}), ("C/E", "D7", {4, 3, 2})])
def test_a_printed_bass_line_is_kept(here: str, goal: str, basses: set[int]) -> None:
    """A pedal stays, a step has at most its half step between."""
    for option in options(between(here, goal)):
        if option.way.stands is Stands.AFTER:
            assert {(c.symbol.lowest or c.root).pitch_class for c in option.chords} <= basses, (
                option.move.name)


def test_a_bass_that_climbs_by_half_steps_is_spelled_upwards() -> None:
    """F, F sharp, G: the chord after the diminished one has its fifth in the bass."""
    task = gap_of("C5 8, C5 8", "C 8, C 8", level="advanced", tempo=120)
    climbs = [f for f in offered(task) if f.device == "bass line up through the IV"]
    assert climbs
    for fill in climbs:
        assert not any(str(c.symbol).startswith("Gb") for c in fill.chords)


@pytest.mark.parametrize("melody", ["Ab4 4, A4 4", "C5 4, Bb4 4"])
def test_a_push_brings_a_new_key(melody: str) -> None:
    task = gap_of(melody, "Fm7 4, D7 4", level="advanced", key="Eb", tempo=132)
    for fill in offered(task):
        if not any("half a beat early" in reason for reason in fill.reasons):
            continue
        strokes: dict[Fraction, set[int]] = {}
        for note in fill.notes:
            if note.hand == "right":
                strokes.setdefault(note.onset_quarter, set()).add(note.midi)
        for onset, following in pairwise(sorted(strokes)):
            early = any(c.added and c.onset_quarter * 2 - following * 2 == 1 for c in fill.chords)
            assert not early or strokes[following] - strokes[onset], fill.device


@pytest.mark.parametrize(("after", "offered_too"), [("F7", True), ("Bbmaj7", True), ("Ab7", False)])
def test_a_two_becomes_a_two_five_only_where_that_goes_on(after: str, offered_too: bool) -> None:
    """Cm7 F7 Cm7 is a II V before F7 or B flat; before A flat 7 it is one of a key that never
    comes."""
    chords = f"Cm7 8, {after} 4"
    place = leavings(gap_of("Eb4 4, G4 4, Ab4 4", chords, key="Bb"), 0)[0].place
    assert (["F7"] in names_at(place, "dominant of the same II")) is offered_too


@pytest.mark.parametrize("level", LEVELS)
def test_no_hole_opens_under_the_melody(level: str) -> None:
    """Where the hands answer each other, the right one leaves nothing empty for over a beat."""
    task = every_task(chorus_of("4/4", "C", 200, [("F5", 1), ("G5", 1), ("E5", 6), ("E5", 4)],
                                [("G7", 2), ("C", 4), ("A7", 2), ("Dm", 4)]), level)[0]
    for fill in offered(task):
        assert longest_hole(fill, 76) <= 1, fill.device


@pytest.mark.parametrize(("before", "here", "goal", "chord"), [
    ("G7", "Dm7", "C", "G7"), ("Dm7", "A7", "G7", "Dm7")])
def test_what_is_on_its_way_comes_back(before: str, here: str, goal: str, chord: str) -> None:
    """V II V I, and a link of falling fifths: the chord just left, and no going back."""
    place = replace(between(here, goal), before=between(before, here).here)
    assert [chord] in [[str(c.symbol) for c in o.chords] for o in options(place)]
    back = replace(between(here, "Am7"), before=between(before, here).here)
    assert [chord] not in [[str(c.symbol) for c in o.chords] for o in options(back)]


def test_the_tonic_leads_on_to_the_dominant_of_the_second_degree() -> None:
    """B flat seven, E flat, C7, F minor 7; but no E flat between B flat seven and E seven."""
    place = replace(between("Bb7", "C7", "Eb"), after=between("C7", "Fm7", "Eb").goal)
    assert any(c.root.pitch_class == 3 for o in options(place) for c in o.chords)
    stands = between("Bb7", "E7", "Eb")
    assert not any(c.root.pitch_class == 3 and quality_of(c.symbol) == "M"
                   for o in options(stands) for c in o.chords)


def test_a_minor_tonic_is_no_two_and_a_triad_over_its_third_gets_no_seventh_as_another_chord(
        ) -> None:
    """D7 after A minor at home leads nowhere; G over B is G seven over B already."""
    home = replace(between("Am", "Am", "Am"), after=None)
    assert not names_at(home, "dominant of the same II")
    two = replace(between("Am7", "Am7", "G"), after=between("D7", "G", "G").here)
    assert names_at(two, "dominant of the same II")
    assert not names_at(between("G/B", "C"), "dominant over its third")
    assert names_at(between("Dm7", "C"), "dominant over its third")


def test_the_sheets_own_quick_changes_take_no_substitute_away() -> None:
    """At 220 the sheet changes every beat, then every other: E flat seven for A seven adds
    nothing to that."""
    row = [(name, 1) for name in ("C", "C#dim7", "Dm7", "G7")]
    chorus = chorus_of("4/4", "C", 220, [("G5", 8), ("D5", 4)],
                       [*row, ("Em7", 2), ("A7", 2), ("Dm7", 4)])
    found = plans(one_task(chorus, 1, "advanced"), 6)
    assert [[str(e.harmony.symbol) for e in plan.events if e.added] for plan in found] == [["Eb7"]]


def test_broken_chords_are_called_as_they_are_printed() -> None:
    named = 0
    for level in LEVELS[1:]:
        for fill in offered(gap_of("A4 4, D4 4", "D7 4, G7 4", level=level, key="F", tempo=132)):
            printed = " ".join(c.symbol.pretty for c in fill.chords)
            for reason in fill.reasons:
                if reason.startswith("The chords are broken: "):
                    named += 1
                    rows = reason.removeprefix("The chords are broken: ").split("; ")
                    for name in (n for row in rows for n in row.split() if n[0] in "ABCDEFG"):
                        assert name.rstrip(",") in printed, reason
    assert named


def test_a_diminished_chord_has_the_notes_of_the_key() -> None:
    """Over A in E major D sharp and F sharp, which lead up to E and stay."""
    harmony = harmony_of(ChordSymbol.parse("Adim7"), Key.parse("E"), ChordSymbol.parse("A"))
    named = {str(name) for task in (gap_of("A4 4, A4 4", "A 8", key="E", level=level, tempo=63)
                                        for level in LEVELS)
             for fill in offered(task) for chord in fill.chords
             if chord.symbol == harmony.symbol for name in (
                 n.pitch.note_name for n in fill.notes
                 if chord.onset_quarter <= n.onset_quarter < chord.end_quarter)}
    assert named and named <= {"A", "C", "D#", "F#"}


def test_the_tonic_waits_for_its_dominant_but_over_the_root_of_that() -> None:
    """C G/D D7 G is the cadential six-four: D7 with its third and fifth held back; C G D7 G and
    C G/B D7 G give home away."""
    place = replace(between("C", "D7", "G"), after=harmony_of(
        ChordSymbol.parse("G"), Key.parse("G"), None))
    found = names_at(place)
    assert ["G/D"] in found and not any(row[0] in ("G", "G6", "Gmaj7", "G/B") for row in found)


@pytest.mark.parametrize("level", LEVELS)
def test_a_two_after_a_triad_sounds_more_than_its_sixth(level: str) -> None:
    """A minor 7 after a bare C is C6 over A, unless its ninth or eleventh is heard."""
    for fill in offered(gap_of("E5 4, B4 4", "C 4, G7 4", level=level)):
        for chord in fill.chords:
            if chord.added and str(chord.symbol).startswith("Am7") and "b5" not in str(
                    chord.symbol) and fill.chords.index(chord) == 1:
                heard = {n.midi % 12 for n in fill.notes
                         if n.onset_quarter < chord.end_quarter
                         and n.end_quarter > chord.onset_quarter} | {4}
                assert heard - {0, 4, 7, 9}, fill.device


def test_a_colour_that_the_tune_brings_itself_is_not_given_away() -> None:
    """Before A minor with its major seventh the line does not go through it and on."""
    assert not any("Am(maj7)" in row for row in names_at(between("Am", "Am(maj7)", "C")))
    assert any("Am(maj7)" in row for row in names_at(between("Am", "Am", "C")))


def test_four_and_four_minor_come_after_another_chord_than_four() -> None:
    """Over C7 the major seventh of C would go up, and the sentence tells of a third that falls."""
    assert not names_at(between("C7", "G", "G"), "IV, then IV minor")
    assert ["Cmaj7", "Cm6"] in names_at(between("Am7", "G", "G"), "IV, then IV minor")


def test_a_diminished_chord_that_rises_is_a_sharp() -> None:
    """F, F sharp, G under an F that is held, though F sharp has an E flat over it."""
    found = [str(chord.symbol) for fill in offered(
        gap_of("F5 4, F5 4", "F 4, Gm7 4", key="F", level="beginner"))
        for chord in fill.chords if chord.added and chord.symbol.quality == "diminished"]
    assert "Gbdim7" not in found and "F#dim7" in found


# --- what the page says around them -------------------------------------------------------------

@pytest.mark.parametrize("chords", ["G7 4, C 4, F 4", "C 8, F 4"])
def test_what_the_melody_comes_early_to_is_heard_on_its_beat(chords: str) -> None:
    """A key struck half a beat before the bar: what is struck with it sounds for a beat, and a
    chord that it comes early to sounds on its own first beat."""
    task = gap_of("D5 1, C5 1, D5 1, C5 0.5, E5 4.5, A4 4", chords, level="advanced", tempo=63)
    firsts = [p.events[1].onset_quarter for p in plans(task, 500)
              if not p.events[0].added and len(p.events) > 1]
    assert firsts and min(firsts) >= (Fraction(3, 2) if chords.startswith("G7") else 1)


def test_a_quick_gap_has_a_change_every_two_beats() -> None:
    task = gap_of("E5 8, A4 4", "C 4, A7 4, Dm7 4", level="advanced", tempo=208)
    found = plans(task, 500)
    assert found
    for plan in found:
        edges = [*(e.onset_quarter for e in plan.events), plan.events[-1].end_quarter]
        lengths = [b - a for a, b in pairwise(edges)]
        assert len(lengths) <= 5
        assert all(max(pair) >= 2 for pair in pairwise(lengths)), lengths


def test_a_v_that_the_tune_has_as_a_triad_is_called_one() -> None:
    """In a tune of triads the single V is one, and every dominant that is called so has its
    seventh."""
    place = between("F", "C")
    triads = {o.move.name: o.chords[0] for o in options(replace(place, triads=frozenset({7})))}
    assert str(triads["V as a triad"].symbol) == "G"
    assert "b7" not in triads["V as a triad"].tones
    assert "dominant on the way" not in triads
    assert names_at(place, "dominant on the way") == [["G7"]]
    assert not names_at(place, "V as a triad")


@pytest.mark.parametrize(("five", "others"), [("Cmaj7", ["Bbmaj7"]), ("C6", ["Bb6"]),
                                             ("Csus", ["Bb"]), ("C", ["Bb", "C7"])])
def test_what_is_no_bare_v_in_the_tune_takes_no_seventh_away(five: str, others: list[str]) -> None:
    """C major seventh, or the C of a tune that has C seven too, is no triad that is V of F."""
    chords = [("Gm7", 8), ("Fmaj7", 4), (five, 4), *((name, 4) for name in others), ("Fmaj7", 4)]
    chorus = chorus_of("4/4", "F", 120, [("D5", 8), *[("A4", 4)] * (len(chords) - 1)], chords)
    place = leavings(one_task(chorus, 1), 0)[0].place
    assert not place.bare_five
    assert "V as a triad" not in {o.move.name for o in options(place)}


def test_the_tonic_that_goes_to_its_fourth_is_no_bare_v() -> None:
    chorus = chorus_of("4/4", "C", 120, [("E5", 4)] * 6, [
        (name, 4) for name in ("C", "F", "G7", "C", "F", "C")])
    assert one_task(chorus, 1).habits.triads == frozenset()
    plain = chorus_of("4/4", "C", 120, [("E5", 4)] * 4, [(n, 4) for n in ("C", "F", "G", "C")])
    assert one_task(plain, 1).habits.triads == {7}


def test_a_written_bass_of_half_steps_is_not_left() -> None:
    """Between F and F sharp diminished the bass is either; from F over F sharp to G too."""
    up = between("F6", "F#m7b5")
    after = replace(up, after=between("G7", "C").here)
    assert any(c.root.pitch_class == 9 for o in options(between("F6", "Em7")) for c in o.chords)
    for place in (between("F", "F#dim7"), after):
        lows = {(c.symbol.lowest or c.root).pitch_class for o in options(place)
                if o.way.stands is Stands.AFTER for c in o.chords}
        assert lows <= {5, 6}, place
