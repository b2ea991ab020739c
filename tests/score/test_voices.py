"""Who shares a stem, and how long a note is written."""

from __future__ import annotations

from fractions import Fraction

from tests.score.written import arrangement, chorus_of, hand

from fillwright import HandNote
from fillwright.score.page import page_of
from fillwright.score.voices import NoteColumn, columns_of

F = Fraction


def strikes(melody: str, right: str = "", left: str = "", meter: str = "4/4",
            bars: int = 2) -> list[NoteColumn]:
    chorus = chorus_of("Voices", [(meter, bars)], "C", melody, "Cmaj7:4")
    notes: list[HandNote] = [*hand(right, "right"), *hand(left, "left")]
    return list(columns_of(arrangement(chorus, notes)))


def by_voice(found: list[NoteColumn]) -> dict[int, list[str]]:
    rows: dict[int, list[str]] = {}
    for column in found:
        names = "+".join(str(note.pitch) for _, note in column.notes)
        rows.setdefault(column.voice, []).append(
            f"{names}:{column.end_quarter - column.onset_quarter}")
    return rows


def test_notes_struck_and_released_with_the_melody_share_its_stem() -> None:
    assert by_voice(strikes("C5:2 D5:2", "E4+G4:2 F4+B4:2")) == {
        1: ["E4+G4+C5:2", "F4+B4+D5:2"]}


def test_what_moves_under_a_held_melody_is_a_second_voice() -> None:
    assert by_voice(strikes("C5:4", "r:1 E4+G4:1 F4+A4:2")) == {
        1: ["C5:4"], 2: ["E4+G4:1", "F4+A4:2"]}


def test_voices_that_never_sound_at_once_are_one() -> None:
    assert by_voice(strikes("C5:2 r:2 E5:4", "r:2 G5:1 A5:1")) == {
        1: ["C5:2", "G5:1", "A5:1", "E5:4"]}


def test_bars_tied_together_are_decided_together() -> None:
    # The inner note rings into the second bar, where the melody is alone.
    found = by_voice(strikes("C5:4 D5:1 r:3", "r:3 E4:3"))
    assert found == {1: ["C5:4", "D5:1"], 2: ["E4:3"]}


def test_a_tie_of_the_melody_takes_no_second_voice_over_a_bar_line() -> None:
    """The melody rings over chords of the second bar; the first has one line, in one voice."""
    found = by_voice(strikes("r:2 D5:1 E5:5", "F5:1 G5:1 r:3 G4+C5:1"))
    assert found == {1: ["F5:1", "G5:1", "D5:1", "E5:5"], 2: ["G4+C5:1"]}


def test_a_third_voice_where_three_lengths_overlap() -> None:
    found = columns_of(arrangement(
        chorus_of("Three", [("4/4", 1)], "C", "C5:4", "C:4"),
        [*hand("E4:3", "right"), *hand("r:1 G4:1", "right")]))
    assert {column.voice for column in found} == {1, 2, 4}


def test_two_lines_under_a_note_with_a_stem_share_their_stems() -> None:
    """What stays is tied; what is struck in another way keeps a voice of its own."""
    chorus = chorus_of("Shared", [("4/4", 1)], "C", "C5:3 D5:1", "C:4")
    found = columns_of(arrangement(chorus, [*hand("r:1 G4:2", "right"),
                                            *hand("r:1 F4:1 E4:1", "right")]))
    assert by_voice(list(found)) == {1: ["C5:3", "D5:1"], 2: ["F4+G4:1", "E4+G4:1"]}
    first, second = (column for column in found if column.voice == 2)
    assert first.tied_in == second.tied_on == frozenset()
    assert first.tied_on == second.tied_in == {index for index, note in first.notes
                                               if str(note.pitch) == "G4"}
    short = columns_of(arrangement(chorus, [*hand("r:1 G4:2", "right"),
                                            *hand("r:1 E4+F4:1/2", "right")]))
    assert len({column.voice for column in short}) == 3


def test_a_chord_that_builds_up_under_a_whole_note_has_one_stem() -> None:
    """Each key is tied into the chord it becomes part of."""
    chorus = chorus_of("Built", [("4/4", 1)], "C", "A4:4", "C:4")
    found = columns_of(arrangement(chorus, [*hand("r:1/2 E4:7/2", "right"),
                                            *hand("r:1 G4:3", "right")]))
    assert by_voice(list(found)) == {1: ["A4:4"], 2: ["E4:1/2", "E4+G4:3"]}


def test_lines_under_a_long_note_share_stems_where_its_end_has_one() -> None:
    """A note of six beats is whole in its first bar and a half in the next: there are two stems
    below it only in the first, and what rings over the bar line is tied."""
    chorus = chorus_of("Over", [("4/4", 2)], "C", "E5:6 D5:2", "C:8")
    found = columns_of(arrangement(chorus, [*hand("r:1 G4:2 A4:3", "right"),
                                            *hand("r:2 C5:2 r:1 B4:1", "right")]))
    assert by_voice(list(found)) == {1: ["E5:6", "D5:2"], 2: ["G4:2", "A4:1", "A4:1", "A4+B4:1"],
                                     4: ["C5:2"]}
    over = [column for column in found if str(column.notes[0][1].pitch) == "A4"]
    assert [(len(column.tied_in), len(column.tied_on)) for column in over] == [
        (0, 1), (1, 1), (1, 0)]


def test_a_tuplet_of_two_voices_is_numbered_once() -> None:
    """In the voice that has more of its notes."""
    [bar] = page_of(arrangement(
        chorus_of("Thirds", [("4/4", 1)], "C", "C5:2/3 D5:4/3 E5:2", "C:4"),
        [*hand("E4:1/3 F4:1/3 G4:1/3 A4:1", "right")]))
    upper, lower, _ = bar.rows
    assert {value.piece.tuplet for value in upper.values} == {
        None, *upper.unnumbered} and len(upper.unnumbered) == 1
    assert lower.unnumbered == frozenset()


def test_the_left_hand_splits_into_high_and_low() -> None:
    found = columns_of(arrangement(
        chorus_of("Left", [("4/4", 1)], "C", "C5:4", "C:4"),
        [*hand("C2:4", "left"), *hand("r:1 E3+B3:1 r:1 E3+B3:1", "left")]))
    assert by_voice([s for s in found if s.hand == "left"]) == {
        6: ["C2:4"], 5: ["E3+B3:1", "E3+B3:1"]}


def test_voices_of_the_left_hand_do_not_cross() -> None:
    """Under F, which was above the bass before, B comes in above: both have one stem."""
    chorus = chorus_of("Builds up", [("4/4", 1)], "C", "C5:4", "C:4")
    found = [c for c in columns_of(arrangement(chorus, [
        *hand("G2:1", "left"), *hand("r:.5 F3:2.5", "left"), *hand("r:1 B3:2", "left")]))
        if c.hand == "left"]
    assert by_voice(found) == {5: ["F3:1/2", "F3+B3:2"], 6: ["G2:1"]}
    assert found[1].tied_on == found[2].tied_in != frozenset()


def test_nothing_of_a_hand_overlaps_in_one_voice() -> None:
    found = strikes("C5:4 D5:4", "r:1/2 E4:2 F4:3 r:1/2 G4:2", "C3:8 r:8", bars=4)
    ends: dict[int, Fraction] = {}
    for column in found:
        assert ends.get(column.voice, F(0)) <= column.onset_quarter
        ends[column.voice] = column.end_quarter


def test_releases_off_the_grid_are_written_on_it() -> None:
    found = by_voice(strikes("C5:4", "", "r:1/2 C3:1>1/4 r:1/2 D3:2>15/8 E3:1>2/3"))
    # a sixteenth becomes an eighth; almost a half, a half; two thirds, a quarter
    assert found[5] == ["C3:1/2", "D3:2", "E3:1"]


def test_a_triplet_beat_has_a_triplet_grid() -> None:
    found = by_voice(strikes("C5:4", "", "C3:2/3>1/2 D3:1/3 E3:1"))
    assert found[5] == ["C3:2/3", "D3:1/3", "E3:1"]


def test_the_written_length_never_passes_the_next_note() -> None:
    found = by_voice(strikes("C5:4", "", "C3:3/4>2/3 D3:1/4 E3:1"))
    assert found[5] == ["C3:3/4", "D3:1/4", "E3:1"]


def test_one_key_struck_twice_at_once_is_kept() -> None:
    chorus = chorus_of("Twice", [("4/4", 1)], "C", "C5:4", "C:4")
    found = columns_of(arrangement(chorus, hand("C5:4", "right")))
    assert sum(len(column.notes) for column in found) == 2
    assert {column.voice for column in found} == {1, 3}


def test_a_chord_let_go_one_key_after_the_other_is_written_once() -> None:
    """Under a melody note that goes on as a whole one: the keys that a player lets go a sixteenth
    apart end at one place on paper, and were written twice, once in each of two voices."""
    chorus = chorus_of("Once", [("4/4", 2)], "C", "r:2 C5:6", "C:8")
    notes = [*hand("r:2 C4+G4:2", "right"), *hand("r:2 E4:7/4", "right")]
    found = columns_of(arrangement(chorus, notes))
    assert sorted(index for column in found for index, _ in column.notes) == [0, 1, 2, 3]


# --- rests ------------------------------------------------------------------------------

def rests(melody: str, right: str = "") -> list[tuple[int, str, bool]]:
    """(voice, value, whether shown) of the rests of the upper staff in the first bar."""
    chorus = chorus_of("Rests", [("4/4", 1)], "C", melody, "C:4")
    page = page_of(arrangement(chorus, hand(right, "right")))[0]
    return [(row.voice, value.piece.note_type, value.is_shown)
            for row in page.rows if row.staff == 1 for value in row.values if value.column is None]


def test_rests_are_shown_only_where_the_staff_is_silent() -> None:
    assert rests("C5:2 r:2") == [(1, "half", True)]
    # under a held note nothing is shown
    assert all(not shown for _, _, shown in rests("C5:4", "r:1 E4:1"))


def test_a_common_silence_is_shown_once() -> None:
    shown = [(voice, value) for voice, value, is_shown in rests("C5:2 r:2", "r:1 E4:1 r:2")
             if is_shown]
    assert shown == [(1, "half")]


def test_a_silence_is_shown_in_the_voice_it_belongs_to() -> None:
    shown = [(voice, value) for voice, value, is_shown in rests(
        "C5:2 r:2", "r:1 E4:2 r:1/3 F4:2/3") if is_shown]
    assert shown == [(2, "eighth")]


def test_a_voice_that_enters_off_the_beat_has_the_rest_before_it() -> None:
    """No more than the rest of that beat; none where it sounds until then, or enters on one."""
    def shown(right: str) -> list[tuple[int, str]]:
        return [(voice, value) for voice, value, is_shown in rests("C6:4", right) if is_shown]

    assert shown("r:3/2 E4:1/2 F4:1") == [(2, "eighth")]
    assert shown("r:1 E4:1/2 F4:1/2") == []
    assert shown("D4:1/2 E4:1/2 r:1/2 F4:1/2") == [(2, "eighth")]


def test_stems_point_apart_only_where_two_voices_share_a_bar() -> None:
    chorus = chorus_of("Stems", [("4/4", 2)], "C", "C5:4 D5:4", "C:8")
    first, second = page_of(arrangement(chorus, hand("r:1 E4:1", "right")))
    stems = [{row.voice: {value.stem for value in row.values if value.column is not None}
              for row in page.rows if row.staff == 1} for page in (first, second)]
    assert stems == [{1: {"up"}, 2: {"down"}}, {1: {""}}]
