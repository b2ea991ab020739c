"""Harmony outside time: pitches, chord symbols, scales, keys.

Nothing here knows of beats, bars or hands.
"""

from __future__ import annotations

from fillwright.theory.chord import KIND_DEGREES, NO_CHORD, ChordSymbol, degree_pitch_class
from fillwright.theory.chordtext import ChordTextError, is_no_chord, parse_chord
from fillwright.theory.harmony import CHORD_SCALES, Harmony, analyse, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.local_key import home_key, local_keys
from fillwright.theory.pitch import (
    Interval,
    NoteName,
    Pitch,
    degree_interval,
    nearest_pitch,
    spell_plain,
    spelled,
)

__all__ = ["CHORD_SCALES", "KIND_DEGREES", "NO_CHORD", "ChordSymbol", "ChordTextError", "Harmony",
           "Interval", "Key", "NoteName", "Pitch", "analyse", "degree_interval",
           "degree_pitch_class", "harmony_of", "home_key", "is_no_chord", "local_keys",
           "nearest_pitch", "parse_chord", "spell_plain", "spelled"]
