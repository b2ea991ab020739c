"""Small arrangements to play, built by hand."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fillwright import (
    Arrangement,
    ChordSymbol,
    Chorus,
    Fill,
    Gap,
    HandNote,
    Key,
    Options,
    Pitch,
    Tune,
)
from fillwright.fills import HeldEnd
from fillwright.fills.model import Idea
from fillwright.tune import Bar, ChordSpan, ChorusBar, Meter, SoundingNote

Quarter = int | str | Fraction

COMMON, C_MAJOR = Meter(4, 4), Key(0)


def note(pitch: str, onset: Quarter, duration: Quarter, hand: str = "right",
         role: str = "melody", gap: int | None = None, rolled: bool = False) -> HandNote:
    return HandNote(Fraction(onset), Fraction(duration), Pitch.parse(pitch), hand, 1, role, gap,
                    rolled)


def chord(pitches: str, onset: Quarter, duration: Quarter, hand: str = "left",
          role: str = "base", gap: int | None = None, rolled: bool = False) -> list[HandNote]:
    return [note(pitch, onset, duration, hand, role, gap, rolled) for pitch in pitches.split()]


def gap_at(number: int, held: HandNote, end: Quarter) -> Gap:
    end = Fraction(end)
    sounding = SoundingNote(held.onset_quarter, held.duration_quarter, held.pitch)
    length = end - held.onset_quarter
    return Gap(number, "1", 1, Fraction(1), held.onset_quarter, length, length, 1.0, ("held",),
               sounding, (), (), None, None, None)


def fill_of(gap: Gap, notes: Sequence[HandNote], family: str, kept: str,
            until: Quarter) -> Fill:
    return Fill(f"{gap.number}-{family}", gap.number, family, "a device", "intermediate",
                tuple(notes), (), (), (), (), 10, HeldEnd(kept, Fraction(until)),
                Idea((), (), "none", 60))


def arranged(notes: Sequence[HandNote], bars: int = 4, meter: Meter = COMMON,
             bpm: int = 140, feel: str = "swing",
             chords: Sequence[tuple[Quarter, Quarter, str]] = (),
             gaps: Sequence[Gap] = (), fills: Sequence[Fill] = (),
             pickup: Quarter = 0, key: Key = C_MAJOR,
             title: str = "Plain") -> Arrangement:
    pickup = Fraction(pickup)
    chorus_bars, written, onset = [], [], Fraction(0)
    lengths = ([pickup] if pickup else []) + [meter.length_quarter] * bars
    for index, length in enumerate(lengths):
        first = bool(pickup) and index == 0
        written.append(Bar(str(index), meter, key, length, is_pickup=first))
        chorus_bars.append(ChorusBar(index, str(index), 1, onset, length, meter, key, first))
        onset += length
    notes = sorted(notes, key=lambda n: (n.onset_quarter, n.midi))
    spans = tuple(ChordSpan(Fraction(start), Fraction(length), ChordSymbol.parse(text))
                  for start, length, text in chords)
    melody = tuple(SoundingNote(n.onset_quarter, n.duration_quarter, n.pitch)
                   for n in notes if n.role == "melody")
    tune = Tune(title, tuple(written), Fraction(bpm), feel)
    chorus = Chorus(tune, tuple(chorus_bars), melody, spans, (None,) * len(spans), onset,
                    Fraction(bpm), feel)
    return Arrangement(chorus, Options(), tuple(gaps), tuple(fills), tuple(notes), spans)


def whole_chorus(bpm: int = 140, feel: str = "swing", kept: str = "released",
                 until: Quarter = 7) -> Arrangement:
    """Sixteen bars with a comp, a line and a reharm fill, and a last chord that rings."""
    melody = [note("G4", 0, 1), note("A4", 1, "1/2"), note("C5", "3/2", "1/2"),
              note("D5", 2, 1), note("E5", 3, "1/2"), note("G5", "7/2", "7/2"),
              note("E5", 8, 1), note("D5", 9, "1/2"), note("C5", "19/2", "1/2"),
              note("A4", 10, 2), note("G4", 12, 1),
              note("C5", 16, 1), note("B4", 17, "1/2"), note("A4", "35/2", "1/2"),
              note("E5", 18, 2), note("C5", 24, "1/2"), note("D5", "49/2", "1/2"),
              note("E5", 25, 3), note("C5", 28, 4)]
    first, second, third = gap_at(1, melody[5], 8), gap_at(2, melody[10], 16), gap_at(
        3, melody[14], 24)
    comp = (chord("E4 A4 D5", "11/2", "1/2", "right", "fill", 1)
            + chord("C4 E4 A4", 7, 1, "right", "fill", 1)
            + chord("F3 B3", "11/2", "1/2", "left", "fill", 1)
            + chord("G3 B3", 7, 1, "left", "fill", 1))
    line = ([note(pitch, Fraction(27, 2) + place * Fraction(1, 2), "1/2", "right", "fill", 2)
             for place, pitch in enumerate(["E5", "D5", "C5", "B4", "A4"])]
            + chord("B2 F3", 13, 3, "left", "fill", 2))
    walk = [n for place, pitches in enumerate(("C3 E3", "D3 F3", "E3 G3", "F3 A3"))
            for n in chord(pitches, 20 + place, 1, "left", "fill", 3)]
    base = (chord("C3 B3", 0, "7/2") + chord("D3 C4", 8, 4) + chord("A2 G3", 16, 4)
            + chord("G2 F3", 24, 4) + chord("C3 G3 E4", 28, 4, rolled=True))
    fills = (fill_of(first, comp, "comp", kept, until),
             fill_of(second, line, "line", "released", 13),
             fill_of(third, walk, "reharm", "finger", 20))
    return arranged(melody + base + comp + line + walk, 8, bpm=bpm, feel=feel,
                    chords=((0, 8, "Cmaj7"), (8, 4, "Dm7"), (12, 4, "G7"), (16, 8, "Am7"),
                            (24, 4, "G7"), (28, 4, "C6")),
                    gaps=(first, second, third), fills=fills)
