"""The demo tunes: valid, as the script writes them, and playable as music."""

from __future__ import annotations

import importlib.util
import itertools
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path
from types import ModuleType

import pytest
from tests.score.schema import schema_errors

from fillwright import Chorus, find_gaps, read_tune, unfold
from fillwright.demo import DEMO_TUNES, demo_path

pytestmark = pytest.mark.slow

NAMES = sorted(DEMO_TUNES)
SCRIPT = Path(__file__).resolve().parent.parent / "tools" / "write_demo_tunes.py"


def chorus_of(name: str) -> Chorus:
    return unfold(read_tune(demo_path(name)))


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("write_demo_tunes", SCRIPT)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up there
    spec.loader.exec_module(module)
    return module


def test_every_file_of_the_package_is_a_named_tune() -> None:
    files = {path.stem for path in demo_path("lamp").parent.glob("*.musicxml")}
    assert files == set(DEMO_TUNES)
    with pytest.raises(KeyError):
        demo_path("nothing")


def test_files_are_what_the_script_writes(script: ModuleType) -> None:
    written = {sheet.name: script.write_sheet(sheet) for sheet in script.SHEETS}
    assert written == {name: demo_path(name).read_bytes() for name in NAMES}


@pytest.mark.parametrize("name", NAMES)
def test_files_are_valid_musicxml_4(name: str) -> None:
    assert schema_errors(demo_path(name).read_bytes()) == []


def test_the_schema_check_can_fail() -> None:
    broken = demo_path("lamp").read_bytes().replace(b"<voice>1</voice>", b"<voyce>1</voyce>", 1)
    assert schema_errors(broken)


@pytest.mark.parametrize(("name", "bars", "meter", "key", "tempo", "pickup"), [
    ("lamp", 32, "4/4", "Eb major", 144, True),
    ("snow", 32, "4/4", "F major", 66, True),
    ("ferry", 32, "3/4", "G major", 150, False),
    ("umbrella", 12, "4/4", "C minor", 132, False),
])
def test_each_reads_as_composed(name: str, bars: int, meter: str, key: str, tempo: int,
                                pickup: bool) -> None:
    tune = read_tune(demo_path(name))
    chorus = unfold(tune)
    assert tune.warnings == () and chorus.warnings == ()
    assert DEMO_TUNES[name].startswith(tune.title)
    assert (str(tune.meter), str(tune.key)) == (meter, key)
    assert tune.tempo_bpm == tempo
    assert tune.feel == "swing" and tune.tempo_marked
    assert tune.bars[0].is_pickup == pickup
    assert len(chorus.bars) == bars + pickup
    assert all(bar.length_quarter == bar.meter.length_quarter
               for bar in chorus.bars if not bar.is_pickup)


def test_the_repeat_of_the_aaba_tune_is_unfolded() -> None:
    numbers = [bar.number for bar in chorus_of("lamp").bars]
    once = [str(n) for n in range(7)]
    assert numbers == once + ["7", "8"] + once[1:] + [str(n) for n in range(9, 27)]


@pytest.mark.parametrize("name", NAMES)
def test_held_melody_notes_fit_their_chords(name: str) -> None:
    """Whatever sounds for a beat or longer over a chord is a chord tone or a tension."""
    chorus = chorus_of(name)
    for note in chorus.melody:
        for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
            start = max(note.onset_quarter, span.onset_quarter)
            end = min(note.end_quarter, span.end_quarter)
            if end - start >= 1:
                assert harmony is not None
                assert harmony.takes(note.pitch.pitch_class), (note, span.symbol)


@pytest.mark.parametrize("name", NAMES)
def test_melodies_lie_where_one_sings(name: str) -> None:
    midi = [note.midi for note in chorus_of(name).melody]
    assert min(midi) >= 60 and max(midi) <= 77  # C4 to F5
    leaps = [abs(high - low) for low, high in itertools.pairwise(midi)]
    # Within a phrase an octave at most; one larger leap opens the bridge of the AABA tune.
    assert sum(leap > 12 for leap in leaps) <= 1
    assert sum(leap <= 4 for leap in leaps) >= len(leaps) / 2  # mostly steps and thirds


def test_gaps_of_many_lengths_occur() -> None:
    beats = {name: Counter(gap.beats for gap in find_gaps(chorus_of(name))) for name in NAMES}
    together = sum(beats.values(), Counter[Fraction]())
    assert {2, 3, 4, 6} <= set(together)
    assert beats["snow"][Fraction(6)] >= 3  # whole notes tied to half notes
    for name in NAMES:
        bars = len(chorus_of(name).bars)
        assert 0.3 <= beats[name].total() / bars <= 0.7  # about one in every second bar


def test_some_gaps_have_two_or_more_chords() -> None:
    gaps = [gap for name in NAMES for gap in find_gaps(chorus_of(name))]
    assert sum(len(gap.chords) >= 2 for gap in gaps) >= len(gaps) / 4
    assert any(len(gap.chords) >= 3 for gap in gaps)
    assert any("tied" in gap.why for gap in gaps) and any("rest" in gap.why for gap in gaps)
