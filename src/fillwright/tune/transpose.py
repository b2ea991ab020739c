"""Moving a tune to another key."""

from __future__ import annotations

from dataclasses import replace

from fillwright.theory.key import Key
from fillwright.theory.pitch import STEPS, Interval, Pitch
from fillwright.tune.model import Bar, Tune

__all__ = ["transpose_tune"]


def transpose_tune(tune: Tune, key: Key) -> Tune:
    """The tune with its first key's tonic moved to that of `key`, the nearer way (a tritone
    goes up).

    Only the tonic of `key` counts: the tune keeps its mode, so a tune in G minor asked for
    A, A major or A minor goes to A minor. Of two spellings the one with fewer accidentals
    is taken (a tune in C major asked for C# goes to Db); keys inside the tune move along.

    >>> from fillwright.tune.model import Meter
    >>> from fractions import Fraction
    >>> bar = Bar("1", Meter(4, 4), Key(-2, "minor"), Fraction(4))
    >>> str(transpose_tune(Tune("", (bar,), Fraction(120), "swing"), Key(3)).key)
    'A minor'
    """
    source = tune.key
    semitones = (key.tonic.pitch_class - source.tonic.pitch_class + 5) % 12 - 5
    target = _fewest(Key.of(key.tonic, source.mode))
    if (semitones, target) == (0, source):
        return tune
    delta = target.fifths - source.fifths
    moves: dict[Key, tuple[Key, Interval]] = {}
    bars = tuple(_bar(bar, moves, delta, semitones) for bar in tune.bars)
    return replace(tune, bars=bars)


def _fewest(key: Key) -> Key:
    """The enharmonic spelling with fewer accidentals; of six flats and six sharps the one
    asked for."""
    other = key.fifths - 12 if key.fifths > 0 else key.fifths + 12
    return Key(other, key.mode) if abs(other) < abs(key.fifths) else key


def _move(key: Key, delta: int, semitones: int) -> tuple[Key, Interval]:
    fifths = key.fifths + delta
    while fifths > 6:
        fifths -= 12
    while fifths < -6:
        fifths += 12
    moved = Key(fifths, key.mode)
    steps = STEPS.index(moved.tonic.step) - STEPS.index(key.tonic.step)
    # The number of letters that goes with that many semitones (7 letters to 12).
    steps += 7 * round((semitones * 7 / 12 - steps) / 7)
    return moved, Interval(steps, semitones)


def _bar(bar: Bar, moves: dict[Key, tuple[Key, Interval]], delta: int, semitones: int) -> Bar:
    if bar.key not in moves:
        moves[bar.key] = _move(bar.key, delta, semitones)
    key, interval = moves[bar.key]
    notes = tuple(replace(note, pitch=_in_range(note.pitch + interval)) for note in bar.notes)
    chords = tuple(replace(chord, symbol=chord.symbol.transposed(interval, key))
                   for chord in bar.chords)
    return replace(bar, key=key, notes=notes, chords=chords)


def _in_range(pitch: Pitch) -> Pitch:
    while pitch.midi > 127:
        pitch = Pitch(pitch.step, pitch.alter, pitch.octave - 1)
    while pitch.midi < 0:
        pitch = Pitch(pitch.step, pitch.alter, pitch.octave + 1)
    return pitch
