"""What a student played, against the tune: the ear.

Read in this order: `model` (key strokes in seconds), `smf` (the bytes of a Standard MIDI File)
and `read` (a take from it); `follow` (where in the tune each stroke may be, through slips and
jumps).
"""

from fillwright.take.model import PedalMove, Stroke, Take
from fillwright.take.read import read_take

__all__ = ["PedalMove", "Stroke", "Take", "read_take"]
