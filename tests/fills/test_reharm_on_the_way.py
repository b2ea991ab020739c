"""What good players do between two chords of a tune, and no rule forbids. Check values are common
practice."""

from __future__ import annotations

import pytest
from tests.fills.test_reharm_strict import gap_of, offered

from fillwright import ChordSymbol, Key
from fillwright.fills.devices.reharm.options import options
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.player import ADVANCED, INTERMEDIATE, Level
from fillwright.theory import analyse

pytestmark = pytest.mark.slow


def singles(row: str, key: str = "C", level: Level = ADVANCED,
            own: frozenset[tuple[int, str]] = frozenset()) -> set[str]:
    """The single chords that may come in the place of ``*`` in ``"Dm7 G7 * F7 Em7"``; `own` are
    those that the tune has between the two in another place."""
    names = row.split()
    at = names.index("*")
    heard = analyse([ChordSymbol.parse(name) for name in names if name != "*"], Key.parse(key))
    assert all(heard)
    before, here, goal, after = (None if not 0 <= i < len(heard) else heard[i]
                                 for i in (at - 2, at - 1, at, at + 1))
    assert here is not None and goal is not None
    found = options(Place(here, goal, before=before, after=after, own=own), None, level)
    return {str(o.chords[0].symbol) for o in found if len(o.chords) == 1}


@pytest.mark.parametrize(("row", "chord", "key"), [
    ("E7 A7 * D7 Gmaj7", "Am7", "G"),       # the dominant turns minor, and is the II of the next
    ("Bb7 F7 * G7 Cm7", "Dm7", "Eb"),       # a dominant, then a new cadence
    ("Dm7 G7 * F7 E7", "Cmaj7", "C"),       # home, on the way to the IV with a seventh
    ("Cm7 F7 * Bb7 Eb", "Bbmaj7", "Bb"),    # home, which then turns into a dominant
    ("Cm7 F7 * Bbm7 Eb7", "Bbmaj7", "Bb"),  # or into the II of another key
    ("Dm7 G7 * Am7 Dm7", "Cmaj7", "C"),     # V, I, VI
    ("Cmaj7 Dm7 * Em7 A7", "G7", "C"),      # II, V, and the III in the place of the tonic
    ("C G7 * F C", "Cmaj7", "C"),           # V, I, and the IV before I comes again
    ("Dm E7 * Dm Am", "Am7", "Am"),         # the same in minor
    ("Am D7 * Em C", "Gmaj7", "G"),         # V, I, VI
    ("Dm7 G7 * E7 Am7", "Cmaj7", "C"),      # home, and the dominant of the VI
    ("G7 Am7 * Am7 Dm7", "D7", "Am"),       # the IV of the Dorian mode, and back
    ("Dm7 Am7 * Fmaj7 G7", "E7", "C"),      # the dominant of the VI goes on to the IV
])
def test_what_real_changes_do(row: str, chord: str, key: str) -> None:
    assert chord in singles(row, key), sorted(singles(row, key))


@pytest.mark.parametrize(("row", "chord", "key"), [
    ("Dm7 G7 * C Am7", "Dm7", "C"),     # a cadence goes back to its II
    ("Dm7 G7 * Dm7 G7", "Cmaj7", "C"),  # home between its dominant and its II
    ("F Cmaj7 * G7 C", "F6", "C"),      # what has just been left
    ("Dm7 G7 * F7 C7", "Cmaj7", "C"),   # home between V and IV of a blues
    ("F C * C F", "Fmaj7", "C"),        # the next chord given away
])
def test_what_stays_forbidden(row: str, chord: str, key: str) -> None:
    assert chord not in singles(row, key)


@pytest.mark.parametrize(("row", "chord", "symbol"), [
    ("F C * G7 C", (11, "7"), "B7"),       # what no device gives
    ("C F * C7 Dm7", (4, "7"), "E7"),      # and leads nowhere by itself
    ("F C * C F", (5, "M"), "Fmaj7"),      # to and fro
    ("Dm7 G7 * F7 C7", (0, "M"), "Cmaj7"),
])
def test_what_the_tune_has_elsewhere_may_stand_there(row: str, chord: tuple[int, str],
                                                     symbol: str) -> None:
    assert symbol not in singles(row)
    assert symbol in singles(row, own=frozenset((chord,)))


@pytest.mark.parametrize(("row", "chord"), [("C G7 * G7 C", (0, "M")), ("C G7 * Dm7 G7", (0, "M"))])
def test_home_between_dominants_is_no_way_of_any_tune(row: str, chord: tuple[int, str]) -> None:
    """V I V, and home before a new II V: whatever the tune does in another place."""
    assert not {name for name in singles(row, own=frozenset((chord,))) if name.startswith("C")
                and not name.startswith("C#")}


@pytest.mark.parametrize("chord", ["A7alt", "A7b9"])
def test_the_dominant_of_a_minor_chord_may_be_altered_by_the_advanced(chord: str) -> None:
    row = "G7 C6 * Dm7 G7"
    assert chord in singles(row) and chord not in singles(row, level=INTERMEDIATE)


def test_an_advanced_player_alters_the_dominant_of_the_ii() -> None:
    """G over A7 into D minor: with its flat nine, among the first three."""
    fills = offered(gap_of("G4 4, A4 4", "C6 4, Dm7 4", level="advanced", tempo=80), 3)
    assert any("b9" in c.symbol.degrees for f in fills for c in f.chords if c.added), [
        [str(c.symbol) for c in f.chords] for f in fills]


def test_a_bass_line_goes_down_to_the_six_under_the_tonics_own_tones() -> None:
    """C, C over B, A minor 7: the A in the bass is what is heard."""
    fills = offered(gap_of("E5 4, D5 4", "C 4, F 4", level="advanced", tempo=132), 3)
    rows = [[str(c.symbol) for c in f.chords if c.added] for f in fills]
    assert any(len(row) > 1 and row[0].endswith("/B") and row[1].startswith("Am") for row in rows)


@pytest.mark.parametrize(("melody", "chords", "tempo", "row"), [
    ("C5 8", "C6 8", 60, "F#m7b5 Fm6 C/E Ebdim7 Dm7"),
    ("C5 8", "C6 8", 204, "Ab7 G9sus4"),
    ("C5 6, D5 4", "C 6, Dm7 4", 60, "F#m7b5 Fm6 C/E Ebdim7")])
def test_there_is_time_for_the_long_way(melody: str, chords: str, tempo: int, row: str) -> None:
    """Down by half steps from the raised fourth under the tonic in a ballad; to a dominant that
    keeps its fourth where it is fast: for the advanced, among ten."""
    found = [" ".join(str(c.symbol) for c in f.chords if c.added)
             for f in offered(gap_of(melody, chords, level="advanced", tempo=tempo), 10)]
    assert any(names.startswith(row) for names in found), found


def test_an_advanced_player_seldom_adds_one_lonely_chord_where_there_is_time() -> None:
    fills = offered(gap_of("A5 6, A5 4", "F 6, G7 4", level="advanced", tempo=132), 3)
    assert [sum(c.added for c in f.chords) for f in fills] == [2, 2, 2]


@pytest.mark.parametrize("tempo", [63, 132])
def test_no_second_lies_at_the_bottom_under_a_hole(tempo: int) -> None:
    """E flat and F in the left hand, and an octave and a half of nothing over them."""
    for fill in offered(gap_of("C6 6, A5 2, G5 4", "F 8, C7 4", level="advanced", tempo=tempo), 8):
        for chord in fill.chords:
            keys = sorted({n.midi for n in fill.notes
                           if chord.onset_quarter <= n.onset_quarter < chord.end_quarter})
            assert len(keys) < 3 or keys[1] - keys[0] > 2 or keys[2] - keys[1] <= 12, keys
