"""Functions, scales, tensions.

Source of the table: the "Chord Scale Summation" class sheet (Berklee); the general rule
there: except on dominants a note a whole step above a chord tone is a tension, a half
step above it is to be avoided.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys

from tests.sweep import every

from fillwright import ChordSymbol, Key
from fillwright.theory import (
    CHORD_SCALES,
    NoteName,
    analyse,
    degree_interval,
    degree_pitch_class,
    harmony_of,
)

# chord in C, next chord, scale, tensions
TABLE = [
    ("Cmaj7", "Fmaj7", "ionian", {"9", "13"}),
    ("Dm7", "G7", "dorian", {"9", "11"}),
    ("Em7", "Fmaj7", "phrygian", {"11"}),
    ("Fmaj7", "Dm7", "lydian", {"9", "#11", "13"}),
    ("G7", "Cmaj7", "mixolydian", {"9", "13"}),
    ("Am7", "Fmaj7", "aeolian", {"9", "11"}),
    ("Bm7b5", "E7", "locrian", {"11", "b13"}),
    ("A7", "Dm7", "mixolydian b13", {"9", "b13"}),
    ("B7", "Em7", "mixolydian b9 #9 b13", {"b9", "#9", "b13"}),
    ("E7", "Am7", "mixolydian b9 #9 b13", {"b9", "#9", "b13"}),
    ("C7", "Fmaj7", "mixolydian", {"9", "13"}),
    ("D7", "G7", "mixolydian", {"9", "13"}),
    ("Dbmaj7", "Cmaj7", "lydian", {"9", "#11", "13"}),
    ("Ebmaj7", "Abmaj7", "lydian", {"9", "#11", "13"}),
    ("Abmaj7", "Dbmaj7", "lydian", {"9", "#11", "13"}),
    ("Bbmaj7", "Cmaj7", "lydian", {"9", "#11", "13"}),
    ("F7", "Cmaj7", "lydian b7", {"9", "#11", "13"}),
    ("Ab7", "G7", "lydian b7", {"9", "#11", "13"}),
    ("Bb7", "Cmaj7", "lydian b7", {"9", "#11", "13"}),
    ("Db7", "Cmaj7", "lydian b7", {"9", "#11", "13"}),
    ("G7alt", "Cm7", "altered", {"b9", "#9", "#11", "b13"}),
    ("F#m7b5", "B7", "locrian", {"11", "b13"}),
    ("Gm7", "C7", "dorian", {"9", "11"}),
]


@every(TABLE, range(-5, 7))
def test_scale_and_tensions_by_function_in_all_keys(symbol: str, following: str, scale: str,
                                                    tensions: set[str], fifths: int) -> None:
    up = degree_interval("1")
    key = Key(fifths)
    tonic = key.tonic
    for degree in ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7"):
        if (NoteName("C") + degree_interval(degree)).pitch_class == tonic.pitch_class:
            up = degree_interval(degree)
    harmony = harmony_of(ChordSymbol.parse(symbol).transposed(up), key,
                         ChordSymbol.parse(following).transposed(up))
    assert harmony.scale.name == scale
    assert set(harmony.tensions) == tensions


def test_avoid_notes_follow_the_half_step_rule_except_on_dominants() -> None:
    chords = {"ionian": "1 3 5 7", "dorian": "1 b3 5 b7", "phrygian": "1 b3 5 b7",
              "lydian": "1 3 5 7", "aeolian": "1 b3 5 b7", "locrian": "1 b3 b5 b7"}
    for name, tones in chords.items():
        scale = CHORD_SCALES[name]
        inside = {degree_pitch_class(d) for d in tones.split()}
        for degree in scale.degrees:
            place = degree_pitch_class(degree)
            if place in inside:
                continue
            half_step_above = (place - 1) % 12 in inside
            # The sixth of a II chord makes a tritone with its third and gives V7 away.
            by_function = name == "dorian" and degree == "13"
            assert (degree in scale.tensions) == (not half_step_above and not by_function), (
                name, degree)


def test_a_bare_triad_gains_what_its_place_asks_for() -> None:
    tones = {str(h.symbol): h.tones for h in analyse(
        [ChordSymbol.parse(t) for t in ("C", "F", "G", "Am", "Dm")], Key(0)) if h is not None}
    assert "6" in tones["C"] and "6" in tones["F"]
    assert "b7" in tones["G"] and "b7" in tones["Am"] and "b7" in tones["Dm"]


def test_a_bare_triad_that_opens_a_line_stays_bare() -> None:
    """Am Am(maj7) Am7 is the line A, G sharp, G, and C C+ C6 the line G, G sharp, A (common
    practice): the first chord has neither G nor A of its own."""
    for text, tones in (("Am Am(maj7) Am7", ("1", "b3", "5")), ("C C+ C6", ("1", "3", "5")),
                        ("C C7 F", ("1", "3", "5", "6")), ("Am Am7 D7", ("1", "b3", "5", "b7"))):
        first = analyse([ChordSymbol.parse(name) for name in text.split()], Key(0))[0]
        assert first is not None and first.tones == tones, text
        assert tones[3:] or not {"6", "13", "7", "b7"} & set(first.tensions), text


def test_spelling_in_the_chord() -> None:
    harmony = harmony_of(ChordSymbol.parse("G7b9"), Key(-3, "minor"), ChordSymbol.parse("Cm7"))
    assert [str(harmony.spell(pc)) for pc in (7, 8, 10, 11, 2, 3, 5)] == [
        "G", "Ab", "A#", "B", "D", "Eb", "F"]


def test_no_chord_has_no_harmony() -> None:
    assert analyse([ChordSymbol.parse("N.C."), ChordSymbol.parse("C")], Key(0))[0] is None


def test_a_chord_struck_again_still_resolves() -> None:
    first, second, _ = analyse(
        [ChordSymbol.parse("G7"), ChordSymbol.parse("G7"), ChordSymbol.parse("Cm7")],
        Key(-3, "minor"))
    assert first is not None and second is not None
    assert first.function == second.function == "V7"


def test_a_harmony_sent_to_another_process_is_found_there() -> None:
    # a process hashes strings in its own way, so nothing hashed may travel
    code = ("import pickle, sys; h = pickle.loads(sys.stdin.buffer.read());"
            "print(hash(h) == hash(type(h)(h.symbol, h.key, h.function, h.scale, h.tones,"
            " h.tensions)))")
    one = harmony_of(ChordSymbol.parse("G7"), Key(0, "major"), ChordSymbol.parse("Cmaj7"))
    for seed in ("1", "2"):
        answer = subprocess.run([sys.executable, "-c", code], input=pickle.dumps(one),
                                capture_output=True, check=True,
                                env={**os.environ, "PYTHONHASHSEED": seed})
        assert answer.stdout.strip() == b"True"


def test_a_bare_triad_with_a_foreign_leading_tone_is_the_dominant_of_the_chord_a_fifth_below(
        ) -> None:
    """Common practice: A before Dm in C is V of II and is played with a seventh; D stays a IV or
    a II in keys that have its third, and so does a triad that falls nowhere."""
    def heard(row: str, key: Key) -> tuple[str, str | None]:
        found = analyse([ChordSymbol.parse(name) for name in row.split()], key)[1]
        assert found is not None
        return found.function, found.seventh

    c_major, a_minor = Key(0), Key(0, "minor")
    assert heard("C A Dm G7 C", c_major) == ("V7/II", "b7")
    assert heard("C E Am Dm G7 C", c_major) == ("V7/VI", "b7")
    assert heard("C D G7 C", c_major) == ("V7/V", "b7")
    assert heard("Am A Dm E7 Am", a_minor) == ("V7/IV", "b7")
    assert heard("C F Bb C", c_major) == ("IV", "6")
    assert heard("G7 C F G7 C", c_major) == ("I", "6")
    assert heard("C A G7 C", c_major) == ("VI", "6")
