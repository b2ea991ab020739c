"""Audio, measured: levels, silence, balance."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile  # type: ignore[import-untyped]
from numpy.typing import NDArray
from tests.score.written import arrangement as written_arrangement
from tests.score.written import chorus_of, hand
from tests.sound.played_scores import arranged, chord, fill_of, gap_at, note, whole_chorus

from fillwright import Arrangement, InputError, Performance, perform
from fillwright.sound import loudness_lufs, one_hand, render_sound, to_flac
from fillwright.sound.level import Level, peaks_of
from fillwright.sound.synth import FRAMES_A_SEC, played_pieces

pytestmark = pytest.mark.slow

Samples = NDArray[np.float32]


def _heard(arrangement: Arrangement) -> tuple[Samples, int]:
    data = render_sound(arrangement, ["flac"])["arrangement.flac"]
    samples, rate = soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)
    return samples, rate


def _level_db(samples: Samples, rate: int, start_sec: float, end_sec: float) -> float:
    part = samples[int(start_sec * rate):int(end_sec * rate)]
    return float(10 * np.log10(np.mean(part ** 2) + 1e-12))


def _strength(samples: Samples, rate: int, start_sec: float, end_sec: float, midi: int) -> float:
    """Level in dB of a key's fundamental, within a fifth of a semitone: pianos are stretched."""
    part = samples[int(start_sec * rate):int(end_sec * rate)].mean(axis=1)
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)))) / len(part)
    hertz = 440 * 2 ** ((midi - 69) / 12)
    low, high = (round(hertz * 2 ** (cents / 1200) * len(part) / rate) for cents in (-20, 20))
    return float(20 * np.log10(spectrum[low - 1:high + 2].max() + 1e-9))


@pytest.mark.parametrize("bpm", [66, 140, 240])
def test_levels(bpm: int) -> None:
    """-16 LUFS within one, true peak at most -1 dB, by general libraries: pyloudnorm, and scipy's
    resampling to four times the frames."""
    import pyloudnorm  # type: ignore[import-untyped]
    from scipy.signal import resample_poly

    samples, rate = _heard(whole_chorus(bpm))
    assert pyloudnorm.Meter(rate).integrated_loudness(samples) == pytest.approx(-16, abs=1)
    assert 20 * np.log10(np.abs(resample_poly(samples, 4, 1, axis=0)).max()) <= -1
    assert np.count_nonzero(np.abs(samples) > 0.999) == 0      # no clipping
    assert abs(samples.mean()) < 0.001


def test_the_file_is_stereo_flac_and_always_the_same() -> None:
    arrangement = whole_chorus()
    data = render_sound(arrangement, ["flac"])["arrangement.flac"]
    info = soundfile.info(io.BytesIO(data))
    assert (info.format, info.subtype, info.channels) == ("FLAC", "PCM_16", 2)
    assert data == to_flac(perform(arrangement))


def test_a_soft_piece_is_as_loud_as_a_full_one() -> None:
    samples, _ = _heard(arranged([note("C5", 0, 4)], bpm=60))
    assert loudness_lufs(samples) == pytest.approx(-16, abs=0.2) or (
        20 * np.log10(np.abs(samples).max()) > -2)


def test_rests_are_silent_and_the_end_dies_away() -> None:
    arrangement = arranged(chord("C3 G3", 0, 1) + chord("C3 G3", 8, 1), bpm=120, bars=4,
                           chords=[(0, 16, "C")])
    samples, rate = _heard(arrangement)
    playing = _level_db(samples, rate, 0.0, 0.4)
    assert _level_db(samples, rate, 2.0, 3.9) < playing - 55
    assert _level_db(samples, rate, 4.0, 4.4) > playing - 3
    assert np.abs(samples[-100:]).max() < 1e-3
    quiet = np.abs(samples[int(4.6 * rate):]).max(axis=1)
    assert quiet[0] > 1e-4      # not cut off at the key's release


def test_nothing_played_is_silence() -> None:
    samples, _ = _heard(arranged([]))
    assert np.abs(samples).max() == 0


def _held(kept: str, until: int) -> Arrangement:
    held = note("G5", 0, 1)     # the key comes up after half a second
    gap = gap_at(1, note("G5", 0, 8), 8)
    hits = chord("C3 B3", 4, 1, "left", "fill", 1)
    fill = fill_of(gap, hits, "comp", kept, until)
    return arranged([held, *hits, note("C5", 8, 2)], bpm=120, bars=3,
                    chords=[(0, 12, "Cmaj7")], gaps=(gap,), fills=(fill,))


def test_a_held_note_is_heard_until_its_end_and_not_after() -> None:
    pedalled, rate = _heard(_held("pedal", 4))
    released, _ = _heard(_held("released", 1))
    kept, let_go = (_strength(samples, rate, 1.4, 1.9, 79) for samples in (pedalled, released))
    assert kept > let_go + 30
    assert _strength(pedalled, rate, 3.0, 3.5, 79) < kept - 20


def test_the_melody_is_heard_well_above_an_accompanying_voice() -> None:
    # Levels before normalising: the same key as melody and as accompaniment.
    loud, soft = (next(played_pieces(perform(arranged([note("G5", 0, 4, "right", role)])), None))
                  .astype(np.float32) for role in ("melody", "base"))
    apart = _level_db(loud, FRAMES_A_SEC, 0, 0.5) - _level_db(soft, FRAMES_A_SEC, 0, 0.5)
    assert 6 <= apart <= 12


def test_dying_notes_are_lifted_and_attacks_are_not() -> None:
    rate = 48_000
    tone = np.sin(np.arange(4 * rate) * 0.05) * np.exp(-4.6 * np.arange(4 * rate) / rate)
    samples = np.stack([tone, tone], axis=1).astype(np.float32)
    lifted = _levelled(samples)
    assert loudness_lufs(lifted) == pytest.approx(-16, abs=0.3)
    gains = [_level_db(lifted, rate, at, at + 0.1) - _level_db(samples, rate, at, at + 0.1)
             for at in (0.0, 0.3, 0.6, 1.2)]
    full = 20 * np.log10(np.abs(lifted).max())
    gains = [gain - full for gain in gains]         # its own peak was full scale
    assert gains[0] < 4 and gains == sorted(gains) and gains[-1] == pytest.approx(9, abs=0.3)
    assert np.abs(_levelled(np.zeros((rate, 2), np.float32))).max() == 0


def _levelled(samples: Samples) -> Samples:
    level = Level(peaks_of((samples * 32767).astype(np.int16)), len(samples))
    level.hear(samples.copy(), 0)
    return level.levelled(samples.copy(), 0, len(samples))


def test_played_in_pieces_it_is_what_it_is_as_a_whole() -> None:
    """The pieces of a second begin in the middle of held chords, of pedals and of the last
    chord's end."""
    performance = perform(whole_chorus(66))
    whole, = played_pieces(performance, None, True, 1000)
    pieces = list(played_pieces(performance, None, True, 1))
    assert len(pieces) > 10 and {len(piece) for piece in pieces[:-1]} == {FRAMES_A_SEC}
    apart = np.abs(np.concatenate(pieces).astype(int) - whole)
    assert apart.max() <= 1 and np.count_nonzero(apart) < 1e-4 * apart.size  # of 32768
    long, short = (soundfile.read(io.BytesIO(to_flac(performance, click=True, piece_sec=sec)),
                                  dtype="float32")[0] for sec in (1000, 1))
    assert long.shape == short.shape and np.abs(long - short).max() < 1e-3
    assert np.count_nonzero(long != short) < 1e-3 * long.size


def test_an_attack_is_heard_where_swing_puts_it() -> None:
    place = Fraction(5, 2)
    arrangement = arranged(chord("C4 E4 G4", place, "1/2", "right"), bpm=120)
    samples, rate = _heard(arrangement)
    first = int(np.argmax(np.abs(samples).max(axis=1) > 0.05)) / rate
    assert first == pytest.approx(perform(arrangement).notes[0].onset_sec, abs=0.02)


def test_click_is_quiet() -> None:
    arrangement = whole_chorus()
    plain, rate = _heard(arrangement)
    data = to_flac(perform(arrangement), click=True)
    clicked, _ = soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)
    bar_sec = 4 * 60 / 140
    assert (len(clicked) - len(plain)) / rate == pytest.approx(bar_sec, abs=0.05)
    count_in = _level_db(clicked, rate, 0, bar_sec)
    assert -70 < count_in < _level_db(clicked, rate, bar_sec, 4 * bar_sec) - 6


def test_only_what_was_asked_for_is_made() -> None:
    arrangement = arranged([note("C5", 0, 1)])
    assert list(render_sound(arrangement, ["json", "pdf"])) == []
    assert list(render_sound(arrangement, ["mid", "pdf"])) == ["arrangement.mid"]
    assert sorted(render_sound(arrangement)) == ["arrangement.flac", "arrangement.mid"]


def test_a_soundfont_that_is_none_is_one_clear_sentence(tmp_path: Path) -> None:
    path = tmp_path / "piano.sf2"
    with pytest.raises(InputError, match=r"^piano\.sf2: the SoundFont cannot be read"):
        render_sound(arranged([note("C5", 0, 1)]), ["flac"], soundfont=path)
    path.write_bytes(b"not a soundfont")
    with pytest.raises(InputError, match=r"^piano\.sf2: not a usable SoundFont"):
        render_sound(arranged([note("C5", 0, 1)]), ["flac"], soundfont=path)


def test_each_hand_and_the_beat_alone() -> None:
    """The right hand plays in the first seconds alone, the left hand strikes at 20 quarters."""
    arrangement = arranged([note("C6", 0, 4), *chord("C3 G3", 8, 4)], bpm=120, bars=4)
    files = render_sound(arrangement, ["left", "right", "clicks"])
    assert list(files) == ["arrangement-left.flac", "arrangement-right.flac",
                           "arrangement-clicks.flac"]
    left, right, clicks = (soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)[0]
                           for data in files.values())
    rate = FRAMES_A_SEC
    assert _level_db(left, rate, 0.1, 1.9) < -70 < -40 < _level_db(left, rate, 4.1, 5.9)
    assert _level_db(right, rate, 0.1, 1.9) > -40 and len(right) < 5 * rate
    beats = [_level_db(clicks, rate, at, at + 0.05) for at in (0.0, 0.5, 1.0, 1.5)]
    between = [_level_db(clicks, rate, at + 0.3, at + 0.45) for at in (0.0, 0.5, 1.0, 1.5)]
    assert min(beats) > max(between) + 12


def test_what_is_sent_is_what_flac_is_smaller() -> None:
    from scipy.signal import resample_poly

    files = render_sound(whole_chorus(), ["flac", "mp3", "opus"])
    heard = {name: soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)
             for name, data in files.items()}
    flac, rate = heard["arrangement.flac"]
    for name in ("arrangement.mp3", "arrangement.opus"):
        samples, own_rate = heard[name]
        assert own_rate == rate and abs(len(samples) - len(flac)) < 0.1 * rate
        assert len(files[name]) < len(files["arrangement.flac"]) / 2
        assert loudness_lufs(samples) == pytest.approx(loudness_lufs(flac), abs=0.2)
        assert np.abs(resample_poly(samples, 4, 1, axis=0)).max() <= 10 ** (-1 / 20)


@pytest.mark.parametrize("name", ["mp3", "opus"])
def test_what_is_sent_is_always_the_same(name: str) -> None:
    arrangement = arranged([note("C5", 0, 1)])
    first, again = (render_sound(arrangement, [name]) for _ in range(2))
    assert first == again and list(first) == [f"arrangement.{name}"]


def test_what_is_asked_for_together_is_played_once(monkeypatch: pytest.MonkeyPatch) -> None:
    played: list[Performance] = []

    def once(performance: Performance, *how: Any) -> Iterator[NDArray[np.int16]]:
        played.append(performance)
        return played_pieces(performance, *how)

    monkeypatch.setattr("fillwright.sound.audio.played_pieces", once)
    arrangement = arranged([note("C5", 0, 1)])
    files = render_sound(arrangement, ["mp3", "flac"])
    assert len(played) == 1
    assert files["arrangement.flac"] == to_flac(perform(arrangement))


def _found_onsets(samples: Samples, rate: int) -> NDArray[np.float64]:
    """By spectral flux, as general onset detectors have it (Bello et al., IEEE TSAP 13, 2005):
    where more energy comes into the spectrum than a moment ago, at most every 60 ms."""
    hop, size = rate // 500, 1024
    mono = np.pad(samples.mean(axis=1), (size // 2, size))
    frames = np.lib.stride_tricks.sliding_window_view(mono, size)[::hop] * np.hanning(size)
    spectrum = np.log1p(1000 * np.abs(np.fft.rfft(frames, axis=1)))
    flux = np.maximum(spectrum[4:] - spectrum[:-4], 0).sum(axis=1)
    peaks = [at for at in range(30, len(flux) - 30) if flux[at] == flux[at - 30:at + 31].max()
             and flux[at] > 0.25 * np.percentile(flux, 99)]
    return (np.array(peaks) + 2) * hop / rate


def test_onsets_are_heard_where_they_are_played() -> None:
    """Median distance of what an onset detector finds to the strokes of the performance: at most
    10 ms (a stroke is heard up to some 30 ms later or 10 earlier in the spectrum)."""
    arrangement = whole_chorus(120)
    samples, rate = _heard(arrangement)
    struck = np.array(sorted({played.onset_sec for played in perform(arrangement).notes}))
    found = _found_onsets(samples, rate)
    assert len(found) > 20
    apart = [found[np.abs(found - place).argmin()] - place for place in struck
             if np.abs(found - place).min() < 0.05]
    assert len(apart) > 0.7 * len(struck)
    assert np.median(np.abs(apart)) <= 0.010


def test_the_melody_is_above_what_sounds_with_it() -> None:
    """Each hand's part of the same recording, before it is levelled: where both are struck, the
    melody is 3 dB and more above, most of the time."""
    performance = perform(whole_chorus(120))
    roles = {index: played.role for index, played in enumerate(whole_chorus(120).notes)}
    parts = []
    for wanted in (True, False):
        kept = replace(performance, pedals=(), notes=tuple(
            n for n in performance.notes if (roles[n.index] == "melody") == wanted))
        parts.append(np.concatenate(list(played_pieces(kept, None))).astype(np.float32))
    apart = []
    for n in performance.notes:
        if roles[n.index] == "melody":
            levels = [_level_db(part, FRAMES_A_SEC, n.onset_sec, n.onset_sec + 0.2)
                      for part in parts]
            if levels[1] > 10:      # 16-bit steps: something is struck there
                apart.append(levels[0] - levels[1])
    assert len(apart) > 8
    assert np.median(apart) >= 3


def _pairs(bpm: int, hand: str) -> float:
    """The ratio of long to short of eighths in the sound of a recording: of a line in the right
    hand, or of chords in the left. Of what is found the nearest to a stroke is its onset, within
    40 ms: a short chord is heard to end, too."""
    steps = ["C5", "D5", "E5", "F5", "G5", "F5", "E5", "D5"] * 3
    places = [4 + Fraction(place, 2) for place in range(len(steps))]
    notes = [n for place, step in zip(places, steps, strict=True) for n in (
        [note(step, place, "1/2")] if hand == "right" else
        chord("E4 B4" if place.denominator == 1 else "D4 A4", place, "1/2"))]
    arrangement = arranged(notes, bpm=bpm)
    struck = sorted({played.onset_sec for played in perform(arrangement).notes})
    found = _found_onsets(*_heard(arrangement))
    heard = np.array([found[np.abs(found - place).argmin()] for place in struck])
    assert len(heard) == len(steps) and np.abs(heard - struck).max() < 0.04
    lengths = np.diff(heard)
    return float(np.median(lengths[0::2]) / np.median(lengths[1::2]))


@pytest.mark.parametrize(("bpm", "median"), [(110, 1.37), (200, 1.3)])
def test_a_line_swings_in_the_sound_as_recorded_ones_do(bpm: int, median: float) -> None:
    """Medians of 20,878 pairs of the Weimar Jazz Database (Pfleiderer et al., Inside the
    Jazzomat, 2017), from note to note."""
    assert _pairs(bpm, "right") == pytest.approx(median, abs=0.12)


@pytest.mark.parametrize("bpm", [120, 160])
def test_steady_hands_swing_in_the_sound_between_soloist_and_drummer(bpm: int) -> None:
    """The linear fits of Friberg & Sundström, Music Perception 19(3), 2002, as constants of
    their rules: r = 2.0483 - 0.0031 bpm for soloists, 4.9396 - 0.0124 bpm for drums."""
    assert 2.0483 - 0.0031 * bpm - 0.1 <= _pairs(bpm, "left") <= 4.9396 - 0.0124 * bpm


def test_a_crescendo_is_heard() -> None:
    """The same chord on every beat, through the bar that leads from one printed level to the next:
    each beat louder than the last, two levels apart by more than 2 dB and less than 6."""
    chorus = chorus_of("Grows", [("4/4", 20)], "C", "C6:80", "C:80", sections={0: "A", 16: "B"})
    struck = written_arrangement(chorus, hand("C4+E4+G4:1>1/2 " * 80, "left"))
    samples = np.concatenate(list(played_pieces(
        one_hand(perform(struck), "left"), None))).astype(np.float32)
    beat = 60 / 140
    levels = [_level_db(samples, FRAMES_A_SEC, place * beat, place * beat + 0.2)
              for place in range(58, 68)]
    before, swell, after = levels[:2], levels[2:6], levels[7:]
    assert 2 < np.mean(after) - np.mean(before) < 6
    assert swell == sorted(swell) and swell[-1] > swell[0] + 1


def test_no_click_where_a_loop_begins_again() -> None:
    """A recording begins and ends in silence, so that its end put before its beginning has no
    jump: no step from sample to sample is as large as those of its own attacks."""
    samples, rate = _heard(whole_chorus())
    seam = np.concatenate([samples[-rate // 100:], samples[:8]])
    assert np.abs(np.diff(seam, axis=0)).max() < 1e-3
