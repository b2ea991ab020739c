"""Reading a take: bytes written here by hand, and mido as the oracle of well-formed files."""

from __future__ import annotations

import io
from pathlib import Path

import mido  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import InputError, read_take
from fillwright.take import take_from_bytes

HOUR_TICKS = bytes((0x81, 0x80, 0x80, 0x00))        # 2,097,152 ticks


def chunk(name: bytes, data: bytes) -> bytes:
    return name + len(data).to_bytes(4, "big") + data


def smf(*tracks: bytes, kind: int = 1, division: int = 480) -> bytes:
    head = b"".join(value.to_bytes(2, "big") for value in (kind, len(tracks), division))
    return chunk(b"MThd", head) + b"".join(chunk(b"MTrk", track) for track in tracks)


END = b"\x00\xff\x2f\x00"
NOTE = b"\x00\x90\x3c\x40\x83\x60\x80\x3c\x00"      # C4 for 480 ticks
LATER = b"\x83\x60\x90\x3e\x50\x83\x60\x3e\x00"     # D4, running status, velocity 0 for up


def test_running_status_velocity_zero_and_the_first_note_as_zero() -> None:
    take = take_from_bytes(smf(b"\x83\x60\xff\x01\x00" + NOTE + LATER + END), "a.mid")
    assert [(s.event, s.midi, s.velocity, s.onset_sec, s.release_sec) for s in take.strokes] == [
        (0, 60, 64, 0.0, 0.5), (1, 62, 80, 1.0, 1.5)]
    assert take.warnings == ()


def test_hands_on_two_tracks_count_by_time_then_by_track() -> None:
    left = b"\x00\x90\x30\x40\x83\x60\x80\x30\x00" + END
    take = take_from_bytes(smf(END, left, NOTE + END), "a.mid")
    assert [(s.midi, s.track) for s in take.strokes] == [(48, 1), (60, 2)]


def test_tempos_of_any_track_and_a_change_within_a_note() -> None:
    tempo = b"\x81\x70\xff\x51\x03\x0f\x42\x40" + END       # at tick 240: one second a quarter
    take = take_from_bytes(smf(NOTE + END, tempo), "a.mid")
    assert take.strokes[0].release_sec == pytest.approx(0.25 + 0.5)


def test_frames_of_a_film() -> None:
    take = take_from_bytes(smf(NOTE + END, division=0xE728), "a.mid")      # 25 frames of 40
    assert take.strokes[0].release_sec == pytest.approx(0.480)


def test_pedal_from_0_to_127_and_what_sounds_on() -> None:
    pedal = b"\x00\xb0\x40\x28\x00\x40\x7f\x8f\x00\x40\x3f"
    take = take_from_bytes(smf(pedal + END, NOTE + LATER + END), "a.mid")
    assert [(move.onset_sec, move.value) for move in take.pedal] == [
        (0.0, 40), (0.0, 127), (2.0, 63)]
    first, second = take.strokes
    assert (first.release_sec, first.until_sec) == (0.5, 2.0)
    assert second.until_sec == 2.0
    assert take.pedal_at(1.9) == 127 and take.pedal_at(2.0) == 63 and take.pedal_at(-1) == 0


def test_a_key_struck_again_ends_what_the_pedal_held() -> None:
    again = NOTE + NOTE
    take = take_from_bytes(smf(b"\x00\xb0\x40\x7f" + END, again + END), "a.mid")
    assert take.strokes[0].until_sec == take.strokes[1].onset_sec == 0.5


def test_a_key_that_goes_down_twice_comes_up_first_in_first_out() -> None:
    twice = (b"\x00\x90\x3c\x40\x78\x90\x3c\x41\x78\x80\x3c\x00\x78\x80\x3c\x00" + END)
    take = take_from_bytes(smf(twice), "a.mid")
    assert [(s.velocity, round(s.onset_sec * 8), round(s.release_sec * 8))
            for s in take.strokes] == [(64, 0, 2), (65, 1, 3)]


def test_a_key_that_is_never_let_go() -> None:
    take = take_from_bytes(smf(b"\x00\x90\x3c\x40" + LATER + END), "a.mid")
    assert take.strokes[0].release_sec == 1.0
    assert "1 key is never let go" in take.warnings[0]


def test_the_percussion_of_a_click_is_left_out() -> None:
    click = b"\x00\x99\x25\x40\x60\x89\x25\x00" + END
    take = take_from_bytes(smf(click, NOTE + END), "a.mid")
    assert [s.midi for s in take.strokes] == [60]
    assert any("percussion" in warning for warning in take.warnings)


def test_a_broken_sign_is_skipped_by_its_length() -> None:
    broken = b"\x00\xff\x59\x02\xff\x05" + b"\x00\xff\x51\x03\x00\x00\x00"
    take = take_from_bytes(smf(broken + b"\x00\xf0\x02\x01\xf7" + NOTE + END), "a.mid")
    assert take.strokes[0].release_sec == 0.5


def test_a_file_cut_anywhere_keeps_what_came_before() -> None:
    whole = smf(NOTE * 6 + LATER + END)
    for end in range(len(whole)):
        try:
            take = take_from_bytes(whole[:end], "a.mid")
        except InputError as error:
            assert error.source == "a.mid" and "\n" not in error.message
        else:
            assert 1 <= len(take.strokes) <= 7


@pytest.mark.parametrize(("data", "words"), [
    (b"", "not a Standard MIDI File"),
    (b"<?xml version='1.0'?>" * 20, "not a Standard MIDI File"),
    (smf(END), "no note is played"),
    (smf(NOTE + END, division=0), "how long its ticks are"),
    (smf(NOTE + END, division=0xFF01), "frames that do not exist"),
    (smf(NOTE + END, NOTE + END, kind=2), "type 2"),
    (smf(), "no track"),
    (smf(NOTE + HOUR_TICKS * 2 + NOTE[1:] + END, division=24), "hours"),
])
def test_what_is_no_take_gets_one_sentence(data: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        take_from_bytes(data, "a.mid")
    assert str(caught.value).startswith("a.mid: ") and "\n" not in str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"^none\.mid: there is no such file"):
        read_take(tmp_path / "none.mid")
    with pytest.raises(InputError, match="it is a folder, not a file"):
        read_take(tmp_path)
    with pytest.raises(InputError, match="from the name of a file"):
        read_take(3)  # type: ignore[arg-type]


messages = st.lists(st.tuples(st.integers(0, 200), st.integers(40, 44), st.integers(0, 127)),
                    min_size=1, max_size=40)


@settings(max_examples=40, deadline=None)
@given(messages, st.integers(100_000, 2_000_000))
def test_times_are_those_of_mido(events: list[tuple[int, int, int]], tempo: int) -> None:
    """Outside: mido reads the same bytes and adds up the same times."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=tempo)])
    track += [mido.Message("note_on", note=key, velocity=velocity, time=ticks)
              for ticks, key, velocity in events]
    file = mido.MidiFile(ticks_per_beat=96)
    file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    now, onsets = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(stream.getvalue())):
        now += message.time
        if message.type == "note_on" and message.velocity:
            onsets.append((now, message.note, message.velocity))
    if not onsets:
        with pytest.raises(InputError, match="no note"):
            take_from_bytes(stream.getvalue(), "a.mid")
        return
    take = take_from_bytes(stream.getvalue(), "a.mid")
    assert [(s.midi, s.velocity) for s in take.strokes] == [one[1:] for one in onsets]
    for stroke, (onset, _, _) in zip(take.strokes, onsets, strict=True):
        assert stroke.onset_sec == pytest.approx(onset - onsets[0][0], abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=60))
def test_no_bytes_do_anything_but_read_or_say_why(data: bytes) -> None:
    for whole in (data, smf(data), smf(NOTE + data)):
        try:
            take_from_bytes(whole, "a.mid")
        except InputError as error:
            assert error.source == "a.mid"
