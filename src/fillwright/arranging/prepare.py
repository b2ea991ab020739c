"""The sheet as it is asked for: key, octave, tempo, feel and form; and its gaps."""

from __future__ import annotations

from fillwright.arranging.model import Options
from fillwright.arranging.octave import choose_octave
from fillwright.errors import InputError
from fillwright.theory.key import Key
from fillwright.tune.extend import twice, with_ending, with_introduction
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus, Gap, Tune
from fillwright.tune.transpose import transpose_tune

__all__ = ["prepare"]


def prepare(tune: Tune, options: Options) -> tuple[Chorus, tuple[Gap, ...]]:
    """The chorus in the wanted key, octave, tempo and feel, and its gaps.

    Raises InputError where the key is not one, the tune has no notes or no chord symbols, or so
    many bars cannot be added.
    """
    if options.key is not None:
        try:
            key = Key.parse(options.key)
        except ValueError as error:
            raise InputError(f"{error}", tune.source) from error
        tune = transpose_tune(tune, key)
    chorus = unfold(tune, tempo=options.tempo, feel=options.feel)
    if not chorus.melody or not chorus.chords:
        missing = "chord symbols" if chorus.melody else "notes that sound"
        raise InputError(f"the tune has no {missing}", tune.source)
    octave = (choose_octave(chorus) if options.octave == "auto" else int(options.octave))
    if octave:
        chorus = unfold(tune, tempo=options.tempo, feel=options.feel, octave=octave)
    try:
        if options.choruses == 2:
            chorus = twice(chorus)
        if options.introduction:
            chorus = with_introduction(chorus, options.introduction)
        if options.ending:
            chorus = with_ending(chorus, options.ending)
    except ValueError as error:
        raise InputError(str(error), tune.source) from error
    return chorus, find_gaps(chorus)
