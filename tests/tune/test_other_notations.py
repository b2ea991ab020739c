"""What music21 converts, and chord symbols that are only text."""

from __future__ import annotations

import sys

import pytest
from tests.tune.sheets import chord, line, note, notes, read, read_bars, symbols, words

from fillwright import InputError

pytestmark = pytest.mark.slow

WHOLE = notes("C5:16")


def lyric(text: str, number: int = 1) -> str:
    return f'<lyric number="{number}"><text>{text}</text></lyric>'


def test_chords_as_words() -> None:
    tune = read_bars([words("Swing") + words("Cm7") + WHOLE, words("F7") + notes("C5:8")
                      + words("B♭Δ") + notes("D5:8"), words("N.C.") + WHOLE])
    assert [symbols(tune, bar) for bar in range(3)] == ["Cm7@0", "F7@0 BbΔ@2", "N.C.@0"]
    assert any("words above the staff" in warning for warning in tune.warnings)


def test_chords_as_lyrics() -> None:
    tune = read_bars([note("C5", 8, lyric("Cm7"), lyric("la", 2)) + notes("D5:8"),
                      note("C5", 16, lyric("F7"), lyric("Add", 2))])
    assert [symbols(tune, bar) for bar in range(2)] == ["Cm7@0", "F7@0"]
    assert any("verse 1" in warning for warning in tune.warnings)


@pytest.mark.parametrize("bars", [
    [words("A") + WHOLE, words("B") + WHOLE],  # sections
    [words("Fine") + WHOLE, words("D.C.") + WHOLE, words("Cm") + WHOLE],
    [note("C5", 16, lyric("A")), note("C5", 16, lyric("Dm")), note("C5", 16, lyric("dog"))],
    [words("Cm7") + WHOLE],  # one alone may be anything
])
def test_words_that_are_no_chords(bars: list[str]) -> None:
    with pytest.raises(InputError, match="no chord symbols"):
        read_bars(bars)


def test_words_do_not_count_where_there_are_chord_symbols() -> None:
    tune = read_bars([words("Am7") + words("D7") + chord("G") + WHOLE])
    assert symbols(tune) == "G@0"


def test_tiny_notation_with_chords_as_lyrics() -> None:
    tune = read(b"tinyNotation: 4/4 c4_C d4 e2_G7 c1_Am7", "x.tntxt")
    assert [line(tune, bar) for bar in range(2)] == ["C4@0+1 D4@1+1 E4@2+2", "C4@0+4"]
    assert [symbols(tune, bar) for bar in range(2)] == ["C@0 G7@2", "Am7@0"]
    assert any("music21" in warning for warning in tune.warnings)


@pytest.mark.parametrize(("data", "name", "sentence"), [
    (b"**kern\n*M4/4\n=1\n4c\n4d\n2e\n*-\n", "x.krn", "no chord symbols"),
    (b"\x00\xff garbage", "x.krn", "cannot be understood|no notes|no parts"),
    (b"<mei/>", "x.mei", "cannot be understood|no parts"),
    (b"", "x.krn", "empty"),
    (b"x" * 2_000_001, "x.krn", "limit of 2 MB"),
])
def test_what_music21_cannot_make_a_lead_sheet_of(data: bytes, name: str, sentence: str,
                                                  capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(data, name)
    assert caught.value.source == name
    assert capfd.readouterr().out == ""


def test_music21_is_imported_only_for_other_notations() -> None:
    import subprocess
    script = ("import sys, fillwright.tune.read as r\n"
              "r.read_bytes(sys.stdin.buffer.read(), 'x.abc')\n"
              "assert 'music21' not in sys.modules and 'numpy' not in sys.modules")
    subprocess.run([sys.executable, "-c", script], input=b'X:1\nK:C\n"C"C8|', check=True)


def test_without_the_extra_package_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fillwright.tune.convert.find_spec", lambda _: None)
    with pytest.raises(InputError, match=r"needs the extra package music21 .*notations"):
        read(b"**kern\n4c\n*-\n", "x.krn")
