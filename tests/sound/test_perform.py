"""Touch: who is loud, what is short, what is let go when."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sound.played_scores import arranged, chord, fill_of, gap_at, note, whole_chorus

from fillwright import Arrangement, ChordSymbol, InputError, Performance
from fillwright.sound import perform
from fillwright.sound.model import PlayedNote
from fillwright.sound.perform import RESTRIKE_SEC, ROLL_STEP_SEC, marker_text

pytestmark = pytest.mark.slow


def _role(arrangement: Arrangement, played: PlayedNote) -> str:
    return arrangement.notes[played.index].role


def _quarters(performance: Performance, seconds: float) -> float:
    return seconds / performance.seconds_per_quarter


@pytest.mark.parametrize("feel", ["swing", "straight"])
@pytest.mark.parametrize("bpm", [60, 140, 260])
def test_every_struck_key_is_played_once(bpm: int, feel: str) -> None:
    arrangement = whole_chorus(bpm, feel)
    played = perform(arrangement)
    assert sorted(n.index for n in played.notes) == list(range(len(arrangement.notes)))
    for n in played.notes:
        written = arrangement.notes[n.index]
        assert (n.midi, n.hand) == (written.midi, written.hand)
        assert n.onset_sec == pytest.approx(
            float(written.onset_quarter) * played.seconds_per_quarter, abs=0.15)
    assert played == perform(arrangement)


def test_the_melody_stands_above_what_accompanies_it() -> None:
    for bpm in (60, 140, 240):
        arrangement = whole_chorus(bpm)
        by_role: dict[str, list[int]] = {"melody": [], "base": [], "fill": []}
        played = perform(arrangement)
        for n in played.notes:
            by_role[_role(arrangement, n)].append(n.velocity)
        assert mean(by_role["melody"]) - mean(by_role["base"]) >= 25
        assert min(by_role["melody"]) > max(by_role["base"]) + 10
        line = [n.velocity for n in played.notes if n.hand == "right"
                and _role(arrangement, n) == "fill" and arrangement.notes[n.index].gap == 2]
        assert abs(mean(line) - mean(by_role["melody"])) <= 8
        assert all(20 <= n.velocity <= 120 for n in played.notes)


def test_offbeats_of_a_line_are_accented_in_swing_only() -> None:
    # Friberg's rule file: off-beats louder by default.
    line = [note("C5", Fraction(k, 2), "1/2") for k in range(16)]
    swung = [n.velocity for n in perform(arranged(line)).notes]
    straight = [n.velocity for n in perform(arranged(line, feel="straight")).notes]
    assert mean(swung[1::2]) - mean(swung[::2]) >= 5
    assert abs(mean(straight[1::2]) - mean(straight[::2])) < 1


def test_higher_is_louder_within_limits() -> None:
    leap = [note(p, k, 1) for k, p in enumerate(("C4", "C6", "C4", "C6"))]
    low, high = (mean(n.velocity for n in perform(arranged(leap)).notes if n.midi == midi)
                 for midi in (60, 84))
    assert 4 <= high - low <= 12


def test_a_push_is_louder_than_a_dry_hit() -> None:
    held = note("G5", 0, 4)
    gap = gap_at(1, held, 4)
    hits = (chord("E4 A4", 1, "1/2", "right", "fill", 1)
            + chord("E4 A4", "7/2", "3/2", "right", "fill", 1))
    fill = fill_of(gap, hits, "comp", "finger", 4)
    played = perform(arranged([held, *hits], gaps=(gap,), fills=(fill,)))
    dry, push = (n.velocity for n in played.notes if n.midi == 69)
    assert push >= dry + 5


def test_the_top_of_a_comping_hand_is_above_its_inner_notes() -> None:
    held = note("G5", 0, 4)
    gap = gap_at(1, held, 4)
    hit = chord("C4 E4 A4", 2, 1, "right", "fill", 1)
    fill = fill_of(gap, hit, "comp", "finger", 4)
    played = perform(arranged([held, *hit], gaps=(gap,), fills=(fill,)))
    by_key = {n.midi: n.velocity for n in played.notes}
    assert by_key[60] == by_key[64] < by_key[69] < by_key[79]


def test_long_is_long_and_short_is_short() -> None:
    arrangement = whole_chorus(160)
    played = perform(arrangement)
    comp = [(arrangement.notes[n.index], _quarters(played, n.duration_sec))
            for n in played.notes if arrangement.notes[n.index].gap == 1]
    for written, length in comp:
        share = length / float(written.duration_quarter)
        if written.duration_quarter == Fraction(1, 2):
            assert 0.45 <= share <= 0.6
        else:
            assert 0.9 <= share <= 1


def test_a_fast_hit_still_speaks() -> None:
    played = perform(arranged(chord("C3 G3", "1/2", "1/2"), bpm=260))
    assert all(n.duration_sec >= 0.079 for n in played.notes)


def test_swung_eighths_are_legato_and_the_last_is_clipped() -> None:
    line = [note(p, Fraction(k, 2), "1/2")
            for k, p in enumerate(("C5", "D5", "E5", "F5", "G5", "F5"))]
    played = perform(arranged([*line, note("C5", 8, 4)], bpm=180))
    for one, following in pairwise(played.notes[:6]):
        assert 0.85 <= one.duration_sec / (following.onset_sec - one.onset_sec) <= 0.95
    last = played.notes[5]
    straight = 0.5 * played.seconds_per_quarter
    assert last.duration_sec <= 0.6 * straight + 0.08 and last.duration_sec >= 0.079


def test_harmony_under_the_melody_is_let_go_with_it() -> None:
    notes = [note("C5", 0, 1), note("E4", 0, 1, "right", "base"), note("B4", 1, 1),
             note("F4", 1, 1, "right", "base")]
    played = perform(arranged(notes))
    releases = sorted(n.release_sec for n in played.notes)
    assert releases[0] == pytest.approx(releases[1])
    assert releases[2] == pytest.approx(releases[3])


def test_a_slow_eighth_is_no_dry_hit() -> None:
    played = perform(arranged(chord("C3 G3", 0, "1/2"), bpm=60, feel="straight"))
    assert all(_quarters(played, n.duration_sec) > 0.45 for n in played.notes)


def test_the_held_note_sounds_until_its_fill_says() -> None:
    for kept in ("finger", "released"):
        played = perform(whole_chorus(kept=kept, until="13/2"))
        held = next(n for n in played.notes if n.midi == 79)
        place = 6 + 0.63    # the off-beat of six, as 140 beats a minute swing it
        assert _quarters(played, held.release_sec) == pytest.approx(place, abs=0.005)


def test_a_key_is_up_before_it_is_struck_again() -> None:
    repeated = [note("C5", k, 1) for k in range(8)]
    played = perform(arranged(repeated, bpm=120))
    for one, again in pairwise(played.notes):
        assert again.onset_sec - one.release_sec >= RESTRIKE_SEC - 1e-9


KEYS = st.lists(st.tuples(st.integers(0, 30), st.integers(1, 24),
                          st.sampled_from(("C4", "D4", "E4")),
                          st.sampled_from(("left", "right")),
                          st.sampled_from(("melody", "base"))),
                min_size=1, max_size=24, unique_by=lambda key: (key[0], key[2]))


@settings(max_examples=80, deadline=None)
@given(keys=KEYS, bpm=st.integers(40, 300), grid=st.sampled_from((2, 3, 4)))
def test_no_key_is_struck_while_it_is_down(keys: list[tuple[int, int, str, str, str]], bpm: int,
                                           grid: int) -> None:
    notes = [note(pitch, Fraction(onset, grid), Fraction(length, grid), hand,
                  role if hand == "right" else "base")
             for onset, length, pitch, hand, role in keys]
    played = perform(arranged(notes, bars=12, bpm=bpm))
    assert len(played.notes) == len(notes)
    by_key: dict[int, list[PlayedNote]] = {}
    for n in played.notes:
        assert n.duration_sec > 0
        by_key.setdefault(n.midi, []).append(n)
    for key in by_key.values():
        assert all(one.release_sec < again.onset_sec for one, again in pairwise(key))


def test_both_hands_on_one_key_at_once_are_both_played() -> None:
    notes = [note("C4", 0, 1, "left", "base"), note("C4", 0, 1, "right", "base")]
    assert len(perform(arranged(notes)).notes) == 2


def test_a_rolled_chord_goes_up_in_even_steps() -> None:
    played = perform(arranged(chord("C3 G3 E4", 4, 4, rolled=True), bpm=80))
    onsets = [n.onset_sec for n in played.notes]
    assert [n.midi for n in played.notes] == [48, 55, 64]
    assert onsets[0] == pytest.approx(4 * played.seconds_per_quarter)
    assert [b - a for a, b in pairwise(onsets)] == pytest.approx([ROLL_STEP_SEC] * 2)


def test_a_roll_under_the_melody_arrives_with_it() -> None:
    notes = [*chord("C3 G3", 4, 4, rolled=True),
             note("E4", 4, 4, "right", "base", rolled=True), note("C5", 4, 4, rolled=True)]
    played = perform(arranged(notes, bpm=80, feel="straight"))
    assert played.notes[-1].midi == 72
    assert played.notes[-1].onset_sec == pytest.approx(4 * played.seconds_per_quarter)
    assert played.notes[0].onset_sec == pytest.approx(4 * played.seconds_per_quarter - 0.09)
    first = perform(arranged([n for n in notes if n.onset_quarter == 4], bpm=80))
    assert min(n.onset_sec for n in first.notes) >= 0


def test_inner_notes_follow_the_melody_unheard() -> None:
    # Below the 20 ms at which the order of two tones is heard (Hirsh 1959).
    notes = [note("C5", 0, 4), note("E4", 0, 4, "right", "base")]
    top, inner = sorted(perform(arranged(notes)).notes, key=lambda n: -n.midi)
    assert 0 < inner.onset_sec - top.onset_sec < 0.02


def test_an_excerpt_is_the_same_music_from_zero() -> None:
    arrangement = whole_chorus()
    whole, part = perform(arrangement), perform(arrangement, Fraction(8), Fraction(16))
    start = 8 * whole.seconds_per_quarter
    expected = {n.index: n.onset_sec - start for n in whole.notes
                if 8 <= arrangement.notes[n.index].onset_quarter < 16}
    assert {n.index: n.onset_sec for n in part.notes} == pytest.approx(expected)
    assert part.length_sec == pytest.approx(8 * whole.seconds_per_quarter)
    assert all(n.release_sec <= part.length_sec + 1e-9 for n in part.notes)
    assert [m.text for m in part.markers] == ["Dm7", "G7"]
    assert [bar.number for bar in part.bars] == ["2", "3"]
    assert part.sounding_end_sec <= part.length_sec + 1e-9


def test_an_excerpt_inside_a_chord_names_it() -> None:
    part = perform(whole_chorus(), Fraction(2), Fraction(6))
    assert [m.text for m in part.markers] == ["Cmaj7"] and part.markers[0].onset_sec == 0
    assert [bar.length_quarter for bar in part.bars] == [2, 2]


def test_an_excerpt_of_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="nothing is played"):
        perform(whole_chorus(), Fraction(8), Fraction(8))


def test_an_arrangement_without_notes_is_silence() -> None:
    played = perform(arranged([]))
    assert played.notes == () and played.pedals == ()
    assert played.length_sec == pytest.approx(16 * 60 / 140)


def test_markers_are_plain_text() -> None:
    assert marker_text(ChordSymbol.parse("Bb7(b9)")) == "Bb7(b9)"
    assert marker_text(ChordSymbol.parse("CΔ7")) == "Cmaj7"
    assert marker_text(ChordSymbol.parse("N.C.")) == "N.C."


def test_a_key_struck_again_is_struck_otherwise() -> None:
    """Sixteen equal quarters: no two neighbours alike, the same each time."""
    again = arranged([note("C5", 16, 1)] + [note("C4", place, 1, "left", "base")
                                            for place in range(16)], bars=5)
    weights = [n.velocity for n in perform(again).notes if n.midi == 60]
    assert all(one != other for one, other in pairwise(weights))
    assert max(weights) - min(weights) <= 6
    assert weights == [n.velocity for n in perform(again).notes if n.midi == 60]


def test_the_top_of_a_chord_is_out() -> None:
    done = arranged([note("C6", 8, 1), *chord("E3 G3 B3 D4", 0, 2), *chord("E3", 4, 2)], bars=4)
    by_key = {(n.onset_sec > 1, n.midi): n.velocity for n in perform(done).notes}
    low, second, third, top = (by_key[False, midi] for midi in (52, 55, 59, 62))
    assert top >= second + 3 and top >= third + 3 and top > low


def test_a_ballad_breathes_between_phrases() -> None:
    """The key is up before the second phrase begins, which is late by less than a tenth of a beat;
    the left hand, and what follows, are in time. A faster tune goes on."""
    notes = [note("C5", 0, 1), note("D5", 1, 1), note("E5", 2, 2), note("F5", 4, 1),
             note("G5", 5, 1), note("A5", 6, 2), *chord("C3 G3", 4, 4)]
    for bpm, breathes in ((60, True), (140, False)):
        played = perform(arranged(notes, bpm=bpm, feel="straight")).notes
        at = {n.midi: n for n in played}
        beat = 60 / bpm
        late = at[77].onset_sec - 4 * beat
        assert (0.02 < late / beat < 0.1) is breathes, bpm
        assert at[48].onset_sec == 4 * beat and at[79].onset_sec == 5 * beat
        rest = at[77].onset_sec - at[76].onset_sec - at[76].duration_sec
        assert (rest >= 0.1) is breathes, bpm
