"""Small arrangements written by hand, and two longer ones to look at."""

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
from fillwright.fills import HeldEnd, Shift
from fillwright.fills.model import Idea
from fillwright.theory import NO_CHORD
from fillwright.tune import Bar, ChordSpan, ChorusBar, Meter, SoundingNote

__all__ = ["arrangement", "ballad", "chorus_of", "hand", "swing_tune", "waltz"]


def hand(text: str, which: str, role: str = "base", start: str = "0",
         gap: int | None = None) -> list[HandNote]:
    """Notes from text such as ``"C4+E4:1 r:1/2 ~G4+B4:1.5 Bb3@2:1"``.

    Notes of a chord are joined by ``+``, a finger follows ``@``, the length in quarters
    ``:``; ``~`` rolls the chord, ``r`` rests, ``C4:1>1/2`` holds for a half but moves one.
    """
    notes: list[HandNote] = []
    place = Fraction(start)
    for word in text.split():
        names, _, length = word.partition(":")
        step, _, held = length.partition(">")
        if names != "r":
            rolled = names.startswith("~")
            members = names.lstrip("~").split("+")
            for index, member in enumerate(members):
                name, _, finger = member.partition("@")
                number = int(finger) if finger else min(
                    5, 1 + index if which == "right" else 5 - index)
                notes.append(HandNote(place, Fraction(held or step), Pitch.parse(name), which,
                                      number, role, gap, rolled))
        place += Fraction(step)
    return notes


def chorus_of(title: str, meters: Sequence[tuple[str, int]], key: str, melody: str,
              chords: str, *, tempo: int = 140, feel: str = "swing", pickup: str = "0",
              sections: dict[int, str] | None = None,
              keys: dict[int, str] | None = None) -> Chorus:
    """A chorus; `meters` are pairs of meter and number of bars, `chords` words such as
    ``"Fmaj7:4 Gm7:2 C7:2"``, `sections` and `keys` by bar index (the pickup is one)."""
    bars: list[ChorusBar] = []
    place = Fraction(0)
    current = Key.parse(key)
    index = 0
    meter = _meter(meters[0][0])
    if Fraction(pickup):
        bars.append(ChorusBar(0, "0", 1, place, Fraction(pickup), meter, current, True))
        place, index = Fraction(pickup), 1
    for text, count in meters:
        meter = _meter(text)
        for _ in range(count):
            if keys and index in keys:
                current = Key.parse(keys[index])
            bars.append(ChorusBar(index, str(index + (0 if Fraction(pickup) else 1)), 1, place,
                                  meter.length_quarter, meter, current,
                                  section=(sections or {}).get(index, "")))
            place += meter.length_quarter
            index += 1
    sounding = tuple(SoundingNote(n.onset_quarter, n.duration_quarter, n.pitch)
                     for n in hand(melody, "right", "melody"))
    spans = _spans(chords, Fraction(pickup))
    tune = Tune(title, tuple(Bar(bar.number, bar.meter, bar.key, bar.length_quarter)
                             for bar in bars), Fraction(tempo), feel)
    return Chorus(tune, tuple(bars), sounding, spans, (None,) * len(spans), place,
                  Fraction(tempo), feel)


def _meter(text: str) -> Meter:
    beats, unit = text.split("/")
    return Meter(int(beats), int(unit))


def _spans(text: str, start: Fraction, fill: str | None = None) -> tuple[ChordSpan, ...]:
    spans = []
    place = start
    for word in text.split():
        name, _, length = word.rpartition(":")
        if name != "-":
            symbol = NO_CHORD if name == "N.C." else ChordSymbol.parse(name)
            spans.append(ChordSpan(place, Fraction(length), symbol, fill is not None, fill,
                                   None if fill is None else "for the test"))
        place += Fraction(length)
    return tuple(spans)


def gap(chorus: Chorus, number: int, onset: str, duration: str) -> Gap:
    place = Fraction(onset)
    held = next((n for n in chorus.melody if n.onset_quarter == place), None)
    landing = next((n for n in chorus.melody if n.onset_quarter >= place + Fraction(duration)),
                   None)
    beats = Fraction(duration) / chorus.meter.beat_quarter
    return Gap(number, chorus.bar_at(place).number, 1, chorus.beat_in_bar(place), place,
               Fraction(duration), beats, float(duration.split("/")[0]), ("held",), held, (), (),
               landing, None, None)


def fill(where: Gap, family: str, device: str, notes: Sequence[HandNote], counted: str,
         level: str = "intermediate", added: str = "", kept: str = "released",
         until: str | None = None, shift: Shift | None = None) -> Fill:
    """`counted` are words with their places from the gap's onset: ``"0:1 1/2:&"``."""
    name = f"g{where.number}"
    marks = tuple((where.onset_quarter + Fraction(place), said) for place, _, said in
                  (word.partition(":") for word in counted.split()))
    return Fill(name, where.number, family, device, level, tuple(notes),
                tuple(span for span in _spans(added, where.onset_quarter, name)), marks,
                ("A reason.",), (("term", 1),), 10,
                HeldEnd(kept, Fraction(until) if until else where.end_quarter),
                Idea((), (), "shell", 60), None, Fraction(0), shift)


def arrangement(chorus: Chorus, notes: Sequence[HandNote], gaps: Sequence[Gap] = (),
                fills: Sequence[Fill] = (), level: str = "intermediate",
                melody: Sequence[HandNote] | None = None) -> Arrangement:
    """Melody (as in the chorus unless given), other notes and the notes of the fills."""
    if melody is None:
        melody = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, "right", 5, "melody")
                  for n in chorus.melody]
    every = [*melody, *notes, *(n for f in fills for n in f.notes)]
    every.sort(key=lambda n: (n.onset_quarter, n.midi))
    spans = sorted([*chorus.chords, *(span for f in fills for span in f.chords)],
                   key=lambda span: (span.onset_quarter, span.added))
    return Arrangement(chorus, Options(level=level), tuple(gaps), tuple(fills), tuple(every),
                       tuple(spans))


def swing_tune(level: str = "intermediate") -> Arrangement:
    """Sixteen bars of a medium swing in F with a pickup and six gaps."""
    melody = (
        "C4:1/2 D4:1/2 "
        "A4:1 C5:1/2 E5:3/2 D5:1/2 C5:1/2 A4:4 "
        "Bb4:1 D5:1/2 F5:3/2 E5:1/2 D5:1/2 Bb4:4 "
        "C5:1 E5:1/2 G5:3/2 F5:1/2 E5:1/2 Eb5:2 D5:1/2 C5:1/2 A4:1 "
        "Bb4:3/2 G4:5/2 C5:2 r:1 C4:1/2 D4:1/2 "
        "F4:1/2 G#4:1/2 A4:1/2 C5:5/2 Bb4:2 F4:2 "
        "A4:2/3 C5:2/3 E5:2/3 D5:1 C5:1 A4:6 r:1 A4:1 "
        "Bb4:1/2 A4:1/2 G4:1/2 D5:3/2 C5:1 A4:4 G4:4 F4:4 F4:4")
    chords = ("Fmaj7:4 D7(b9):4 Gm7:4 C13:4 Am7:4 Ab7:2 D7:2 Gm7:4 Gm7/C:2 C7:2 "
              "Fmaj7:4 Bb7(#11):4 Am7:4 D7alt:4 D7:4 Gm7:4 F6/A:4 Gm7:2 C7(b9,#5):2 F6/9:4 N.C.:4")
    chorus = chorus_of("Paper Lanterns", [("4/4", 18)], "F", melody, chords, tempo=144,
                       pickup="1", sections={1: "A", 9: "B"})
    gaps = [gap(chorus, 1, "5", "4"), gap(chorus, 2, "13", "4"), gap(chorus, 3, "21", "2"),
            gap(chorus, 4, "53/2", "5/2"), gap(chorus, 5, "29", "3"),
            gap(chorus, 6, "45", "7"), gap(chorus, 7, "57", "4"), gap(chorus, 8, "61", "4")]
    fills = [
        fill(gaps[0], "comp", "rootless voicings, off-beats", [
            *hand("r:1/2 C4+Eb4+F#4:1>1/2 r:1 C4+Eb4+F#4:1/2 r:1/2 Bb3+D4+F4:1/2", "right",
                  "fill", "5", 1),
            *hand("D2:3/2 r:3/2 D3:1/2", "left", "fill", "5", 1)],
            "0:1 1/2:& 1:(2) 2:(3) 5/2:& 3:4 7/2:&", level, kept="finger"),
        fill(gaps[1], "reharm", "tritone substitute, a half step above the landing", [
            *hand("D4+E4:2 ~E4+Ab4:2", "right", "fill", "13", 2),
            *hand("C3:1 Bb2:1 Gb2+Fb3:2", "left", "fill", "13", 2)], "0:1 1:2 2:3 3:4", level,
            added="-:2 Gb7(9,#11):2", kept="finger"),
        fill(gaps[2], "line", "enclosure into the landing", [
            *hand("r:1 Gb5:1/3 Ab5:1/3 C6:1/3", "right", "fill", "21", 3),
            *hand("Gb3+C4:2", "left", "fill", "21", 3)], "0:(1) 1:2 4/3:trip 5/3:let", level,
            kept="released", until="22"),
        fill(gaps[4], "line", "scale motion, answered", [
            *hand("r:1 G5:1/2 E5:1/4 F5:1/4 D5:1/2 Bb4:1/2", "right", "fill", "29", 5),
            *hand("r:1/2 Bb3+E4:1/2 r:1/2 Bb3+E4:1", "left", "fill", "29", 5)],
            "0:(1) 1/2:& 1:2 3/2:& 7/4:a 2:3 5/2:&", level, kept="released", until="30"),
        fill(gaps[5], "comp", "octave with inner notes in the top register", [
            *hand("r:2 C5+F#5+C6:1/2 r:1 C5+F#5+C6:3/2 B4+D5+A5+B5:1 r:1", "right", "fill",
                  "45", 6),
            *hand("D3+F#3+C4:2 D3:1/2 r:1 F#3+C4:5/2", "left", "fill", "45", 6)],
            "0:1 1:(2) 2:3 3:(4) 7/2:& 4:(1) 5:2 6:(3)", level, kept="pedal", until="47",
            added="-:4 Eb7:2"),
        fill(gaps[7], "reharm", "diatonic walk-up in tenths", [
            *hand("r:1 Bb3+D4:1 C4+E4:1 Db4+E4:1", "right", "fill", "61", 8),
            *hand("G2:1 A2:1 Bb2:1 B2:1", "left", "fill", "61", 8)], "0:1 1:2 2:3 3:4", level,
            added="-:1 Am7:1 Bbmaj7:1 Bdim7:1", kept="finger"),
    ]
    base = [
        *hand("r:1 ~F2+C3+A3:4", "left"),
        *hand("G2:2 Bb2+F3:2", "left", start="9"),
        *hand("A2+G3:4", "left", start="17"),
        *hand("D2+C3:2", "left", start="23"),
        *hand("G2+F3:7/2", "left", start="25"),
        *hand("F3+A3:4 Bb2+Ab3:4 A2+G3:4", "left", start="33"),
        *hand("Bb2+F3:3/2 A2+E3:5/2 A2+F3+C4:4", "left", start="53"),
        *hand("~F2+C3+A3+D4:4", "left", start="65"),
        *hand("E4+G4:1", "right", start="1"),
        *hand("F4+G4:2", "right", start="37"),
        *hand("C4+E4:2", "right", start="57"),
    ]
    melody_notes = []
    for note in chorus.melody:
        until = next((f.held_end.until_quarter for f, g in zip(
            fills, [gaps[0], gaps[1], gaps[2], gaps[4], gaps[5], gaps[7]], strict=True)
            if g.onset_quarter == note.onset_quarter), note.end_quarter)
        end = min(until, note.end_quarter)
        melody_notes.append(HandNote(note.onset_quarter, end - note.onset_quarter, note.pitch,
                                     "right", 5, "melody"))
    return arrangement(chorus, base, gaps, fills, level, melody_notes)


def waltz(level: str = "advanced") -> Arrangement:
    """Eight bars of a waltz in B flat that goes to E major, with a late landing."""
    melody = ("D5:2 C5:1 F5:3 D5:3/2 C5:1/2 Bb4:1 A4:6 "
              "B4:2 C#5:1 G#4:3 F#4:1/2 G#4:1/2 A#4:1 B4:1/2 E5:1/2 E5:3")
    chords = "Bbmaj7:3 G7(#5):3 Cm7:3 F7sus4:3 F13(b9):3 Emaj7:3 C#m9:3 F#7:1 B7:2 E6:3"
    chorus = chorus_of("Long Shadows", [("3/4", 10)], "Bb", melody, chords, tempo=120,
                       feel="straight", sections={0: "A", 5: "B"}, keys={5: "E"})
    gaps = [gap(chorus, 1, "3", "3"), gap(chorus, 2, "9", "6")]
    fills = [fill(gaps[0], "comp", "fourths, 1 and the off-beat of 2", [
        *hand("A4+D5:1/2 r:1 Bb4+Eb5:3/2", "right", "fill", "3", 1),
        *hand("G2:1 F3+B3:2", "left", "fill", "3", 1)], "0:1 1:(2) 3/2:& 2:3", level,
        kept="finger"),
        fill(gaps[1], "line", "enclosures", [
            *hand("r:1 C5:1/2 D5:1/2 Eb5:1/3 E5:1/3 F5:1/3 Gb5:1/2 Eb5:1/2 Db5:1/2 D5:1/2 "
                  "C5:1/2 A4:1/2", "right", "fill", "9", 2),
            *hand("F2+Eb3:3 Eb3+A3:1 r:1/2 Eb3+A3:3/2", "left", "fill", "9", 2)],
            "0:(1) 1:2 3/2:& 2:3 7/3:trip 8/3:let 3:1 7/2:& 4:2 9/2:& 5:3 11/2:&", level,
            kept="released", until="10")]
    melody_notes = [HandNote(n.onset_quarter, Fraction(1) if n.onset_quarter == 9
                             else n.duration_quarter, n.pitch, "right", 5, "melody")
                    for n in chorus.melody]
    base = [*hand("Bb2:1 F3+A3:2", "left"), *hand("C3:1 Eb3+Bb3:2", "left", start="6"),
            *hand("E2+B2:3 C#3+E3+B3:3 F#2:1 B2+A3:2 E3+G#3+C#4:3", "left", start="15")]
    return arrangement(chorus, base, gaps, fills, level, melody_notes)


def ballad(level: str = "advanced") -> Arrangement:
    """Four bars of 12/8 and two of 5/4: sixteenths, ties, inner voices."""
    melody = "Eb5:3/2 D5:1/2 C5:1 Bb4:3 G4:3/2 Ab4:3/2 Bb4:3 C5:6 Bb4:6 Bb4:5 r:2 Eb4:3"
    chords = "Ebmaj9:6 Cm11:3 F13:3 Fm7:6 Bb7alt:6 Ebmaj7:5 Ebmaj7:5"
    chorus = chorus_of("Slow Ferry", [("12/8", 4), ("5/4", 2)], "Eb", melody, chords, tempo=60)
    base = [*hand("Eb2+Bb2+G3:6 C3:3 F2+Eb3:3", "left"),
            *hand("F2:6", "left", start="12"), *hand("Ab3+C4:3/2 Bb3+D4:3/2 C4+Eb4:3", "left",
                                                     start="12"),
            *hand("Bb2+Ab3:6 Eb3:5 Eb2+Bb2:5", "left", start="18"),
            *hand("r:3/2 G4:1/4 F4:1/4 Eb4:1/2 D4:1/2 C4:3 r:7", "right", start="3")]
    return arrangement(chorus, base, (), (), level)
