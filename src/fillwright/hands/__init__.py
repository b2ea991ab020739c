"""What one hand and two hands can do: reach, fingers, jumps, difficulty."""

from __future__ import annotations

from fillwright.hands.chords import (
    all_fingerings,
    finger_chord,
    finger_rolled,
    playable,
    split_chord,
)
from fillwright.hands.difficulty import highest_tempo
from fillwright.hands.model import HAND_SIZES, LEVELS, HandNote
from fillwright.hands.parts import PartNote, finger_part, plan_part
from fillwright.hands.reach import (
    FingerSpan,
    Spans,
    comfortable,
    hand_span,
    is_black,
    mirrored,
    rolled_span_ok,
    span_ok,
)
from fillwright.hands.repeats import finger_steadily

__all__ = ["HAND_SIZES", "LEVELS", "FingerSpan", "HandNote", "PartNote", "Spans", "all_fingerings",
           "comfortable", "finger_chord", "finger_part", "finger_rolled", "finger_steadily",
           "hand_span", "highest_tempo", "is_black", "mirrored", "plan_part", "playable",
           "rolled_span_ok", "span_ok", "split_chord"]
