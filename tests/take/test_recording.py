"""Recordings: what lies around an ear, by an ear of the test's own; and the real one, where it is
installed (`fillwright[listen]`)."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import mido  # type: ignore[import-untyped]
import numpy as np
import pytest
import soundfile  # type: ignore[import-untyped]
from numpy.typing import NDArray
from tests.demo_arrangements import arranged
from tests.take.coded import (
    RATE,
    CodedEar,
    open_coded_ear,
    open_poor_ear,
    recording_of,
    write_coded,
)
from tests.take.perturb import Wish, played

from fillwright import InputError, check_take, demo, perform
from fillwright.cli import main
from fillwright.sound import to_flac
from fillwright.take import PedalMove, Stroke, Take, take_from_bytes
from fillwright.take.recording import (
    HeardKey,
    Recording,
    hear_recording,
    is_recording,
    joined,
    open_piano_ear,
    piano_ear_is_installed,
    prepared,
    read_recording,
    recording_from_bytes,
    take_bytes,
    tuning_cents,
    windows_of,
)

TONE = (0.1 * np.sin(np.arange(RATE) * 2 * np.pi * 440 / RATE)).astype(np.float32)


def known() -> Take:
    """A student's take with a pedal under it."""
    take = played(arranged("umbrella"), Wish(seed=3, jitter_sec=0.01)).take
    pedal = tuple(PedalMove(sec, value) for bar in range(8)
                  for sec, value in ((2.0 * bar + 0.2, 127), (2.0 * bar + 1.9, 0)))
    return Take(take.name, take.strokes, pedal)


def sounding(name: str, samples: NDArray[np.float32]) -> bytes:
    buffer = io.BytesIO()
    soundfile.write(buffer, samples, RATE, format=name)
    return buffer.getvalue()


# --- pieces ---------------------------------------------------------------------------------------

def test_pieces_cover_a_recording_and_each_moment_is_one_s_own() -> None:
    for length in (0.5, 7.0, 7.1, 31.0):
        windows = windows_of(length, 7.0)
        assert windows[0].own_from_sec == 0 and windows[-1].own_to_sec == length
        for one, after in pairwise(windows):
            assert one.own_to_sec == after.own_from_sec
        assert all(one.to_sec - one.from_sec <= 7.0 and one.from_sec <= one.own_from_sec
                   and one.own_to_sec <= one.to_sec for one in windows)


def test_a_stroke_on_a_seam_is_one_stroke_whichever_piece_it_falls_to() -> None:
    windows = windows_of(12.0, 8.0)             # the seam lies at 6 s, the second begins at 4
    for first, second in ((5.99, 6.01), (6.01, 5.99), (5.99, 5.99), (6.01, 6.01)):
        heard = joined(windows, [[HeardKey(first, 6.5, 60, 80)],
                                 [HeardKey(second - 4, 2.5, 60, 80)]])
        assert [(one.midi, one.release_sec) for one in heard] == [(60, 6.5)]
        assert heard[0].onset_sec == pytest.approx(6.0, abs=0.011)


def test_a_key_held_into_the_next_pieces_is_as_long_as_they_say() -> None:
    windows = windows_of(20.0, 8.0)             # 0-8, 4-12, 8-16, 12-20
    heard = joined(windows, [
        [HeardKey(3.0, 8.0, 48, 70, ends=False), HeardKey(1.0, 1.5, 48, 70)],
        [HeardKey(0.0, 8.0, 48, 70, begins=False, ends=False)],
        [HeardKey(0.0, 5.5, 48, 70, begins=False), HeardKey(5.5, 6.0, 48, 70)],
        [HeardKey(0.0, 1.5, 48, 70, begins=False), HeardKey(1.5, 2.0, 48, 70)]])
    assert [(one.onset_sec, one.release_sec) for one in heard] == [
        (1.0, 1.5), (3.0, 13.5), (13.5, 14.0)]


def test_a_key_comes_up_before_it_goes_down_again() -> None:
    heard = joined(windows_of(6.0, 8.0), [[HeardKey(1.0, 3.0, 60, 80), HeardKey(2.0, 4.0, 60, 70),
                                           HeardKey(1.5, 3.5, None, 100)]])
    assert [(one.midi, one.onset_sec, one.release_sec) for one in heard] == [
        (60, 1.0, 2.0), (None, 1.5, 3.5), (60, 2.0, 4.0)]


def same(heard: Take, take: Take) -> None:
    assert [(s.midi, s.velocity) for s in sorted(heard.strokes, key=order)] == [
        (s.midi, s.velocity) for s in sorted(take.strokes, key=order)]
    for mine, true in zip(sorted(heard.strokes, key=order), sorted(take.strokes, key=order),
                          strict=True):
        assert mine.onset_sec == pytest.approx(true.onset_sec, abs=0.004)
        # Two pieces may each hear only a part of what lasts; a key struck again ends it.
        assert mine.release_sec <= true.release_sec + 0.004
    assert [move.value for move in heard.pedal] == [move.value for move in take.pedal]


def order(stroke: Stroke) -> tuple[int, float]:
    return stroke.midi, stroke.onset_sec


@pytest.mark.slow
def test_a_take_comes_back_from_its_recording_piece_by_piece() -> None:
    take, said = known(), []
    heard = hear_recording(recording_of(take), open_coded_ear,
                           progress=lambda done, total: said.append((done, total)))
    same(heard, take)
    assert len(said) > 4 and said == [(done, len(said) - 1) for done in range(len(said))]
    assert any("estimates" in warning for warning in heard.warnings)
    lengths = [(mine.release_sec - mine.onset_sec, true.release_sec - true.onset_sec)
               for mine, true in zip(sorted(heard.strokes, key=order),
                                     sorted(take.strokes, key=order), strict=True)]
    assert np.mean([abs(one - other) < 0.01 for one, other in lengths]) > 0.95


@pytest.mark.slow
def test_two_processes_hear_the_same_as_one_and_stop_when_told() -> None:
    recording = recording_of(known())
    one = hear_recording(recording, open_coded_ear)
    assert hear_recording(recording, open_coded_ear, processes=2) == one

    class Stop(Exception):
        pass

    def stop(done: int, total: int) -> None:
        if done == 1:
            raise Stop

    with pytest.raises(Stop):
        hear_recording(recording, open_coded_ear, processes=2, progress=stop)


# --- the whole way --------------------------------------------------------------------------------

@pytest.mark.slow
def test_a_recording_is_heard_against_the_tune_as_its_take_is(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
        ) -> None:
    take = known()
    ear = "fillwright.take.recording.piano_ear"
    monkeypatch.setattr(f"{ear}.open_piano_ear", open_coded_ear)
    monkeypatch.setattr(f"{ear}.processes_for", lambda length_sec: 1)
    tune = str(demo.demo_path("umbrella"))
    write_coded(tmp_path / "mine.wav", take)
    (tmp_path / "mine.mid").write_bytes(take_bytes(take))
    documents, errors = [], []
    for name in ("mine.wav", "mine.mid"):
        with pytest.raises(SystemExit) as done:
            main(["take", tune, str(tmp_path / name), "--json"])
        assert done.value.code == 0
        said = capsys.readouterr()
        documents.append(json.loads(said.out))
        errors.append(said.err)
    heard, true = documents
    assert heard["form"][0]["to_quarter"] == true["form"][0]["to_quarter"]
    assert [note["status"] for note in heard["melody"]] == [
        note["status"] for note in true["melody"]]
    assert [gap["answer"] for gap in heard["gaps"]] == [gap["answer"] for gap in true["gaps"]]
    assert "heard from a recording" in errors[0] and not errors[1]


def test_a_poor_ear_costs_the_melody_little() -> None:
    arrangement = arranged("umbrella")
    known = played(arrangement, Wish(seed=5))
    report = check_take(hear_recording(recording_of(known.take), open_poor_ear),
                        arrangement.chorus)
    kept = [note for note in report.melody if note.status == "played"]
    assert len(kept) >= 0.9 * len(arrangement.chorus.melody)
    for note in kept:
        event = known.melody[note.run, note.note]
        assert note.played_sec == pytest.approx(known.take.strokes[event].onset_sec, abs=0.2)


@pytest.mark.slow
def test_without_the_extra_one_sentence_says_what_to_install(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
        ) -> None:
    monkeypatch.setattr("fillwright.take.recording.piano_ear.piano_ear_is_installed",
                        lambda: False)
    path = write_coded(tmp_path / "mine.wav", known())
    with pytest.raises(SystemExit) as done:
        main(["take", str(demo.demo_path("umbrella")), str(path)])
    said = capsys.readouterr()
    assert done.value.code == 2 and said.out == "" and said.err.count("\n") == 1
    assert said.err.startswith("mine.wav: ")
    assert "fillwright[listen]" in said.err and "GB" in said.err


def test_silence_and_noise_are_no_take() -> None:
    quiet = Recording("quiet.wav", np.full(8000, 1e-6, np.float32), RATE)
    with pytest.raises(InputError, match="no piano is heard in it") as said:
        hear_recording(quiet, lambda: CodedEar())
    assert said.value.source == "quiet.wav"


# --- files ----------------------------------------------------------------------------------------

def test_every_common_file_is_opened_and_channels_become_one() -> None:
    both = np.stack([TONE, np.zeros_like(TONE)], axis=1)
    for name in ("WAV", "FLAC", "OGG", "MP3", "AIFF"):
        recording = recording_from_bytes(sounding(name, both), f"a.{name.lower()}")
        assert recording.rate == RATE and recording.length_sec == pytest.approx(1.0, abs=0.1)
        assert float(abs(recording.samples).max()) == pytest.approx(0.05, abs=0.01)
    assert is_recording("A.WAV") and is_recording("memo.m4a") and not is_recording("take.mid")


def test_what_cannot_be_opened_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for data, words in ((b"no sound at all", "no sound that can be opened|needs PyAV"),
                        (sounding("WAV", np.zeros(RATE, np.float32)), "nothing sounds in it")):
        with pytest.raises(InputError, match=words) as said:
            recording_from_bytes(data, "a.m4a")
        assert said.value.source == "a.m4a"
    monkeypatch.setitem(sys.modules, "av", None)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(InputError, match=r"needs PyAV .* or the program ffmpeg"):
        recording_from_bytes(b"\0\0\0\x18ftypM4A ", "memo.m4a")
    monkeypatch.setattr("fillwright.take.recording.sound.MAX_RECORDING_SEC", 0.5)
    with pytest.raises(InputError, match="it lasts"):
        recording_from_bytes(sounding("WAV", TONE), "long.wav")
    with pytest.raises(InputError, match="no such file"):
        read_recording(tmp_path / "none.wav")
    with pytest.raises(InputError, match="name of a file"):
        read_recording(3)  # type: ignore[arg-type]


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not there")
def test_ffmpeg_opens_what_nothing_else_does(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    path = tmp_path / "memo.m4a"
    (tmp_path / "tone.wav").write_bytes(sounding("WAV", TONE))
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(tmp_path / "tone.wav"), str(path)],
                   check=True)
    assert read_recording(path).length_sec == pytest.approx(1.0, abs=0.2)


def test_pyav_opens_a_telephone_s_recording(tmp_path: Path) -> None:
    av = pytest.importorskip("av")
    path = tmp_path / "memo.m4a"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=44_100)
        stream.layout = "mono"
        tone = np.sin(np.arange(44_100) * 2 * np.pi * 440 / 44_100).astype(np.float32)[None]
        frame = av.AudioFrame.from_ndarray(tone, "fltp", "mono")
        frame.sample_rate = 44_100
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    recording = read_recording(path)
    assert recording.rate == 44_100
    assert recording.length_sec == pytest.approx(1.0, abs=0.1)
    assert tuning_cents(recording.samples, recording.rate) == pytest.approx(0, abs=2)


def test_a_take_is_kept_as_a_file_that_others_read_too() -> None:
    take = known()
    data = take_bytes(take)
    back = take_from_bytes(data, take.name)
    same(back, take)
    assert [move.value for move in back.pedal] == [move.value for move in take.pedal]
    file = mido.MidiFile(file=io.BytesIO(data))          # mido reads it as well
    assert sum(one.type == "note_on" for one in file.tracks[0]) == len(take.strokes)
    assert file.length == pytest.approx(take.length_sec, abs=0.01)


# --- tuning ---------------------------------------------------------------------------------------

def piano_like(cents: float, seconds: float = 6.0, rate: int = 22_050) -> NDArray[np.float32]:
    """Chords of tones with six partials that die away, off concert pitch."""
    time = np.arange(int(seconds * rate)) / rate
    sound = np.zeros_like(time)
    for number, keys in enumerate(((48, 64, 70, 74), (53, 63, 69, 72), (46, 62, 65, 69))):
        at = time - 2.0 * number
        for key in keys:
            tone = 440 * 2 ** ((key - 69) / 12 + cents / 1200)
            for partial in range(1, 7):
                stiff = partial * np.sqrt(1 + 0.0004 * partial ** 2)
                sound += np.where(at >= 0, np.exp(-np.maximum(at, 0) * partial)
                                  * np.sin(2 * np.pi * tone * stiff * at) / partial, 0)
    return (0.1 * sound).astype(np.float32)


@pytest.mark.slow
def test_the_tuning_is_measured_and_noise_has_none() -> None:
    for cents in (-45, -30, 0, 10):
        assert tuning_cents(piano_like(cents), 22_050) == pytest.approx(cents, abs=4)
    noise = np.random.default_rng(1).normal(0, 0.1, 66_150).astype(np.float32)
    assert tuning_cents(noise, 22_050) == 0.0
    assert tuning_cents(noise[:100], 22_050) == 0.0


def test_a_recording_brought_to_pitch_keeps_its_seconds() -> None:
    pytest.importorskip("soxr")
    flat = Recording("flat.wav", piano_like(-30), 22_050)
    right = prepared(flat, 44_100)
    assert right.cents == pytest.approx(-30, abs=4) and right.rate == 44_100
    assert tuning_cents(right.samples, 44_100) == pytest.approx(0, abs=2)
    assert right.length_sec == pytest.approx(flat.length_sec, abs=0.001)


# --- the ear that comes with the extra ------------------------------------------------------------

@pytest.mark.slow
@pytest.mark.skipif(not piano_ear_is_installed(), reason="the extra `listen` is not installed")
def test_the_piano_ear_hears_the_program_s_own_sound() -> None:
    performance = perform(arranged("umbrella"))
    take = hear_recording(recording_from_bytes(to_flac(performance), "umbrella.flac"),
                          open_piano_ear)
    zero = min(note.onset_sec for note in performance.notes)
    free = {stroke.event: stroke for stroke in take.strokes}
    for note in performance.notes:
        for event, stroke in free.items():
            if (stroke.midi == note.midi
                    and abs(stroke.onset_sec - (note.onset_sec - zero)) < 0.05):
                del free[event]
                break
    found = len(take.strokes) - len(free)
    assert 2 * found / (len(take.strokes) + len(performance.notes)) > 0.97
