"""MIDI files, read back with mido."""

from __future__ import annotations

import io
from fractions import Fraction
from typing import Any

import mido  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sound.played_scores import arranged, chord, note, whole_chorus

from fillwright import Key, Performance, perform
from fillwright.sound import to_midi
from fillwright.sound.midi import TICKS_PER_QUARTER, count_in_quarter
from fillwright.tune import Meter


def _read(performance: Performance, click: bool = False) -> Any:
    return mido.MidiFile(file=io.BytesIO(to_midi(performance, click)))


def _at_ticks(track: Any) -> list[tuple[int, Any]]:
    now, events = 0, []
    for message in track:
        now += message.time
        events.append((now, message))
    return events


def _notes(track: Any) -> list[tuple[int, int, int, int]]:
    """(onset tick, release tick, key, velocity), closing each key once."""
    down: dict[int, tuple[int, int]] = {}
    found = []
    for tick, message in _at_ticks(track):
        if message.type == "note_on":
            assert message.velocity > 0 and message.note not in down
            down[message.note] = (tick, message.velocity)
        elif message.type == "note_off":
            onset, velocity = down.pop(message.note)
            found.append((onset, tick, message.note, velocity))
    assert not down
    return sorted(found)


def _metas(track: Any, kind: str) -> list[tuple[int, Any]]:
    return [(tick, message) for tick, message in _at_ticks(track) if message.type == kind]


def test_reading_back_gives_the_same_notes() -> None:
    performance = perform(whole_chorus())
    file = _read(performance)
    assert (file.type, file.ticks_per_beat, len(file.tracks)) == (1, TICKS_PER_QUARTER, 3)
    assert [track.name for track in file.tracks] == ["Plain", "Right hand", "Left hand"]
    per_tick = performance.seconds_per_quarter / TICKS_PER_QUARTER
    for track, hand in zip(file.tracks[1:], ("right", "left"), strict=True):
        expected = sorted((n for n in performance.notes if n.hand == hand),
                          key=lambda n: (n.onset_sec, n.midi))
        found = _notes(track)
        assert [(key, velocity) for _, _, key, velocity in found] == [
            (n.midi, n.velocity) for n in expected]
        for (on, off, _, _), n in zip(found, expected, strict=True):
            assert on * per_tick == pytest.approx(n.onset_sec, abs=per_tick)
            assert off * per_tick == pytest.approx(n.release_sec, abs=per_tick)


def test_one_note_on_for_each_struck_key_and_no_count_in() -> None:
    arrangement = whole_chorus()
    file = _read(perform(arrangement))
    count = sum(message.type == "note_on" for track in file.tracks for message in track)
    assert count == len(arrangement.notes)
    first = min(tick for track in file.tracks for tick, message in _at_ticks(track)
                if message.type == "note_on")
    assert first == 0


def test_the_file_is_as_long_as_the_performance() -> None:
    performance = perform(whole_chorus(96))
    assert _read(performance).length == pytest.approx(performance.sounding_end_sec, abs=0.01)


def test_markers_carry_the_chord_symbols() -> None:
    # Standard MIDI Files have no chord event; a marker (meta 06) is what sequencers show.
    file = _read(perform(whole_chorus()))
    found = [(tick, message.text) for tick, message in _metas(file.tracks[0], "marker")]
    assert found == [(TICKS_PER_QUARTER * quarter, text) for quarter, text in (
        (0, "Cmaj7"), (8, "Dm7"), (12, "G7"), (16, "Am7"), (24, "G7"), (28, "C6"))]


def test_tempo_meter_and_key() -> None:
    # Standard MIDI File 1.0: tempo in microseconds a quarter, 500000 is 120 a minute.
    performance = perform(arranged([note("C5", 0, 1)], bpm=120, key=Key(-2, "minor")))
    conductor = _read(performance).tracks[0]
    assert [m.tempo for _, m in _metas(conductor, "set_tempo")] == [500000]
    assert [m.key for _, m in _metas(conductor, "key_signature")] == ["Gm"]
    signatures = [(t, m.numerator, m.denominator) for t, m in _metas(conductor, "time_signature")]
    assert signatures == [(0, 4, 4)]


@pytest.mark.parametrize("mode", ["major", "minor"])
@pytest.mark.parametrize("fifths", range(-7, 8))
def test_every_key_signature_is_written(fifths: int, mode: str) -> None:
    performance = perform(arranged([note("C5", 0, 1)], key=Key(fifths, mode)))
    data = to_midi(performance)
    place = data.index(b"\xff\x59\x02")     # meta 59: sharps (flats negative), 1 for minor
    assert data[place + 3:place + 5] == bytes([fifths % 256, mode == "minor"])


def test_compound_meters_count_dotted_quarters() -> None:
    performance = perform(arranged([note("C5", 0, 1)], bpm=60, meter=Meter(6, 8)))
    conductor = _read(performance).tracks[0]
    (_, tempo), (_, meter) = (_metas(conductor, kind)[0]
                              for kind in ("set_tempo", "time_signature"))
    assert tempo.tempo == pytest.approx(60_000_000 / 90, abs=1)
    assert (meter.numerator, meter.denominator, meter.clocks_per_click) == (6, 8, 36)


@pytest.mark.parametrize(("pickup", "signature"), [("1", (1, 4)), ("3/2", (3, 8)),
                                                   ("1/2", (1, 8)), ("3", (3, 4))])
def test_bars_lie_right_after_a_pickup(pickup: str, signature: tuple[int, int]) -> None:
    performance = perform(arranged([note("G4", 0, "1/2"), note("C5", pickup, 4)], pickup=pickup))
    found = [(t, m.numerator, m.denominator)
             for t, m in _metas(_read(performance).tracks[0], "time_signature")]
    assert found == [(0, *signature), (int(Fraction(pickup) * TICKS_PER_QUARTER), 4, 4)]


def test_both_hands_carry_the_pedal_and_lift_it_before_the_next_chord() -> None:
    arrangement = arranged(chord("C3 G3 E4", 0, 4) + chord("D3 A3 F4", 4, 4)
                           + [note("C5", 0, 4), note("D5", 4, 4)],
                           bpm=60, chords=[(0, 4, "C"), (4, 4, "Dm")])
    file = _read(perform(arrangement))
    right, left = ([(tick, m.value) for tick, m in _metas(track, "control_change")
                    if m.control == 64] for track in file.tracks[1:])
    assert right == left and [value for _, value in right] == [127, 0, 127, 0]
    at_change = [m.type for tick, m in _at_ticks(file.tracks[2]) if tick == 4 * 960]
    assert at_change[0] == "control_change" and set(at_change[1:]) == {"note_on"}


def test_click_counts_in_and_marks_two_and_four() -> None:
    arrangement = whole_chorus()
    performance = perform(arrangement)
    file = _read(performance, click=True)
    clicks = [(on // TICKS_PER_QUARTER, key) for on, _, key, _ in _notes(file.tracks[3])]
    assert [place for place, key in clicks if key == 37] == [0, 1, 2, 3]
    assert [place for place, key in clicks if key == 44] == list(range(5, 36, 2))
    assert _notes(file.tracks[1])[0][0] >= 4 * TICKS_PER_QUARTER
    loudest = max(velocity for *_, velocity in _notes(file.tracks[3]))
    melody = [n.velocity for n in performance.notes
              if arrangement.notes[n.index].role == "melody"]
    assert loudest < min(melody) - 20
    assert all(m.channel == 9 for m in file.tracks[3] if m.type.startswith("note"))


def test_click_leads_into_a_pickup() -> None:
    arrangement = arranged([note("G4", 0, 1), note("C5", 1, 4)], pickup=1)
    performance = perform(arrangement)
    assert count_in_quarter(performance) == 7
    file = _read(performance, click=True)
    clicks = [(on // TICKS_PER_QUARTER, key) for on, _, key, _ in _notes(file.tracks[3])]
    assert [place for place, key in clicks if key == 37] == list(range(7))
    assert [place for place, key in clicks if key == 44][:3] == [7, 9, 11]
    signatures = [(t, m.numerator, m.denominator)
                  for t, m in _metas(file.tracks[0], "time_signature")]
    assert signatures == [(0, 4, 4)]


@pytest.mark.parametrize(("meter", "places"), [
    (Meter(3, 4), [1]), (Meter(5, 4), [1, 3]), (Meter(6, 8), [Fraction(3, 2)]),
    (Meter(12, 8), [Fraction(3, 2), Fraction(9, 2)]), (Meter(2, 2), [1, 3]),
    (Meter(7, 8), [0]), (Meter(3, 8), [0])])
def test_click_in_other_meters(meter: Meter, places: list[Fraction]) -> None:
    performance = perform(arranged([note("C5", 0, "1/2")], bars=1, meter=meter, bpm=90))
    file = _read(performance, click=True)
    start = int(meter.length_quarter * TICKS_PER_QUARTER)
    found = [on - start for on, _, key, _ in _notes(file.tracks[3]) if key == 44]
    assert found == [int(place * TICKS_PER_QUARTER) for place in places]


def test_a_title_in_any_script_is_written() -> None:
    performance = perform(arranged([note("C5", 0, 1)], title="Späte Fähre – 夜"))
    file = mido.MidiFile(file=io.BytesIO(to_midi(performance)), charset="utf-8")
    assert file.tracks[0].name == "Späte Fähre – 夜"


def test_an_empty_performance_is_a_valid_file() -> None:
    assert len(_read(perform(arranged([])), click=True).tracks) == 4


@settings(max_examples=40, deadline=None)
@given(bpm=st.integers(30, 400), onset=st.fractions(0, 15, max_denominator=12),
       length=st.fractions("1/8", 4, max_denominator=8))
def test_every_note_survives(bpm: int, onset: Fraction, length: Fraction) -> None:
    arrangement = arranged([note("C5", onset, length), note("C3", 0, 16, "left", "base")],
                           bpm=bpm, bars=5)
    file = _read(perform(arrangement))
    assert [len(_notes(track)) for track in file.tracks] == [0, 1, 1]
    assert to_midi(perform(arrangement)) == to_midi(perform(arrangement))
