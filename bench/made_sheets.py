"""Any number of lead sheets, made by transposing and splicing a few: the same seed, the same bytes.

Phrases of four bars of tunes in one metre are put behind each other in one key. They are no music
to play, but they have keys, chords, held notes, ties and ends as sheets have them.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from fillwright import ChordSymbol, InputError, Key, Pitch, Tune, read_tune
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.exact import Fraction
from fillwright.theory.chord import degree_number, kind_changes
from fillwright.tune.model import Bar, MelodyNote, WrittenChord
from fillwright.tune.transpose import transpose_tune

PHRASE_BARS = 4
DIVISIONS = 480
_KEYS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]


def patterns(folder: Path | None = None) -> list[Tune]:
    """The tunes that are taken apart: the demo tunes, and those of a folder that can be read."""
    found = [read_tune(demo_path(name)) for name in DEMO_TUNES]
    for path in sorted(folder.iterdir()) if folder is not None else ():
        try:
            found.append(read_tune(path))
        except InputError:
            continue
    return found


def made_sheet(tunes: Sequence[Tune], seed: int) -> bytes:
    """The sheet of a seed, as MusicXML."""
    dice = random.Random(seed)
    first = dice.choice(tunes)
    same = [tune for tune in tunes if tune.meter == first.meter
            and tune.key.mode == first.key.mode] or [first]
    key = Key.parse(dice.choice(_KEYS))
    bars: list[Bar] = []
    for _ in range(dice.choice((3, 4, 6, 8))):
        whole = transpose_tune(dice.choice(same), key)
        inside = [bar for bar in whole.bars if bar.length_quarter == bar.meter.length_quarter
                  and bar.meter == first.meter]
        if len(inside) < PHRASE_BARS:
            continue
        start = dice.randrange(len(inside) // PHRASE_BARS) * PHRASE_BARS
        bars += _phrase(inside[start:start + PHRASE_BARS])
    if not bars:
        bars = [replace(bar, marks=type(bar.marks)()) for bar in first.bars]
    return sheet_xml(replace(first, title=f"Made {seed}", bars=tuple(bars),
                             tempo_bpm=Fraction(dice.randrange(60, 240))))


def _phrase(bars: Sequence[Bar]) -> Iterable[Bar]:
    """A phrase that stands by itself: nothing is tied out of it."""
    for place, bar in enumerate(bars):
        notes = bar.notes
        if place == 0 and notes:
            notes = (replace(notes[0], tie_stop=False), *notes[1:])
        if place == len(bars) - 1 and notes:
            notes = (*notes[:-1], replace(notes[-1], tie_start=False))
        yield replace(bar, notes=notes, marks=type(bar.marks)(), section="")


def sheet_xml(tune: Tune) -> bytes:
    """A tune as plain MusicXML: one part, melody and chord symbols."""
    measures = []
    for place, bar in enumerate(tune.bars):
        head = _head(tune) if place == 0 else ""
        measures.append(f'<measure number="{place + 1}">{head}{_bar(bar)}</measure>')
    return (f'<score-partwise version="4.0"><work><work-title>{escape(tune.title)}</work-title>'
            '</work><part-list><score-part id="P1"><part-name>P</part-name></score-part>'
            f'</part-list><part id="P1">{"".join(measures)}</part></score-partwise>').encode()


def _head(tune: Tune) -> str:
    quarters = tune.tempo_bpm * tune.meter.beat_quarter
    return (f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{tune.key.fifths}"
            f"</fifths><mode>{tune.key.mode}</mode></key><time><beats>{tune.meter.beats}</beats>"
            f"<beat-type>{tune.meter.beat_type}</beat-type></time></attributes>"
            f'<direction><sound tempo="{float(quarters):g}"/></direction>')


def _bar(bar: Bar) -> str:
    place = Fraction(0)
    parts = [_chord(chord) for chord in bar.chords]  # with offsets from the bar line
    for note in sorted(bar.notes, key=lambda n: n.onset_quarter):
        if note.onset_quarter > place:
            parts.append(_rest(note.onset_quarter - place))
        parts.append(_note(note))
        place = note.onset_quarter + note.duration_quarter
    if place < bar.length_quarter:
        parts.append(_rest(bar.length_quarter - place))
    return "".join(parts)


def _units(quarters: Fraction) -> int:
    return int(quarters * DIVISIONS)


def _rest(quarters: Fraction) -> str:
    return f"<note><rest/><duration>{_units(quarters)}</duration></note>"


def _pitch(pitch: Pitch) -> str:
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return (f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>")


def _note(note: MelodyNote) -> str:
    ties = ('<tie type="stop"/>' * note.tie_stop) + ('<tie type="start"/>' * note.tie_start)
    return (f"<note>{_pitch(note.pitch)}<duration>{_units(note.duration_quarter)}</duration>"
            f"{ties}</note>")


def _chord(chord: WrittenChord) -> str:
    symbol = chord.symbol
    offset = f"<offset>{_units(chord.onset_quarter)}</offset>"
    if symbol.root is None:
        return (f'<harmony><root><root-step text="">C</root-step></root><kind text="N.C.">none'
                f"</kind>{offset}</harmony>")
    alter = f"<root-alter>{symbol.root.alter}</root-alter>" if symbol.root.alter else ""
    return (f"<harmony><root><root-step>{symbol.root.step}</root-step>{alter}</root><kind text="
            f"{quoteattr(symbol.suffix)}>{symbol.kind}</kind>{_bass(symbol)}{_degrees(symbol)}"
            f"{offset}</harmony>")


def _bass(symbol: ChordSymbol) -> str:
    if symbol.bass is None:
        return ""
    alter = f"<bass-alter>{symbol.bass.alter}</bass-alter>" if symbol.bass.alter else ""
    return f"<bass><bass-step>{symbol.bass.step}</bass-step>{alter}</bass>"


def _degrees(symbol: ChordSymbol) -> str:
    return "".join(
        f"<degree><degree-value>{degree_number(degree)}</degree-value><degree-alter>"
        f"{degree.count('#') - degree.count('b')}</degree-alter><degree-type>{action}"
        "</degree-type></degree>" for action, degree in kind_changes(symbol.kind, symbol.degrees))


def write_sheets(folder: Path, count: int, tunes: Sequence[Tune], first: int = 0) -> None:
    """Sheets of so many seeds, a thousand to a folder."""
    for seed in range(first, first + count):
        inside = folder / f"{seed // 1000:03d}"
        inside.mkdir(parents=True, exist_ok=True)
        (inside / f"made-{seed:06d}.musicxml").write_bytes(made_sheet(tunes, seed))
