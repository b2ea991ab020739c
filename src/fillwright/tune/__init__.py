"""Tunes: reading lead sheets, and playing their form out.

`read.read_tune` reads a file (MusicXML; ABC and other notations through converters) into a
`Tune`, the sheet as written at sounding pitch. `transpose.transpose_tune` moves it to another key.
`form.unfold` plays its form out once, which gives a `Chorus`: repeats and endings unfolded,
ties merged, chords as spans.

Anything that can be understood is read, with a sentence in `warnings` for each thing that
needed good will; anything else is an `InputError` that says what is wrong and in which bar.

Limits of the reader, besides the sizes in `fillwright.tune.limits`: one melody, the top
line of one part; a change of key or meter inside a bar counts from the next bar on;
quarter tones are rounded; a repeat sign inside a bar counts at its end.
"""

from __future__ import annotations

from fillwright.tune.extend import second_chorus_quarter, twice
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import (
    Bar,
    ChordSpan,
    Chorus,
    ChorusBar,
    FormMarks,
    Gap,
    Jump,
    Meter,
    SoundingNote,
    Tune,
)
from fillwright.tune.read import read_bytes, read_tune
from fillwright.tune.transpose import transpose_tune

__all__ = ["Bar", "ChordSpan", "Chorus", "ChorusBar", "FormMarks", "Gap", "Jump", "Meter",
           "SoundingNote", "Tune", "find_gaps", "read_bytes", "read_tune", "second_chorus_quarter",
           "transpose_tune", "twice", "unfold"]
