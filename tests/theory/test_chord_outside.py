"""Chord content against tables that others made.

Each check names its source. Where a source answers otherwise on purpose, the difference is
listed here with its reason, so that a new difference fails.
"""

from __future__ import annotations

from typing import Any

import mir_eval.chord  # type: ignore[import-untyped]
import numpy as np
import pytest
from lxml import etree
from music21 import harmony as m21_harmony
from pychord.constants.qualities import DEFAULT_QUALITIES
from tests.sweep import every

from fillwright import ChordSymbol, Key
from fillwright.theory import KIND_DEGREES, degree_pitch_class
from fillwright.tune.harmonyxml import HarmonyReader
from fillwright.tune.notices import Notices

pytestmark = pytest.mark.slow

# The `kind-value` table of MusicXML 4.0 (W3C Music Notation Community Group, musicxml.xsd,
# commit 830fb18c): each value names its tones; semitones above the root.
SCHEMA_KINDS = {
    "major": (0, 4, 7), "minor": (0, 3, 7), "augmented": (0, 4, 8), "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10), "major-seventh": (0, 4, 7, 11), "minor-seventh": (0, 3, 7, 10),
    "diminished-seventh": (0, 3, 6, 9), "augmented-seventh": (0, 4, 8, 10),
    "half-diminished": (0, 3, 6, 10), "major-minor": (0, 3, 7, 11),
    "major-sixth": (0, 4, 7, 9), "minor-sixth": (0, 3, 7, 9),
    "dominant-ninth": (0, 4, 7, 10, 14), "major-ninth": (0, 4, 7, 11, 14),
    "minor-ninth": (0, 3, 7, 10, 14), "dominant-11th": (0, 4, 7, 10, 14, 17),
    "major-11th": (0, 4, 7, 11, 14, 17), "minor-11th": (0, 3, 7, 10, 14, 17),
    "dominant-13th": (0, 4, 7, 10, 14, 17, 21), "major-13th": (0, 4, 7, 11, 14, 17, 21),
    "minor-13th": (0, 3, 7, 10, 14, 17, 21), "suspended-second": (0, 2, 7),
    "suspended-fourth": (0, 5, 7), "power": (0, 7),
}
SPECIAL_KINDS = {"pedal", "Tristan", "Neapolitan", "Italian", "French", "German", "other",
                 "none"}


def semitones(symbol: ChordSymbol) -> set[int]:
    return {degree_pitch_class(degree) for degree in symbol.degrees}


def test_every_kind_of_the_schema_has_its_tones() -> None:
    assert set(KIND_DEGREES) == set(SCHEMA_KINDS) | SPECIAL_KINDS
    assert len(KIND_DEGREES) == 33
    for kind, tones in SCHEMA_KINDS.items():
        assert {degree_pitch_class(d) for d in KIND_DEGREES[kind]} == {t % 12 for t in tones}


# Our spelling -> shorthand of Harte et al., ISMIR 2005, as mir_eval 0.8.2 encodes it.
SHORTHANDS = {
    "C": "C:maj", "Cm": "C:min", "C+": "C:aug", "Cdim": "C:dim", "Csus4": "C:sus4",
    "Csus2": "C:sus2", "C7": "C:7", "CΔ": "C:maj7", "C-7": "C:min7", "CmMaj7": "C:minmaj7",
    "C6": "C:maj6", "Cm6": "C:min6", "C°7": "C:dim7", "Cø": "C:hdim7", "C5": "C:5",
    "Cm7b5": "C:hdim7", "CM7": "C:maj7", "F#m7": "F#:min7",
    "Bb7": "Bb:7", "Ab6": "Ab:maj6", "G7sus4": "G:sus4(b7)", "D7no3": "D:7(*3)",
}
EXTENDED = {"C9": "C:9", "Cmaj9": "C:maj9", "Cm9": "C:min9", "C13": "C:13", "Cmaj13": "C:maj13",
            "Cm13": "C:min13", "C11": "C:11", "Cm11": "C:min11",
            "C7(b9)": "C:7(b9)", "Cmaj7#11": "C:maj7(#11)", "C7#9": "C:7(#9)",
            "C7(b13)": "C:7(b13)", "Cadd9": "C:maj(9)", "C6/9": "C:maj6(9)"}


def mir_eval_tones(label: str) -> set[int]:
    root, bits, _bass = mir_eval.chord.encode(label)
    return {(int(root) + int(place)) % 12 for place in np.flatnonzero(bits)}


@every(SHORTHANDS.items())
def test_tones_of_mir_eval(text: str, label: str) -> None:
    assert set(ChordSymbol.parse(text).pitch_classes) == mir_eval_tones(label)


@every(EXTENDED.items())
def test_seventh_chords_of_mir_eval_under_extensions(text: str, label: str) -> None:
    """`encode` gives the seventh chord of an extended one, so only that part compares."""
    symbol = ChordSymbol.parse(text)
    seventh = {degree for degree in symbol.degrees if int(degree.lstrip("b#")) <= 7}
    root = symbol.root
    assert root is not None
    assert {(root.pitch_class + degree_pitch_class(d)) % 12
            for d in seventh} == mir_eval_tones(label)


# pychord 1.4.1 reads these otherwise.
PYCHORD_DIFFERS = {
    "4": "here a sus4, there an added fourth: C4 is read both ways",
    "7b9b13": "there with an eleventh that the symbol does not name",
}


@every(DEFAULT_QUALITIES)
def test_qualities_of_pychord(quality: str, tones: tuple[str, ...]) -> None:
    ours = semitones(ChordSymbol.parse("C" + quality))
    theirs = {degree_pitch_class(tone) for tone in tones}
    assert (ours == theirs) == (quality not in PYCHORD_DIFFERS)


# The function-based kinds: music21 builds them on other roots than the written one.
M21_KINDS_DIFFER = {"Neapolitan", "Italian", "French", "German"}
# music21's "dom7dim5" is not a spelling of the trade.
M21_SPELLINGS_NOT_READ = {"dom7dim5", "pedal", "tristan", "N6", "It+6", "It", "Fr+6", "Fr",
                          "Gr+6", "Ger", "power", "øb9", "ob9", "dimb9"}


def m21_tones(text: str) -> set[int]:
    degrees = text.split(",")
    return {degree_pitch_class(d.replace("-", "b")) for d in degrees}


@every(sorted(m21_harmony.CHORD_TYPES))
def test_kinds_music21_writes(kind: str) -> None:
    """Every chord type of music21 10.5, also those that are not of the schema."""
    tones = str(m21_harmony.CHORD_TYPES[kind][0])
    notices = Notices()
    element = etree.fromstring(f"<harmony><root><root-step>C</root-step></root>"
                               f"<kind>{kind}</kind></harmony>")
    symbol = HarmonyReader(notices).element(element, Key(0))
    assert symbol is not None
    if kind in M21_KINDS_DIFFER:
        assert semitones(symbol) != m21_tones(tones)
    else:
        assert semitones(symbol) == m21_tones(tones)
    assert bool(notices.as_tuple()) == (kind not in KIND_DEGREES)


M21_SPELLINGS = [(spelling, kind) for kind, (_, spellings) in sorted(
    m21_harmony.CHORD_TYPES.items()) for spelling in spellings]


@every(M21_SPELLINGS)
def test_spellings_of_music21(spelling: str, kind: str) -> None:
    table: dict[str, Any] = m21_harmony.CHORD_TYPES
    if spelling in M21_SPELLINGS_NOT_READ:
        return
    assert semitones(ChordSymbol.parse("C" + spelling)) == m21_tones(table[kind][0])
