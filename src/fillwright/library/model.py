"""What is known of a sheet and of its gaps: plain values that go between processes and into tables.

Exact times are texts, as in the JSON of `gaps`; numbers that are compared are floats beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["DESCRIPTION", "PLACES", "WORK", "GapFacts", "SheetFacts"]

DESCRIPTION = 1
"""Grows when a sheet is described otherwise than before: what was described by another is
described anew."""

WORK = 1
"""Grows when other fills are offered than before: what was worked out by another is worked out
anew."""

PLACES = ("start", "inside a phrase", "end of a phrase", "into the repeat", "back to earlier music",
          "into new music", "turnaround", "last bars", "end")
"""Kinds of place in the form, in the order in which a chorus comes to them."""


@dataclass(frozen=True, slots=True)
class GapFacts:
    """One gap, as a teacher would ask for it.

    number     over the unfolded chorus, as `fillwright gaps` counts
    bar, beat, beats   as in `gaps --json`
    seconds    at the tune's tempo
    why        as in `Gap.why`
    chords     the symbols printed in it
    functions  of those chords, each in the key it is heard in: ``"IIm7"``
    row        of those chords the function and class (see `numerals`), equal neighbours once
    into       function and class of the landing's chord, "" at the end
    degree     of the held note over the chord at the gap's onset, "" where nothing is held or
               no chord sounds; `semitones` above that chord's root, and above the tonic of the
               key the chord is heard in (None)
    held       the held note, and its MIDI number as it is played (octave "auto"); "" and None
    landing    semitones from the held note to the landing, None where one of them is missing
    place      one of `PLACES`
    section    the letter of its section; `time`: how often that music was heard before
    alike      the number of the first gap of the tune that is heard alike: what can be played is
               the same there
    """

    number: int
    bar: str
    pass_number: int
    beat: str
    beats: str
    seconds: float
    why: tuple[str, ...]
    chords: tuple[str, ...]
    functions: tuple[str, ...]
    row: str
    into: str
    degree: str
    semitones: int | None
    key_semitones: int | None
    held: str
    held_midi: int | None
    landing: int | None
    place: str
    section: str
    time: int
    alike: int


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """One tune of a file.

    content      SHA-256 of the file's bytes, and "#3" for the tune 3 of several
    fingerprint  the same for the same melody and chords in any key and octave, whatever the
                 title, the tempo, the spelling of a symbol
    key, meter   as in `gaps --json`; `tonic` is the pitch class, `mode` "major" or "minor"
    bars         of the chorus, pickups not counted
    tempo        felt beats a minute; `tempo_marked`: it stands on the sheet
    """

    content: str
    fingerprint: str
    title: str
    key: str
    tonic: int
    mode: str
    meter: str
    bars: int
    tempo: float
    tempo_marked: bool
    feel: str
    gaps: tuple[GapFacts, ...]
