"""Recordings that hold a known take, and an ear for them: for tests of all that lies around an ear.

What is written into the samples says of each key when it goes down and for how long, and twice a
second that it is still down; so an ear that is given a piece knows what a real one could know of
it, and no more. It can be made to overhear keys and to hear some that are not there.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile  # type: ignore[import-untyped]
from numpy.typing import NDArray

from fillwright.take import Take
from fillwright.take.recording import HeardKey, Recording

__all__ = ["RATE", "CodedEar", "ToneEar", "coded", "open_coded_ear", "open_poor_ear",
           "open_tone_ear_44100", "open_tone_ear_48000", "recording_of", "write_coded"]

RATE = 8000
_DOWN, _STILL = 0.9, 0.8
_SLOT = 4               # samples a sign takes: what it is, key, velocity, how long it stays down
_PEDAL = 127
_AGAIN_SEC = 0.5
_MOST_SEC = 100.0


def coded(take: Take, rate: int = RATE, silence_sec: float = 0.5) -> NDArray[np.float32]:
    """The samples of a take, after some silence."""
    keys = [(s.onset_sec, s.release_sec, s.midi, s.velocity) for s in take.strokes]
    downs = [move for move in take.pedal if move.value >= 64]
    ups = [move for move in take.pedal if move.value < 64]
    keys += [(down.onset_sec, up.onset_sec, _PEDAL, 100)
             for down, up in zip(downs, ups, strict=True)]
    samples = np.zeros(int((take.length_sec + silence_sec + 1) * rate), np.float32)
    signs = []
    for down, up, midi, velocity in keys:
        signs.append((down, _DOWN, midi, velocity, up - down))
        at = down + _AGAIN_SEC
        while at < up:
            signs.append((at, _STILL, midi, velocity, up - at))
            at += _AGAIN_SEC
    free = 0
    for sec, kind, midi, velocity, length in sorted(signs):
        place = max(round((sec + silence_sec) * rate), free)
        samples[place:place + _SLOT] = kind, midi / 200, velocity / 200, length / _MOST_SEC
        free = place + _SLOT
    return samples


def write_coded(path: Path, take: Take, rate: int = RATE) -> Path:
    """As a WAV file of floating numbers."""
    soundfile.write(path, coded(take, rate), rate, subtype="FLOAT")
    return path


@dataclass
class CodedEar:
    """`missed` and `added` are shares of the keys of a piece."""

    window_sec: float = 7.0
    missed: float = 0.0
    added: float = 0.0
    rate: int = RATE

    def hear(self, samples: NDArray[np.float32]) -> Sequence[HeardKey]:
        random_ = random.Random(len(samples))
        length_sec = len(samples) / self.rate
        found: list[HeardKey] = []
        down: set[int] = set()
        signs = np.minimum(abs(samples - _DOWN), abs(samples - _STILL)) < 1e-3
        free = 0
        for place in np.flatnonzero(signs[:len(samples) - _SLOT + 1]).tolist():
            if place < free:
                continue
            free = place + _SLOT
            kind, key, velocity, length = (float(one) for one in samples[place:free])
            sec, midi = place / self.rate, round(key * 200)
            begins = abs(kind - _DOWN) < 1e-3
            if begins or midi not in down:
                until = sec + length * _MOST_SEC
                one = HeardKey(sec if begins else 0.0, min(until, length_sec),
                               None if midi == _PEDAL else midi, round(velocity * 200),
                               begins, until < length_sec)
                if random_.random() >= self.missed:
                    found.append(one)
                if one.midi is not None and random_.random() < self.added:
                    found.append(HeardKey(min(sec + 0.1, length_sec), min(sec + 0.2, length_sec),
                                          min(one.midi + 12, 108), 30))
            down.add(midi)
        return found


@dataclass
class ToneEar(CodedEar):
    """It hears single tones as well, in sound without signs: one after the other, with silence
    between them."""

    def hear(self, samples: NDArray[np.float32]) -> Sequence[HeardKey]:
        found = super().hear(samples)
        if found:
            return found
        size = self.rate // 50
        loud = abs(samples[:len(samples) // size * size]).reshape(-1, size).max(axis=1) > 0.05
        edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(int)))
        tones = []
        for start, end in (edges.reshape(-1, 2) * size).tolist():
            spectrum = abs(np.fft.rfft(samples[start:end], 1 << 16))
            hertz = int(spectrum.argmax()) * self.rate / (1 << 16)
            if end - start > 3 * size and hertz > 30:
                tones.append(HeardKey(start / self.rate, end / self.rate,
                                      round(69 + 12 * np.log2(hertz / 440)), 80))
        return tones


def open_tone_ear_44100() -> ToneEar:
    return ToneEar(rate=44_100)


def open_tone_ear_48000() -> ToneEar:
    return ToneEar(rate=48_000)


def open_coded_ear() -> CodedEar:
    return CodedEar()


def open_poor_ear() -> CodedEar:
    """One that overhears a key in twenty-five and hears as many that are not there."""
    return CodedEar(missed=0.04, added=0.04)


def recording_of(take: Take) -> Recording:
    return Recording("coded.wav", coded(take), RATE)
