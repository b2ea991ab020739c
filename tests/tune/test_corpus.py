"""Reading and unfolding against music21 10.5, on its own corpus.

Every corpus sheet with chord symbols is read and unfolded, and compared where music21 itself
succeeds. It is no oracle for forms: a second repeat without a beginning goes back to the
first bar there, here (as a player reads it) to the end of the repeat before; a repeated
pickup without room makes a bar too long there. Sheets where that matters are not compared.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import music21
import pytest
from lxml import etree
from music21 import converter, harmony, repeat

from fillwright import Chorus, InputError, Tune, read_tune, unfold
from fillwright.tune import read_bytes
from fillwright.tune.abc import score_from_abc
from fillwright.tune.assemble import tune_from_score
from fillwright.tune.container import unpack
from fillwright.tune.notices import Notices

pytestmark = pytest.mark.slow

MUSIC21 = Path(str(music21.__file__)).parent
CORPUS = MUSIC21 / "corpus"
SUITE = MUSIC21 / "musicxml" / "lilypondTestSuite"

LEAD_SHEETS = ["leadSheet/berlinAlexandersRagtime.mxl", "leadSheet/fosterBrownHair.mxl",
               "demos/ComprehensiveChordSymbolsTestFile.mxl",
               "demos/chord_realization_exercise.mxl"]
WITH_CHORDS = [*LEAD_SHEETS, *(f"monteverdi/madrigal.{n}.mxl" for n in (
    "3.1", "3.15", "3.16", "3.17", "3.5", "3.7", "3.8", "5.4"))]


@lru_cache(maxsize=16)
def corpus_xml(name: str) -> bytes:
    return unpack((CORPUS / name).read_bytes())


@lru_cache(maxsize=16)
def through_music21(name: str) -> Any:
    return converter.parse(corpus_xml(name), format="musicxml")


def top_notes(stream: Any) -> list[tuple[Fraction, int]]:
    """Onset and MIDI number of the highest note at each place in a music21 part."""
    highest: dict[Fraction, int] = {}
    for element in stream.flatten().notes:
        if isinstance(element, harmony.ChordSymbol) or element.duration.isGrace \
                or element.style.hideObjectOnPrint:
            continue
        onset = Fraction(element.offset).limit_denominator(1000)
        highest[onset] = max([highest.get(onset, 0), *(p.midi for p in element.pitches)])
    return sorted(highest.items())


def printed(tune: Tune) -> list[tuple[Fraction, int]]:
    place, found = Fraction(0), []
    for bar in tune.bars:
        found += [(place + note.onset_quarter, note.pitch.midi) for note in bar.notes]
        place += bar.length_quarter
    return found


def test_the_list_of_sheets_with_chords_is_complete() -> None:
    found = []
    for path in sorted(CORPUS.rglob("*.mxl")):
        if b"<harmony" in unpack(path.read_bytes()):
            found.append(path.relative_to(CORPUS).as_posix())
    assert sorted(WITH_CHORDS) == found


@pytest.mark.parametrize("name", WITH_CHORDS)
def test_every_sheet_with_chords_reads_and_unfolds(name: str) -> None:
    tune = read_tune(CORPUS / name)
    chorus = unfold(tune)
    assert chorus.melody
    assert chorus.chords
    assert len(chorus.bars) >= len(tune.bars) - 1


@pytest.mark.parametrize("name", [*LEAD_SHEETS, "monteverdi/madrigal.3.15.mxl"])
def test_melodies(name: str) -> None:
    assert printed(read_tune(CORPUS / name)) == top_notes(through_music21(name).parts[0])


# Read otherwise by music21: the augmented sixth and the Neapolitan on other tones, and of a
# kind it does not know only the root; of two degrees in one element it takes the first.
DIFFERENT_TONES = {"CN6", "CIt+6", "DmMaj7", "C11omit3,7", "FTristan"}


@pytest.mark.parametrize("name", LEAD_SHEETS)
def test_chord_symbols(name: str) -> None:
    tune = read_tune(CORPUS / name)
    place, ours = Fraction(0), []
    for bar in tune.bars:
        for chord in bar.chords:
            if chord.symbol.is_chord:
                ours.append((place + chord.onset_quarter, chord.symbol))
        place += bar.length_quarter
    theirs = [c for c in through_music21(name).parts[0].flatten().getElementsByClass(
        harmony.ChordSymbol) if not isinstance(c, harmony.NoChord)]
    assert [onset for onset, _ in ours] == [Fraction(c.offset) for c in theirs]
    for (_, symbol), other in zip(ours, theirs, strict=True):
        if str(symbol) in DIFFERENT_TONES:
            continue
        assert set(symbol.pitch_classes) == set(other.pitchClasses), str(symbol)
        assert symbol.root is not None
        assert symbol.root.pitch_class == other.root().pitchClass
        low = symbol.lowest
        assert low is not None
        assert low.pitch_class == other.bass().pitchClass


@pytest.mark.parametrize("name", LEAD_SHEETS)
def test_forms(name: str) -> None:
    chorus = unfold(read_tune(CORPUS / name))
    expanded = through_music21(name).parts[0].expandRepeats()
    assert [bar.number for bar in chorus.bars] == [
        str(measure.number) for measure in expanded.getElementsByClass("Measure")]
    assert [(n.onset_quarter, n.midi) for n in chorus.melody] == \
        top_notes(expanded.stripTies())


# Fiddle tunes in ABC, as MusicXML with a chord symbol put in -----------------------------


def with_a_chord(score: etree._Element) -> bytes:
    measure = next(score.iter("note")).getparent()
    assert measure is not None
    measure.insert(0, etree.fromstring(
        "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"))
    return etree.tostring(score)


def read_abc(name: str) -> tuple[Tune, Chorus, bytes]:
    score = score_from_abc((CORPUS / name).read_bytes(), Notices())
    data = with_a_chord(score.root)
    tune = tune_from_score(etree.fromstring(data), name, Notices())
    return tune, unfold(tune), data


FIDDLE_TUNES = sorted((CORPUS / "ryansMammoth").glob("*.abc"))[3::97]


@pytest.mark.parametrize("path", FIDDLE_TUNES, ids=[path.stem for path in FIDDLE_TUNES])
def test_fiddle_tunes(path: Path) -> None:
    """Ten of the collection: notes as printed and, where every repeat has a beginning and
    the pickups leave room, the form."""
    tune, chorus, data = read_abc(path.relative_to(CORPUS).as_posix())
    theirs: Any = converter.parse(data, format="musicxml")
    theirs = theirs.parts[0]
    assert printed(tune) == top_notes(theirs)
    ends = [index for index, bar in enumerate(tune.bars) if bar.marks.repeat_end]
    starts = [index for index, bar in enumerate(tune.bars) if bar.marks.repeat_start]
    whole = chorus.length_quarter == sum(tune.bars[bar.bar_index].length_quarter
                                         for bar in chorus.bars)
    if len(starts) >= len(ends) - 1 and whole and all(
            sum(s <= e for s in starts) >= number for number, e in enumerate(ends)):
        try:
            expanded = theirs.expandRepeats()
        except repeat.ExpanderException:  # one sheet in twenty
            return
        numbers = [str(m.number) for m in expanded.getElementsByClass("Measure")]
        if [bar.number for bar in chorus.bars] == numbers:
            assert [(n.onset_quarter, n.midi) for n in chorus.melody] == \
                top_notes(expanded.stripTies())
        else:  # after a jump music21 numbers the bars anew
            assert len(chorus.bars) == len(numbers)


def test_fiddle_tunes_with_chord_symbols() -> None:
    tune = read_tune(CORPUS / "nottingham-dataset" / "reelsa-c.abc")
    text = [str(chord.symbol) for bar in tune.bars for chord in bar.chords]
    assert text[:8] == ["D", "Em", "A", "C", "Em", "A7", "D", "Em"]
    second = read_tune(f"{CORPUS}/nottingham-dataset/reelsa-c.abc#81")
    assert "Am/C" in [str(chord.symbol) for bar in second.bars for chord in bar.chords]
    assert [bar.number for bar in unfold(second).bars][-1] == second.bars[-1].number


# The MusicXML test suite of LilyPond, as music21 carries it ------------------------------


def suite_sheet(name: str) -> Chorus:
    """A file of the suite with a chord symbol and, where it has only rests, notes."""
    text = (SUITE / name).read_text(encoding="utf-8")
    text = re.sub(r"<rest[^>]*/>|<rest>.*?</rest>",
                  "<pitch><step>C</step><octave>5</octave></pitch>", text, flags=re.DOTALL)
    data = with_a_chord(etree.fromstring(text.encode()))
    return unfold(read_bytes(data, name))


@pytest.mark.parametrize(("name", "bars"), [
    ("45a-SimpleRepeat.xml", "1 1 1 1 1 2"),
    ("45b-RepeatWithAlternatives.xml", "1 2 1 3 4"),
    ("45c-RepeatMultipleTimes.xml", "1 2 3 2 3 2 3 2 3 2 3 4 5 6 7 4 5 6 7 4 5 6 7 8"),
    # its second and third endings lack repeat signs, its last group is numbered 1 and 5
    ("45d-Repeats-Nested-Alternatives.xml", "1 2 1 3 4 5 1 6 7 8 9 10 7 8 9 11 12"),
    ("45e-Repeats-Nested-Alternatives.xml", "1 2 1 3 4 5 5 6 7 6 8 9 8 9 10"),
    ("45g-Repeats-NotEnded.xml", "1 2"),
])
def test_repeats_of_the_suite(name: str, bars: str) -> None:
    """The orders a player would take, worked out by hand."""
    assert [bar.number for bar in suite_sheet(name).bars] == bars.split()


def test_repeats_of_the_suite_that_make_no_sense() -> None:
    chorus = suite_sheet("45f-Repeats-InvalidEndings.xml")
    assert {bar.number for bar in chorus.bars} == set("12345")
    assert chorus.warnings


@pytest.mark.parametrize("path", sorted(SUITE.glob("*.xml")), ids=lambda path: str(path.stem))
def test_every_file_of_the_suite_reads_or_is_refused_clearly(path: Path) -> None:
    try:
        chorus = unfold(read_tune(path))
    except InputError as error:
        assert re.search("no chord symbols|no notes that sound", error.message)
    else:
        assert chorus.melody
