"""A recording of a student, heard as key strokes: sound in, a `Take` out.

Read in this order: `model` (a recording, what an ear gives back), `sound` (the sound of a file),
`tuning` (how far the piano is from concert pitch), `windows` (how a recording is cut, and how what
was heard in the pieces is joined), `hear` (all of that, in one process or several, to a `Take`).
`piano_ear` is the ear that comes with the extra `listen`: a network trained on piano; nothing else
knows of it, and any other ear may take its place. `keep` writes a take as a Standard MIDI File.
"""

from fillwright.take.recording.hear import hear_recording, piece_of, ready_ear, take_of
from fillwright.take.recording.keep import take_bytes
from fillwright.take.recording.model import Ear, HeardKey, OpenEar, Recording
from fillwright.take.recording.piano_ear import (
    MISSING,
    memory_words,
    open_piano_ear,
    piano_ear_is_installed,
    processes_for,
)
from fillwright.take.recording.sound import (
    MAX_RECORDING_BYTES,
    MAX_RECORDING_SEC,
    RECORDINGS,
    is_recording,
    read_recording,
    recording_from_bytes,
)
from fillwright.take.recording.tuning import prepared, tuning_cents
from fillwright.take.recording.windows import Window, joined, windows_of

__all__ = ["MAX_RECORDING_BYTES", "MAX_RECORDING_SEC", "MISSING", "RECORDINGS", "Ear", "HeardKey",
           "OpenEar", "Recording", "Window", "hear_recording", "is_recording", "joined",
           "memory_words", "open_piano_ear", "piano_ear_is_installed", "piece_of", "prepared",
           "processes_for", "read_recording", "ready_ear", "recording_from_bytes", "take_bytes",
           "take_of", "tuning_cents", "windows_of"]
