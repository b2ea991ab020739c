"""The pedal serves the harmony and blurs nothing."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.sound.played_scores import arranged, chord, fill_of, gap_at, note, whole_chorus

from fillwright import Arrangement, Performance, perform


def _sounding_end(performance: Performance, index: int) -> float:
    """When a note stops: its key's release, or the pedal's if that is down then."""
    end = next(n.release_sec for n in performance.notes if n.index == index)
    for down, up in performance.pedal_spans():
        if down <= end < up:
            return up
    return end


def _ballad(progression: str = "Dm7 G7 Cmaj7 Am7") -> Arrangement:
    keys = {"Dm7": "D3 C4", "G7": "G2 F3", "Cmaj7": "C3 B3", "Am7": "A2 G3"}
    symbols = progression.split()
    left = [n for k, symbol in enumerate(symbols) for n in chord(keys[symbol], 4 * k, 4)]
    right = [note(p, 4 * k, 4) for k, p in enumerate(("F5", "E5", "G5", "C5"))]
    return arranged(left + right, bpm=60,
                    chords=[(4 * k, 4, symbol) for k, symbol in enumerate(symbols)])


def test_a_ballad_is_pedalled_chord_by_chord() -> None:
    played = perform(_ballad())
    spans = played.pedal_spans()
    assert len(spans) == 4
    for k, (down, up) in enumerate(spans):
        chord_sec = 4 * k * played.seconds_per_quarter
        assert 0.05 <= down - chord_sec <= 0.2      # just after the chord, not with it
        if k < 3:
            assert up == pytest.approx(chord_sec + 4 * played.seconds_per_quarter)


def test_no_pedal_through_a_swinging_texture() -> None:
    arrangement = whole_chorus(160)
    last_quarter = max(n.onset_quarter for n in arrangement.notes)
    played = perform(arrangement)
    assert [down >= float(last_quarter) * played.seconds_per_quarter
            for down, _ in played.pedal_spans()] == [True]


def test_no_pedal_under_dry_hits_or_running_lines_even_in_a_slow_piece() -> None:
    eighths = [note(p, Fraction(k, 2), "1/2") for k, p in enumerate(["C5", "D5", "E5", "F5"])]
    hits = chord("C3 E3", 4, "1/2") + chord("C3 E3", 5, "1/2")
    played = perform(arranged(eighths + hits, bpm=96, chords=[(0, 16, "C")]))
    assert played.pedals == ()


def test_rests_are_silent() -> None:
    notes = chord("C3 G3 E4", 0, 2) + chord("F3 A3", 4, 2)
    played = perform(arranged(notes, bpm=60, bars=2, chords=[(0, 8, "C")]))
    for down, up in played.pedal_spans()[:-1]:
        assert not down <= 3 * played.seconds_per_quarter < up
    assert _sounding_end(played, 0) <= 2 * played.seconds_per_quarter + 1e-9


def test_a_melody_by_step_is_not_blurred() -> None:
    melody = [note(p, k, 1) for k, p in enumerate(["C5", "D5", "E5", "F5"])]
    played = perform(arranged([*melody, *chord("C3 G3", 0, 4)], bpm=50, chords=[(0, 4, "C")]))
    for index in range(3):
        first = next(n for n in played.notes if n.midi == melody[index].midi)
        following = next(n for n in played.notes if n.midi == melody[index + 1].midi)
        assert _sounding_end(played, first.index) <= following.onset_sec + 1e-9


@pytest.mark.parametrize("bpm", [60, 140, 220])
def test_a_note_kept_by_the_pedal_sounds_until_its_fill_says(bpm: int) -> None:
    held = note("G5", 0, 1)     # the key is let go after one beat
    gap = gap_at(1, note("G5", 0, 8), 8)
    hits = (chord("C4 E4", 2, 2, "right", "fill", 1) + chord("C3 B3", 2, 2, "left", "fill", 1))
    fill = fill_of(gap, hits, "comp", "pedal", 6)
    arrangement = arranged([held, *hits, note("C5", 8, 4)], bars=3, bpm=bpm,
                           chords=[(0, 12, "Cmaj7")], gaps=(gap,), fills=(fill,))
    played = perform(arrangement)
    end = _sounding_end(played, arrangement.notes.index(held))
    assert end == pytest.approx(6 * played.seconds_per_quarter)
    key = next(n for n in played.notes if n.midi == 79)
    assert key.duration_sec == pytest.approx(played.seconds_per_quarter, abs=0.05)


@pytest.mark.parametrize("kept", ["finger", "released"])
@pytest.mark.parametrize("until", ["2", "5/2", "4"])
@pytest.mark.parametrize("bpm", [50, 140])
def test_no_pedal_carries_a_note_past_its_end(kept: str, until: str, bpm: int) -> None:
    held = note("G5", 0, until)
    gap = gap_at(1, note("G5", 0, 4), 4)
    walk = chord("C3 E3", 1, 1, "left", "fill", 1) + chord("D3 F3", 2, 2, "left", "fill", 1)
    fill = fill_of(gap, walk, "reharm", kept, until)
    arrangement = arranged([held, *chord("C3 G3", 0, 1), *walk, note("C5", 4, 4)], bpm=bpm,
                           chords=[(0, 8, "C")], gaps=(gap,), fills=(fill,))
    played = perform(arrangement)
    place = float(Fraction(until)) if until != "5/2" else 2 + 0.63
    end = _sounding_end(played, arrangement.notes.index(held))
    assert end == pytest.approx(place * played.seconds_per_quarter, abs=0.001)


def test_the_last_chord_rings() -> None:
    arrangement = whole_chorus(140)
    played = perform(arrangement)
    assert played.sounding_end_sec > played.length_sec + 0.5


PITCHES = st.sampled_from(("C3", "D3", "E3", "G3", "C4", "D4", "F4", "G4", "A4"))
EVENTS = st.lists(st.tuples(st.integers(0, 15), st.integers(1, 8), PITCHES, st.booleans()),
                  min_size=1, max_size=20, unique_by=lambda event: (event[0], event[2]))


@settings(max_examples=100, deadline=None)
@example(events=[(0, 3, "C4", False), (1, 2, "C3", False), (2, 1, "C3", True),
                 (2, 1, "C4", True), (2, 1, "D4", True)], bpm=40, change=1)
@given(events=EVENTS, bpm=st.integers(40, 240), change=st.integers(1, 15))
def test_the_pedal_never_runs_one_harmony_into_the_next(
        events: list[tuple[int, int, str, bool]], bpm: int, change: int) -> None:
    notes = [note(pitch, onset, length, "left", "base", rolled=rolled)
             for onset, length, pitch, rolled in events]
    arrangement = arranged(notes, bars=6, bpm=bpm,
                           chords=[(0, change, "C"), (change, 24 - change, "Dm7")])
    played = perform(arrangement)
    times = [event.onset_sec for event in played.pedals]
    assert times == sorted(times)
    assert [event.down for event in played.pedals] == [True, False] * (len(times) // 2)
    onset = {n.index: n for n in played.notes}
    late = [n for n in played.notes if arrangement.notes[n.index].onset_quarter >= change]
    for index, written in enumerate(arrangement.notes):
        if written.onset_quarter < change and late:
            end = max(onset[index].release_sec,
                      float(written.end_quarter) * played.seconds_per_quarter)
            first = min(n.onset_sec for n in late)
            assert _sounding_end(played, index) <= max(end, first) + 1e-9
    for down, up in played.pedal_spans():
        inside = [n for n in played.notes if n.onset_sec < up and n.release_sec >= down]
        for one in inside:
            for other in inside:
                beside = {n.midi for n in inside if arrangement.notes[n.index].onset_quarter
                          == arrangement.notes[other.index].onset_quarter}
                if (one.release_sec <= other.onset_sec and other.onset_sec >= down
                        and one.midi not in beside):  # not struck again in the same chord
                    assert abs(one.midi - other.midi) not in (1, 2)
