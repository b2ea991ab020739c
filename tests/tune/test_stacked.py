"""Several chord symbols before one note: spread over it, with a notice that says where."""

from __future__ import annotations

import pytest
from tests.tune.sheets import attributes, chord, note, notes, read_bars, symbols

BBM7, EB7, AB = chord("Bb", "minor-seventh"), chord("Eb", "dominant"), chord("Ab")


@pytest.mark.parametrize(("bar", "expected"), [
    (BBM7 + EB7 + notes("C5:16"), "Bbm7@0 Eb7@2"),
    (BBM7 + EB7 + AB + notes("C5:16"), "Bbm7@0 Eb7@2 Ab@3"),  # the first is the longer
    (BBM7 + EB7 + notes("C5:8 D5:8"), "Bbm7@0 Eb7@1"),
    (notes("C5:8") + BBM7 + EB7 + notes("D5:8"), "Bbm7@2 Eb7@3"),
    (BBM7 + EB7 + notes("r:8 D5:8"), "Bbm7@0 Eb7@1"),
    # a short note: the symbols reach over the notes that have none
    (BBM7 + EB7 + notes("C5:4 D5:12"), "Bbm7@0 Eb7@1"),
    (BBM7 + EB7 + notes("C5:4") + AB + notes("D5:12"), "Bbm7@0 Eb7@1/2 Ab@1"),
    # an equal one is printed twice, not played twice
    (AB + AB + notes("C5:16"), "Ab@0"),
])
def test_evenly_over_the_beats_of_the_note(bar: str, expected: str) -> None:
    assert symbols(read_bars([bar])) == expected


def test_a_waltz_and_a_compound_meter() -> None:
    waltz = read_bars([BBM7 + EB7 + notes("C5:12")], first=attributes(time="3/4"))
    assert symbols(waltz) == "Bbm7@0 Eb7@2"
    jig = read_bars([BBM7 + EB7 + notes("C5:12")], first=attributes(time="6/8"))
    assert symbols(jig) == "Bbm7@0 Eb7@3/2"


def test_the_notice_says_where() -> None:
    tune = read_bars([BBM7 + EB7 + notes("C5:16")])
    assert tune.warnings == (
        "bar 1: chords Bbm7 and Eb7 stand above one note; they are put on beats 1 and 3",)


def placed(root: str, kind: str, **x: int) -> str:
    where = " ".join(f'{name}-x="{value}"' for name, value in x.items())
    return chord(root, kind, attributes=where)


def test_the_print_gives_the_order() -> None:
    bar = (placed("Eb", "dominant", relative=60) + placed("Bb", "minor-seventh", relative=0)
           + notes("C5:16"))
    assert symbols(read_bars([bar])) == "Bbm7@0 Eb7@2"


def test_the_print_gives_the_places_where_the_page_is_measured() -> None:
    bar = (placed("Bb", "minor-seventh", default=20) + placed("Eb", "dominant", default=170)
           + note("C5", 16, attributes='default-x="20"'))
    tune = read_bars([bar], bar_attributes={1: 'width="220"'})
    assert symbols(tune) == "Bbm7@0 Eb7@3"


def test_places_by_offset_stay() -> None:
    bar = chord("Bb", "minor-seventh") + chord("Eb", "dominant", offset=12) + notes("C5:16")
    tune = read_bars([bar])
    assert symbols(tune) == "Bbm7@0 Eb7@3" and not tune.warnings
