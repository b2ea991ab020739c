"""Reading a written file back: by our own few lines, and by other programs."""

from __future__ import annotations

import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from lxml import etree

from fillwright import Arrangement

__all__ = ["Attacks", "attacks_by_music21", "attacks_by_partitura", "attacks_by_verovio",
           "attacks_of", "attacks_written", "voices_written"]

Attacks = Counter[tuple[Fraction, int]]
"""How often each (onset in quarters, MIDI number) is struck."""

_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def attacks_of(arrangement: Arrangement) -> Attacks:
    return Counter((note.onset_quarter, note.midi) for note in arrangement.notes)


def attacks_written(data: bytes) -> Attacks:
    """By walking through the file with a cursor, as the MusicXML documentation describes."""
    found: Attacks = Counter()
    for onset, note in _notes(data):
        pitch = note.find("pitch")
        if pitch is not None and note.find("tie[@type='stop']") is None:
            found[onset, 12 * (int(pitch.findtext("octave") or 0) + 1)
                  + _SEMITONES[pitch.findtext("step") or ""]
                  + int(pitch.findtext("alter") or 0)] += 1
    return found


def _notes(data: bytes) -> Iterator[tuple[Fraction, etree._Element]]:
    root = etree.fromstring(data)
    divisions = int(root.findtext(".//divisions") or 1)
    start = Fraction(0)
    for measure in root.iter("measure"):
        cursor = onset = longest = Fraction(0)
        for element in measure:
            length = Fraction(int(element.findtext("duration") or 0), divisions)
            if element.tag == "note":
                if element.find("chord") is None:
                    onset, cursor = cursor, cursor + length
                yield start + onset, element
            elif element.tag == "forward":
                cursor += length
            elif element.tag == "backup":
                cursor -= length
            longest = max(longest, cursor)
        start += longest


def voices_written(data: bytes) -> dict[tuple[str, str], Fraction]:
    """For each (bar, voice) how much of the bar its notes, rests and steps fill."""
    root = etree.fromstring(data)
    divisions = int(root.findtext(".//divisions") or 1)
    filled: dict[tuple[str, str], Fraction] = {}
    for measure in root.iter("measure"):
        for element in measure:
            if element.tag in ("note", "forward") and element.find("chord") is None:
                key = (measure.get("id") or "", element.findtext("voice") or "")
                filled[key] = filled.get(key, Fraction(0)) + Fraction(
                    int(element.findtext("duration") or 0), divisions)
    return filled


def attacks_by_music21(data: bytes) -> Attacks:
    import music21

    found: Attacks = Counter()
    score: Any = music21.converter.parseData(data.decode(), format="musicxml")
    for part in score.parts:
        for element in part.flatten().notes:
            if isinstance(element, music21.harmony.Harmony):
                continue
            for note in element.notes if element.isChord else [element]:
                if note.tie is None or note.tie.type == "start":
                    found[Fraction(element.offset).limit_denominator(5000),
                          note.pitch.midi] += 1
    return found


def attacks_by_partitura(data: bytes, pickup_quarter: Fraction) -> Attacks:
    """Partitura counts from the first full bar."""
    sys.modules["fluidsynth"] = None  # type: ignore[assignment]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura  # type: ignore[import-untyped]

        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "written.musicxml"
            path.write_bytes(data)
            score = partitura.load_musicxml(str(path))
        notes = partitura.utils.music.ensure_notearray(score)
    return Counter((Fraction(float(onset)).limit_denominator(5000) + pickup_quarter, int(midi))
                   for onset, midi in zip(notes["onset_quarter"], notes["pitch"], strict=True))


def attacks_by_verovio(data: bytes, arrangement: Arrangement) -> Attacks:
    """By ids in verovio's timemap. Verovio plays a rolled chord one note after the other, so
    the notes of its moment are counted at their own onset."""
    from fillwright.score.engraver import engrave_here

    found: Attacks = Counter()
    rolled = {note.onset_quarter for note in arrangement.notes if note.rolled}
    for moment in engrave_here(data).timemap:
        for name in moment.get("on", ()):
            if "-" in name:  # the continuation of a tie
                continue
            note = arrangement.notes[int(name[1:])]
            onset = Fraction(moment["qstamp"]).limit_denominator(5000)
            if note.onset_quarter in rolled and 0 <= onset - note.onset_quarter < 1:
                onset = note.onset_quarter
            found[onset, note.midi] += 1
    return found
