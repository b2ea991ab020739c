"""Write the four demo tunes into the package as MusicXML 4.0.

The tunes were composed for this project. They are kept here in a compact notation, one
bar a line, so that a note can be changed without editing XML by hand:

    marks ; chords ; notes

    marks   A (rehearsal letter), |: and :| (repeat), [1 1] (ending opens, closes), / (new line)
    chords  a symbol, with @beats from the bar line where it does not stand on the first beat
    notes   pitch and length in quarters; ~ ties to the next note; r is a rest; a length in
            thirds makes a triplet

Run ``python tools/write_demo_tunes.py`` from the project's folder.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from lxml import etree

from fillwright.theory.chord import kind_changes
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch, degree_interval

DATA = Path(__file__).resolve().parent.parent / "src" / "fillwright" / "data"
DIVISIONS = 12


@dataclass(frozen=True)
class Sheet:
    """A tune in the compact notation; `pickup_quarter` is 0 where there is none."""

    name: str
    title: str
    key: Key
    meter: tuple[int, int]
    tempo_bpm: int
    words: str
    pickup_quarter: int
    bars: str


LAMP = Sheet("lamp", "Third Lamp on the Left", Key(-3), (4, 4), 144, "Medium swing", 1, """
; ; G4 .5, Bb4 .5
A |: / ; Ebmaj7 ; D5 1.5, C5 2.5~
; Bbm7 Eb7@2 ; C5 1, Bb4 1, G4 1, Eb4 .5, G4 .5
; Abmaj7 ; C5 1.5, Bb4 2.5~
; Abm7 Db7@2 ; Bb4 1, Ab4 1, F4 1, G4 .5, Bb4 .5
/ ; Gm7 ; D5 1, F5 3
; C7(b9) ; E5 1.5, Db5 .5, Bb4 1, G4 1
[1 ; Fm7 Bb7@2 ; Ab4 1, C5 .5, Ab4 .5, F4 1, Ab4 1
1] :| ; Ebmaj7 Bb7@2 ; G4 3, G4 .5, Bb4 .5
[2 / ; Fm7 Bb7@2 ; Ab4 1, C5 .5, Ab4 .5, F4 1, D4 1
2] ; Eb6 ; Eb4 4
B / ; Dm7 G7@2 ; F5 1.5, E5 .5, D5 1, B4 1
; Cmaj7 ; G4 4
; Cm7 F7@2 ; Eb5 1.5, D5 .5, C5 1, A4 1
; Bbmaj7 ; F4 4
/ ; Am7 D7@2 ; C5 2, A4 1, F#4 1
; Gmaj7 ; B4 1, D5 3
; Gm7 C7@2 ; D5 1.5, C5 .5, Bb4 1, G4 1
; Fm7 Bb7@2 ; Ab4 3, G4 .5, Bb4 .5
A / ; Ebmaj7 ; D5 1.5, C5 2.5~
; Bbm7 Eb7@2 ; C5 1, Bb4 1, G4 1, Eb4 .5, G4 .5
; Abmaj7 ; C5 1.5, Bb4 2.5~
; Abm7 Db7@2 ; Bb4 1, Ab4 1, F4 1, G4 .5, Bb4 .5
/ ; Gm7 ; D5 1, F5 3
; C7(b9) ; E5 1.5, Db5 .5, Bb4 1, G4 1
; Fm7 Bb7@2 ; Ab4 2, D5 1, C5 .5, D5 .5
; Eb6 ; Eb5 4
""")

SNOW = Sheet("snow", "What the Snow Kept", Key(-1), (4, 4), 66, "Ballad", 1, """
; ; C5 .5, D5 .5
A / ; Fmaj7 ; E5 4~
; Dm7 ; E5 2, D5 .5, C5 .5, A4 1
; Bm7b5 E7(b9)@2 ; D5 2, G#4 1, B4 1
; Am7 D7(b9)@2 ; C5 3, G4 .5, A4 .5
/ ; Gm7 ; Bb4 4~
; Bbm7 Eb7@2 ; Bb4 2, G4 1, F4 1
; Am7 Abdim7@2 ; E4 1, G4 1, F4 1, Ab4 1
; Gm7 C7@2 ; G4 1, Bb4 2, C5 .5, D5 .5
B / ; Cm7 ; Eb5 4~
; F7 ; Eb5 2, D5 .5, C5 .5, A4 1
; Bbmaj7 ; D5 1, F5 3
; Bbm7 Eb7@2 ; F5 1, Db5 1, Bb4 1, G4 1
/ ; Am7 ; E5 1.5, D5 .5, C5 1, G4 1
; Dm7 ; A4 4
; G7 ; B4 1, D5 1, E5 2
; Gm7 C7@2 ; D5 1, C5 1/3, Bb4 1/3, A4 1/3, G4 1, C5 .5, D5 .5
A / ; Fmaj7 ; E5 4~
; Dm7 ; E5 2, D5 .5, C5 .5, A4 1
; Bm7b5 E7(b9)@2 ; D5 2, G#4 1, B4 1
; Am7 D7(b9)@2 ; C5 3, G4 .5, A4 .5
/ ; Gm7 ; Bb4 4~
; Bbm7 Eb7@2 ; Bb4 2, G4 1, F4 1
; Am7 Abdim7@2 ; E4 1, G4 1, F4 1, Ab4 1
; Gm7 C7@2 ; G4 1, Bb4 1, C5 1, D5 1
C / ; Cm7 F7@2 ; Eb5 1.5, F5 .5, Eb5 .5, D5 .5, C5 1
; Bbmaj7 ; D5 4
; Bbm7 ; Db5 1.5, Eb5 .5, Db5 .5, C5 .5, Bb4 1
; Eb7 ; C5 4
/ ; Am7 D7(b9)@2 ; E5 2, Eb5 1, C5 1
; Gm7 C7(b9)@2 ; D5 2, Db5 1, Bb4 1
; Fmaj7 ; A4 4~
; F6 ; A4 2, r 2
""")

FERRY = Sheet("ferry", "Ferry Before Noon", Key(1), (3, 4), 150, "Jazz waltz", 0, """
A / ; Gmaj7 ; G4 1.5, A4 .5, B4 1
; Gmaj7 ; D5 3
; Am7 ; C5 1.5, B4 .5, A4 1
; D7 ; F#4 3
/ ; Bm7 ; A4 1.5, B4 .5, D5 1
; E7(b9) ; F5 1.5, E5 .5, D5 1
; Am7 ; C5 3~
; D7 ; C5 3
/ ; Gmaj7 ; B4 1.5, C5 .5, D5 1
; G7 ; F5 3
; Cmaj7 ; E5 1.5, D5 .5, B4 1
; Cm7 F7@2 ; G4 3
/ ; Bm7 ; D5 1.5, B4 .5, A4 1
; Bbm7 ; Db5 1.5, Bb4 .5, Ab4 1
; Am7 ; C5 1.5, A4 .5, G4 1
; D7 ; B4 3
B / ; Gmaj7 ; G4 1.5, A4 .5, B4 1
; C#m7b5 F#7(b9)@2 ; E5 2, C#5 1
; Bm7 ; D5 3
; E7(b9) ; F5 1, D5 1, B4 1
/ ; Am7 ; C5 1.5, B4 .5, G4 1
; Cm7 F7@2 ; Eb5 3
; Bm7 ; D5 1.5, B4 .5, A4 1
; E7(b9) ; G#4 3
/ ; Cmaj7 ; G4 1, B4 1, D5 1
; C#dim7 ; E5 3
; G/D ; D5 1.5, B4 .5, G4 1
; E7(b9) ; B4 1, D5 1, F5 1
/ ; Am7 ; E5 2, C5 1
; D7 ; A4 1, F#4 1, A4 1
; Gmaj7 ; B4 3~
; G6 ; B4 3
""")

UMBRELLA = Sheet("umbrella", "Wrong Umbrella", Key(-3, "minor"), (4, 4), 132, "Medium swing", 0,
                 """
/ ; Cm7 ; G4 .5, Bb4 .5, C5 1, Eb5 .5, C5 1.5~
; Cm7 ; C5 2, r 2
; Cm7 ; G4 .5, Bb4 .5, C5 1, F5 .5, Eb5 1.5~
; C7(#9) ; Eb5 2, r 2
/ ; Fm7 ; Ab4 .5, C5 .5, Eb5 1, C5 2~
; Fm7 ; C5 4
; Cm7 ; G4 .5, Bb4 .5, C5 1, Bb4 .5, G4 1.5~
; Cm7 ; G4 2, r 1, G4 .5, Bb4 .5
/ ; Ab7 ; C5 1, Eb5 2, C5 1
; G7(b9,b13) ; B4 1, Eb5 2, B4 1
; Cm7 ; C5 .5, Bb4 .5, G4 1, Eb4 .5, C4 1.5~
; Dm7b5 G7(b9)@2 ; C4 2, r 2
""")

SHEETS = (LAMP, SNOW, FERRY, UMBRELLA)


# --- the notation read ----------------------------------------------------------------------


@dataclass(frozen=True)
class Tone:
    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch | None
    tie: bool


@dataclass(frozen=True)
class Measure:
    marks: tuple[str, ...]
    chords: tuple[tuple[Fraction, str], ...]
    tones: tuple[Tone, ...]


def read_bar(line: str) -> Measure:
    marks, chords, notes = (part.strip() for part in line.split(";"))
    tones, onset = [], Fraction(0)
    for item in notes.split(","):
        name, length = item.split()
        duration = Fraction(length.rstrip("~"))
        tones.append(Tone(onset, duration, None if name == "r" else Pitch.parse(name),
                          length.endswith("~")))
        onset += duration
    placed = []
    for word in chords.split():
        symbol, _, place = word.partition("@")
        placed.append((Fraction(place or 0), symbol))
    return Measure(tuple(marks.split()), tuple(placed), tuple(tones))


def written_pieces(tone: Tone, meter: tuple[int, int]) -> list[tuple[Fraction, Fraction]]:
    """A length split into printable values that show the beats and the middle of a 4/4 bar."""
    start, end = tone.onset_quarter, tone.onset_quarter + tone.duration_quarter
    if tone.duration_quarter.denominator == 3:
        return [(start, tone.duration_quarter)]
    cuts = set()
    if start.denominator != 1 and end > start + 1:
        cuts.add(Fraction(int(start) + 1))  # an off-beat start: show the next beat
    middle = Fraction(2)
    on_two = start == 1 and end == 3  # a half note on the second beat is read at sight
    if meter == (4, 4) and 0 < start < middle < end and not on_two:
        cuts.add(middle)
    points = [start, *sorted(cut for cut in cuts if start < cut < end), end]
    return [(low, high - low) for low, high in pairwise(points)]


# --- MusicXML written -----------------------------------------------------------------------

_TYPES = {Fraction(4): ("whole", 0), Fraction(3): ("half", 1), Fraction(2): ("half", 0),
          Fraction(3, 2): ("quarter", 1), Fraction(1): ("quarter", 0),
          Fraction(1, 2): ("eighth", 0), Fraction(1, 3): ("eighth", 0)}
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def child(parent: etree._Element, tag: str, content: object = None, /,
          **attributes: str) -> etree._Element:
    element = etree.SubElement(parent, tag,
                               {key.replace("_", "-"): value for key, value in attributes.items()})
    if content is not None:
        element.text = str(content)
    return element


def write_harmony(measure: etree._Element, name: str) -> None:
    symbol = parse_chord(name)
    assert symbol.root is not None
    harmony = child(measure, "harmony")
    root = child(harmony, "root")
    child(root, "root-step", symbol.root.step)
    if symbol.root.alter:
        child(root, "root-alter", symbol.root.alter)
    changes = kind_changes(symbol.kind, symbol.degrees)
    text = re.sub(r"\(.*\)", "", symbol.suffix)
    extra = {"parentheses_degrees": "yes"} if changes else {}
    child(harmony, "kind", symbol.kind, text=text, **extra)
    if symbol.bass is not None:
        bass = child(harmony, "bass")
        child(bass, "bass-step", symbol.bass.step)
        if symbol.bass.alter:
            child(bass, "bass-alter", symbol.bass.alter)
    for action, degree in changes:
        number = int(degree.lstrip("b#"))
        # Added degrees count from a dominant chord, so a plain seventh is the minor one.
        alter = degree_interval(degree).semitones - degree_interval(str(number)).semitones
        element = child(harmony, "degree")
        child(element, "degree-value", number)
        child(element, "degree-alter", alter)
        child(element, "degree-type", action)


def beams_of(pieces: list[tuple[Fraction, Fraction, bool]]) -> list[str]:
    """For each piece "begin", "continue", "end" or "": eighths within one beat go together."""
    result = [""] * len(pieces)
    by_beat: dict[int, list[int]] = {}
    for index, (onset, duration, is_rest) in enumerate(pieces):
        if duration < 1 and not is_rest:
            by_beat.setdefault(int(onset), []).append(index)
    for group in by_beat.values():
        if len(group) > 1:
            for index in group:
                result[index] = "continue"
            result[group[0]], result[group[-1]] = "begin", "end"
    return result


def write_notes(measure: etree._Element, bar: Measure, sheet: Sheet, tied_in: bool) -> None:
    signature = {name.step: name.alter for name in sheet.key.scale}
    seen: dict[tuple[str, int], int] = {}
    pieces = [(tone, onset, duration, place)
              for tone in bar.tones
              for place, (onset, duration) in enumerate(written_pieces(tone, sheet.meter))]
    last_piece = {id(tone): place for tone, _, _, place in pieces}
    beams = beams_of([(onset, duration, tone.pitch is None) for tone, onset, duration, _ in pieces])
    chords = list(bar.chords)
    thirds = 0
    for (tone, onset, duration, place), beam in zip(pieces, beams, strict=True):
        for chord in [c for c in chords if onset <= c[0] < onset + duration]:
            chords.remove(chord)
            write_harmony(measure, chord[1])
            if chord[0] > onset:
                offset = (chord[0] - onset) * DIVISIONS
                element = measure[-1]
                child(element, "offset", offset)
        note = child(measure, "note")
        if tone.pitch is None:
            child(note, "rest")
        else:
            pitch = child(note, "pitch")
            child(pitch, "step", tone.pitch.step)
            if tone.pitch.alter:
                child(pitch, "alter", tone.pitch.alter)
            child(pitch, "octave", tone.pitch.octave)
        child(note, "duration", duration * DIVISIONS)
        stops = place > 0 or (tied_in and tone is bar.tones[0])
        starts = place < last_piece[id(tone)] or tone.tie
        if stops:
            child(note, "tie", type="stop")
        if starts:
            child(note, "tie", type="start")
        child(note, "voice", 1)
        kind, dots = _TYPES[duration]
        child(note, "type", kind)
        for _ in range(dots):
            child(note, "dot")
        if tone.pitch is not None:
            spot = (tone.pitch.step, tone.pitch.octave)
            current = seen.get(spot, signature[tone.pitch.step])
            if tone.pitch.alter != current and not (stops and place == 0):
                child(note, "accidental", _ACCIDENTALS[tone.pitch.alter])
            seen[spot] = tone.pitch.alter
        triplet = duration.denominator == 3
        if triplet:
            modification = child(note, "time-modification")
            child(modification, "actual-notes", 3)
            child(modification, "normal-notes", 2)
        if beam:
            child(note, "beam", beam, number="1")
        thirds = thirds + 1 if triplet else 0
        if stops or starts or thirds in (1, 3):
            notations = child(note, "notations")
            if stops:
                child(notations, "tied", type="stop")
            if starts:
                child(notations, "tied", type="start")
            if thirds in (1, 3):
                child(notations, "tuplet", type="start" if thirds == 1 else "stop")
            if thirds == 3:
                thirds = 0
    assert not chords, f"chords left over: {chords}"


def write_opening(measure: etree._Element, sheet: Sheet) -> None:
    attributes = child(measure, "attributes")
    child(attributes, "divisions", DIVISIONS)
    key = child(attributes, "key")
    child(key, "fifths", sheet.key.fifths)
    child(key, "mode", sheet.key.mode)
    time = child(attributes, "time")
    child(time, "beats", sheet.meter[0])
    child(time, "beat-type", sheet.meter[1])
    clef = child(attributes, "clef")
    child(clef, "sign", "G")
    child(clef, "line", 2)
    direction = child(measure, "direction", placement="above")
    child(child(direction, "direction-type"), "words", sheet.words, font_weight="bold")
    metronome = child(child(direction, "direction-type"), "metronome", parentheses="yes")
    child(metronome, "beat-unit", "quarter")
    child(metronome, "per-minute", sheet.tempo_bpm)
    sound = child(direction, "sound", tempo=str(sheet.tempo_bpm))
    swing = child(sound, "swing")
    child(swing, "first", 2)
    child(swing, "second", 1)
    child(swing, "swing-type", "eighth")


def write_sheet(sheet: Sheet) -> bytes:
    score = etree.Element("score-partwise", {"version": "4.0"})
    child(child(score, "work"), "work-title", sheet.title)
    identification = child(score, "identification")
    child(identification, "creator", "fillwright", type="composer")
    child(identification, "rights", "MIT licence, the fillwright authors")
    child(child(identification, "encoding"), "software", "fillwright")
    part_list = child(score, "part-list")
    child(child(part_list, "score-part", id="P1"), "part-name", "Lead sheet")
    part = child(score, "part", id="P1")
    bars = [read_bar(line) for line in sheet.bars.strip().splitlines()]
    tied_in = False
    for index, bar in enumerate(bars):
        pickup = index == 0 and bool(sheet.pickup_quarter)
        number = index if sheet.pickup_quarter else index + 1
        measure = child(part, "measure", number=str(number))
        if pickup:
            measure.set("implicit", "yes")
        length = sum((tone.duration_quarter for tone in bar.tones), Fraction(0))
        wanted = sheet.pickup_quarter if pickup else 4 * sheet.meter[0] // sheet.meter[1]
        assert length == wanted, f"{sheet.name}, bar {number}: {length} quarters, not {wanted}"
        if "/" in bar.marks and index > bool(sheet.pickup_quarter):
            child(measure, "print", new_system="yes")
        endings = {mark.strip("[]"): mark for mark in bar.marks if mark.strip("[]").isdigit()}
        opens = [n for n, mark in endings.items() if mark.startswith("[")]
        closes = [n for n, mark in endings.items() if mark.endswith("]")]
        if "|:" in bar.marks or opens:
            barline = child(measure, "barline", location="left")
            if "|:" in bar.marks:
                child(barline, "bar-style", "heavy-light")
            for number_text in opens:
                child(barline, "ending", number=number_text, type="start")
            if "|:" in bar.marks:
                child(barline, "repeat", direction="forward")
        if index == 0:
            write_opening(measure, sheet)
        for mark in bar.marks:
            if mark.isalpha():
                direction = child(measure, "direction", placement="above")
                child(child(direction, "direction-type"), "rehearsal", mark)
        write_notes(measure, bar, sheet, tied_in)
        tied_in = bar.tones[-1].tie
        final = index == len(bars) - 1
        if ":|" in bar.marks or closes or final:
            barline = child(measure, "barline", location="right")
            if ":|" in bar.marks or final:
                child(barline, "bar-style", "light-heavy")
            for number_text in closes:
                child(barline, "ending", number=number_text,
                      type="stop" if ":|" in bar.marks else "discontinue")
            if ":|" in bar.marks:
                child(barline, "repeat", direction="backward")
    return etree.tostring(score, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def main() -> None:
    DATA.mkdir(exist_ok=True)
    for sheet in SHEETS:
        path = DATA / f"{sheet.name}.musicxml"
        path.write_bytes(write_sheet(sheet))
        print(path.name, sheet.title)


if __name__ == "__main__":
    main()
