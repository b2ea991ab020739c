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
