"""Voicings against worked tables of II-V-I voicings, drop 2, fourths and upper structures.

The II-V-I rows are those of teaching pages and of Levine, The Jazz Piano Book (Sher 1989),
ch. 3 to 16; shell, A and B form and altered rows from memory (common practice), three-note
rootless and two-hand rows compared with public teaching pages.
"""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sweep import every

from fillwright import ChordSymbol, Key
from fillwright.fills import ADVANCED, ALL_LEVELS, BEGINNER, INTERMEDIATE, Level
from fillwright.fills.voicing.forms import (
    VoicingForm,
    bass_degree,
    colours,
    compatible,
    required_degrees,
    rootless_forms,
    shell_forms,
)
from fillwright.fills.voicing.upper import drop_2, fourths, two_hand_forms, upper_structures
from fillwright.fills.voicing.voicings import (
    form_voicings,
    holds_guides,
    left_hand_voicings,
    right_hand_voicings,
    two_hand_voicings,
    voice_leading,
)
from fillwright.hands import span_ok
from fillwright.rules import MUD
from fillwright.theory import (
    KIND_DEGREES,
    Harmony,
    Interval,
    NoteName,
    analyse,
    degree_interval,
    degree_pitch_class,
)

TONICS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def chords_in(tonic: str, texts: str, mode: str = "major") -> list[Harmony]:
    """The chords, written in C, heard in another key."""
    step = Interval(NoteName.parse(tonic).in_octave(4).staff_position - 28,
                    NoteName.parse(tonic).pitch_class)
    symbols = [ChordSymbol.parse(text).transposed(step) for text in texts.split()]
    found = [h for h in analyse(symbols, Key.of(NoteName.parse(tonic), mode)) if h is not None]
    assert len(found) == len(symbols)
    return found


def names(harmony: Harmony, degrees: tuple[str, ...]) -> list[int]:
    """Pitch classes above the chord's root."""
    return [degree_pitch_class(d.lstrip("^")) for d in degrees]


def classes_of(row: str, root: str) -> list[int]:
    """A row of note names in C as pitch classes above a root."""
    base = NoteName.parse(root).pitch_class
    return [(NoteName.parse(n).pitch_class - base) % 12 for n in row.split()]


II_V_I = "Dm7 G7 Cmaj7"
ROOTS = ("D", "G", "C")
SHELLS = {
    "1-3-7": ("D F C", "G B F", "C E B"),
    "1-7-3": ("D C F", "G F B", "C B E"),
}


@every(TONICS, sorted(SHELLS))
def test_shells_tone_for_tone(tonic: str, shape: str) -> None:
    for harmony, row, root in zip(chords_in(tonic, II_V_I), SHELLS[shape], ROOTS, strict=True):
        wanted = classes_of(row, root)
        forms = shell_forms(harmony, ADVANCED)
        assert any(names(harmony, f.degrees) == wanted for f in forms), (harmony.symbol, row)


ROOTLESS = {
    # three notes: a lesson page; A and B forms: common practice, from memory
    "three-note": ("F C E", "F B E", "E B D"),
    "A": ("F A C E", "F A B E", "E G B D"),
    "B": ("C E F A", "B E F A", "B D E G"),
    "A, six-nine": ("F A C E", "F A B E", "E G A D"),
    "B, six-nine": ("C E F A", "B E F A", "A D E G"),
}


@every(TONICS, sorted(ROOTLESS))
def test_rootless_forms_tone_for_tone(tonic: str, shape: str) -> None:
    for harmony, row, root in zip(chords_in(tonic, II_V_I), ROOTLESS[shape], ROOTS,
                                  strict=True):
        wanted = classes_of(row, root)
        forms = rootless_forms(harmony, ADVANCED)
        assert any(names(harmony, f.degrees) == wanted for f in forms), (harmony.symbol, row)
        # and the hand can play it somewhere near the middle of the keyboard
        placed = left_hand_voicings(harmony, ADVANCED, "medium", top=72, rootless=True)
        assert any([(m - harmony.root.pitch_class) % 12 for m in v.midis] == wanted
                   for v in placed), (harmony.symbol, row)


ALTERED = ("F Ab B Eb", "F Bb B Eb", "B Eb F Ab", "B Eb F Bb")


@every(TONICS)
def test_altered_dominant_forms(tonic: str) -> None:
    harmony = chords_in(tonic, "G7alt Cm6", "minor")[0]
    forms = [names(harmony, f.degrees) for f in rootless_forms(harmony, ADVANCED)]
    for row in ALTERED:
        assert classes_of(row, "G") in forms, row


@every(TONICS)
def test_minor_two_and_tonic(tonic: str) -> None:
    two, _, one = chords_in(tonic, "Dm7b5 G7b9 Cm6", "minor")
    forms = [names(two, f.degrees) for f in rootless_forms(two, INTERMEDIATE)]
    assert classes_of("F Ab C D", "D") in forms
    assert classes_of("C D F Ab", "D") in forms
    assert all(0 in row for row in forms if len(row) == 4 and 5 not in row), (
        "a half-diminished chord is not rootless")
    forms = [names(one, f.degrees) for f in rootless_forms(one, INTERMEDIATE)]
    assert classes_of("Eb G A D", "C") in forms
    assert classes_of("A D Eb G", "C") in forms


TWO_HANDS = {
    "one": (("D F", "C E A"), ("G F", "B E A"), ("C E", "B D G")),
    "two": (("D C", "F A E"), ("G B", "F A E"), ("C B", "E G D")),
}


@every(TONICS, sorted(TWO_HANDS))
def test_two_hand_spreads(tonic: str, shape: str) -> None:
    for harmony, (low, high), root in zip(chords_in(tonic, II_V_I), TWO_HANDS[shape], ROOTS,
                                          strict=True):
        wanted = (classes_of(low, root), classes_of(high, root))
        forms = [(names(harmony, f.degrees[:f.left]), names(harmony, f.degrees[f.left:]))
                 for f in two_hand_forms(harmony, INTERMEDIATE)]
        assert wanted in forms, (harmony.symbol, low, high)


def test_voice_leading_of_the_rootless_forms() -> None:
    # counted by hand on the rows above: Dm9 to G13 one voice by a half step, G13 to Cmaj9 five
    # semitones, in both forms
    a = ((53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62))
    b = ((60, 64, 65, 69), (59, 64, 65, 69), (59, 62, 64, 67))
    for first, second, third in (a, b):
        assert voice_leading(first, second) == 1
        assert voice_leading(second, third) == 5
        assert len(set(first) & set(second)) == 3


@every(TONICS)
def test_forms_alternate_and_move_little_where_roots_move_by_fourths(tonic: str) -> None:
    two, five, one = chords_in(tonic, II_V_I)
    for start in left_hand_voicings(two, INTERMEDIATE, "medium", top=70, rootless=True):
        # from about E flat 3 to A3, where the left hand plays these forms (common practice)
        if len(start.midis) != 4 or not 51 <= start.midis[0] <= 57:
            continue
        kind = start.kind
        before = start
        for harmony in (five, one):
            options = [v for v in left_hand_voicings(harmony, INTERMEDIATE, "medium", top=72,
                                                     rootless=True) if len(v.midis) == 4]
            moves = [voice_leading(before.midis, v.midis) for v in options]
            best = options[moves.index(min(moves))]
            assert voice_leading(before.midis, best.midis) <= 6
            assert best.kind != kind, "the other form is nearer"
            before, kind = best, best.kind


def test_voice_leading_counts_new_and_dropped_voices() -> None:
    assert voice_leading((60, 64, 67), (60, 64, 67)) == 0
    assert voice_leading((60, 64), (60, 64, 67)) == 3
    assert voice_leading((48, 60, 64), (60, 64)) == 3
    assert voice_leading((67, 60, 64), (59, 65, 67)) == voice_leading((59, 65, 67),
                                                                      (60, 64, 67)) == 2


DROP_2 = {
    # derived: the second voice from the top, an octave down
    "1 3 5 7": "5 1 3 7", "3 5 7 1": "7 3 5 1", "5 7 1 3": "1 5 7 3", "7 1 3 5": "3 7 1 5",
    "1 3 5 6": "5 1 3 6", "3 5 6 1": "6 3 5 1", "5 6 1 3": "1 5 6 3", "6 1 3 5": "3 6 1 5",
}


@pytest.mark.parametrize("close", sorted(DROP_2))
def test_drop_2_of_every_inversion(close: str) -> None:
    row = drop_2(tuple(close.split()))
    assert " ".join(row) == DROP_2[close]
    heights = [0]
    for low, high in pairwise(row):
        heights.append(heights[-1] + (degree_pitch_class(high) - degree_pitch_class(low)) % 12)
    assert heights[-1] <= 16


@pytest.mark.parametrize("tonic", TONICS)
def test_drop_2_all_inversions_are_offered(tonic: str) -> None:
    for text, closes in (("Cmaj7", list(DROP_2)[:4]), ("C6", list(DROP_2)[4:])):
        harmony = chords_in(tonic, text)[0]
        rows = {" ".join(f.degrees) for f in two_hand_forms(harmony, ADVANCED)
                if f.kind == "drop 2"}
        assert {DROP_2[close] for close in closes} <= rows


@pytest.mark.parametrize("tonic", TONICS)
def test_fourths_and_a_third(tonic: str) -> None:
    # three perfect fourths and a major third on top (Levine ch. 12): 1 11 b7 b3 5
    harmony = chords_in(tonic, "Dm11 G7")[0]
    forms = [f for f in two_hand_forms(harmony, ADVANCED) if f.kind == "fourths"]
    assert ("1", "11", "b7", "b3", "5") in [f.degrees for f in forms]
    for voicing in two_hand_voicings(harmony, ADVANCED, "medium", top=84):
        if voicing.kind == "fourths":
            steps = [b - a for a, b in zip(voicing.midis, voicing.midis[1:], strict=False)]
            assert steps == [5, 5, 5, 4]
            assert voicing.midis[-1] - voicing.midis[0] == 19
            assert voicing.left == 2
    tonic_chord = chords_in(tonic, "Cmaj7 F")[0]
    rows = [f.degrees for f in two_hand_forms(tonic_chord, ADVANCED) if f.kind == "fourths"]
    assert ("3", "13", "9", "5", "7") in rows


def test_three_note_fourths_are_fourths() -> None:
    for text in ("Dm7", "Cmaj7", "G7", "G7sus4", "Am6"):
        harmony = chords_in("C", f"{text} Fmaj7")[0]
        rows = fourths(harmony, ADVANCED, 3)
        for row in rows:
            steps = sorted((degree_pitch_class(b) - degree_pitch_class(a)) % 12
                           for a, b in pairwise(row))
            assert steps in ([5, 5], [5, 6])
            assert compatible(row)
    assert fourths(chords_in("C", "Dm7 G7")[0], ADVANCED, 3)


# Root above C, mode, tones above C, as in J. C. Baez, notes on upper structures (2023) and
# Levine ch. 14; the plain triads I, Vm and VIm colour nothing.
UPPER = {
    (2, "major"): {"9", "#11", "13"}, (3, "major"): {"#9", "5", "b7"},
    (6, "major"): {"#11", "b7", "b9"}, (8, "major"): {"b13", "1", "#9"},
    (9, "major"): {"13", "b9", "3"}, (0, "minor"): {"1", "#9", "5"},
    (1, "minor"): {"b9", "3", "b13"}, (3, "minor"): {"#9", "#11", "b7"},
    (6, "minor"): {"#11", "13", "b9"},
}


@pytest.mark.parametrize("tonic", TONICS)
def test_upper_structures_are_exactly_the_table(tonic: str) -> None:
    found: dict[tuple[int, str], set[str]] = {}
    root = NoteName.parse(tonic)
    # a C7 that takes every tension there is
    for tensions in (("9", "#11", "13"), ("b9", "#9", "#11", "b13"), ("b9", "#9", "#11", "13")):
        for tones in (("1", "3", "5", "b7"), ("1", "3", "b7")):
            plain = analyse([ChordSymbol.of(root, "dominant")], Key.of(root))[0]
            assert plain is not None
            harmony = Harmony(plain.symbol, plain.key, plain.function, plain.scale, tones,
                              tensions)
            for above, mode, degrees in upper_structures(harmony):
                found.setdefault((above, mode), set()).update(degrees)
                assert {degree_pitch_class(d) for d in degrees}.isdisjoint({5, 11})
    assert {k: {degree_pitch_class(d) for d in v} for k, v in found.items()} == {
        k: {degree_pitch_class(d) for d in v} for k, v in UPPER.items()}


def test_upper_structures_only_over_dominants_with_a_third() -> None:
    for text in ("Cmaj7", "Cm7", "C7sus4", "Cm7b5"):
        assert upper_structures(chords_in("C", f"{text} F")[0]) == ()


def test_colours_grow_with_the_level_and_follow_the_function() -> None:
    five_of_minor = chords_in("C", "G7 Cm6", "minor")[0]
    assert colours(five_of_minor, BEGINNER.voicing.palette).nines == ()
    assert colours(five_of_minor, INTERMEDIATE.voicing.palette).nines == ("b9",)
    assert colours(five_of_minor, ADVANCED.voicing.palette).nines == ("b9", "#9")
    backdoor = chords_in("C", "Fm7 Bb7 Cmaj7")[1]
    assert "#11" in colours(backdoor, ADVANCED.voicing.palette).elevens
    five = chords_in("C", "G7 Cmaj7")[0]
    assert colours(five, INTERMEDIATE.voicing.palette).nines == ("9",)
    assert colours(five, INTERMEDIATE.voicing.palette).thirteens == ("13",)
    assert colours(five, ADVANCED.voicing.palette).elevens == ()


def test_a_thirteenth_chord_is_played_without_its_eleventh() -> None:
    harmony = chords_in("C", "G13 Cmaj7")[0]
    assert "11" not in required_degrees(harmony)
    assert required_degrees(harmony) == ("13",)
    for pool in (left_hand_voicings(harmony, ADVANCED, "medium", rootless=True),
                 right_hand_voicings(harmony, ADVANCED, "medium", low=52, top=80)):
        assert pool
        assert all("11" not in v.degrees for v in pool)


def test_dominant_eleventh_is_not_a_major_third_with_a_fourth() -> None:
    harmony = chords_in("C", "G11 Cmaj7")[0]
    for voicing in right_hand_voicings(harmony, ADVANCED, "medium", low=52, top=80):
        assert not {"3", "11"} <= set(voicing.degrees)


def test_sharp_nine_is_written_as_people_read_it() -> None:
    # over E7 nobody writes F double sharp
    e_seven = analyse([ChordSymbol.parse("E7#9"), ChordSymbol.parse("Am7")], Key.parse("C"))[0]
    assert e_seven is not None
    seen = {str(p.note_name) for v in right_hand_voicings(e_seven, ADVANCED, "medium", low=52,
                                                         top=80)
            for p, d in zip(v.pitches, v.degrees, strict=True) if d == "#9"}
    assert seen == {"G"}
    flat = analyse([ChordSymbol.parse("G7b9")], Key.parse("C"))[0]
    assert flat is not None
    seen = {str(p.note_name) for v in right_hand_voicings(flat, ADVANCED, "medium", low=52,
                                                         top=80)
            for p, d in zip(v.pitches, v.degrees, strict=True) if d == "b9"}
    assert seen == {"Ab"}


def test_slash_chords_keep_their_bass_at_the_bottom() -> None:
    for text in ("C/E", "C/G", "C/Bb", "F/G", "Dm7/G", "Cmaj7/D"):
        harmony = chords_in("C", f"{text} F")[0]
        bass = harmony.symbol.bass
        assert bass is not None and bass_degree(harmony) is not None
        for level in ALL_LEVELS:
            pool = left_hand_voicings(harmony, level, "medium")
            assert pool
            assert all(v.pitches[0].note_name == bass for v in pool)
            assert left_hand_voicings(harmony, level, "medium", rootless=True) == ()
        assert all(v.pitches[0].note_name == bass
                   for v in two_hand_voicings(harmony, ADVANCED, "medium", top=80))


def test_tenths_depend_on_the_hand() -> None:
    harmony = chords_in("C", "Cmaj7 F")[0]
    for size, wanted in (("small", False), ("medium", False), ("large", True)):
        kinds = {v.kind for v in left_hand_voicings(harmony, ADVANCED, size, low=33)}
        assert ("tenth" in kinds) is wanted


def test_a_form_is_set_in_every_octave_of_the_room() -> None:
    harmony = chords_in("C", "Cmaj7 F")[0]
    placed = form_voicings(harmony, VoicingForm("shell", ("1", "7"), 2), "medium", low=36, top=72)
    assert [v.midis for v in placed] == [(48, 59), (60, 71)]


kinds = st.sampled_from(sorted(k for k in KIND_DEGREES if k != "none"))
roots = st.sampled_from(TONICS)
levels = st.sampled_from(ALL_LEVELS)
sizes = st.sampled_from(("small", "medium", "large"))
changes = st.sampled_from(((), ("b9",), ("#9",), ("#11",), ("b5",), ("#5",), ("9", "13")))


@settings(max_examples=100, deadline=None)
@given(roots, kinds, changes, levels, sizes, roots, st.sampled_from(("major", "minor")))
def test_every_voicing_of_every_chord_is_sound(root: str, kind: str, change: tuple[str, ...],
                                               level: Level, size: str, home: str, mode: str
                                               ) -> None:
    symbol = ChordSymbol.of(root, kind, *change)
    harmony = analyse([symbol], Key.of(NoteName.parse(home), mode))[0]
    assert harmony is not None
    left = left_hand_voicings(harmony, level, size)
    assert left, "every chord has a left hand"
    pools = (left, left_hand_voicings(harmony, level, size, rootless=True),
             right_hand_voicings(harmony, level, size, low=55, top=79),
             two_hand_voicings(harmony, level, size, top=79))
    for voicing in (v for pool in pools for v in pool):
        midis = voicing.midis
        assert list(midis) == sorted(set(midis))
        assert not MUD.pairs(midis)
        for hand in (voicing.left_pitches, voicing.right_pitches):
            assert not hand or span_ok(hand[0].midi, hand[-1].midi, size)
        for pitch, degree in zip(voicing.pitches, voicing.degrees, strict=True):
            assert (pitch.midi - harmony.root.pitch_class - degree_interval(degree).semitones
                    ) % 12 == 0
        for low, high in product(range(len(midis)), repeat=2):
            distance = midis[high] - midis[low]
            if distance > 1 and distance % 12 == 1:  # only a dominant's own flat nine
                assert voicing.degrees[low] == "1" and voicing.degrees[high] == "b9"
                assert symbol.quality in ("dominant", "suspended")
        assert not {"3", "11"} <= set(voicing.degrees)
        if voicing.kind.startswith("rootless") or voicing.kind == "three-note rootless":
            assert "1" not in voicing.degrees
            assert holds_guides(harmony, voicing.degrees) or voicing.kind.startswith("three")
