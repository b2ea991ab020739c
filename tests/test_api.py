"""The package as it is used from Python and in a notebook."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from tests.fills.builders import chorus_of
from tests.tune.sheets import chord, notes, read_bars

import fillwright as fw
from fillwright.shown import Picture, Sound


@cache
def chorus() -> fw.Chorus:
    return chorus_of("4/4", "C", 120, [("E5", 4), ("A4", 3), ("B4", 1), ("C5", 4)],
                     [("Cmaj7", 4), ("Dm7", 2), ("G7", 2), ("Cmaj7", 4)])


@cache
def proposal() -> fw.Proposal:
    return fw.propose(chorus(), fw.find_gaps(chorus()), numbers=[1], count=1)


def fill() -> fw.Fill:
    return proposal().fills[0]


def test_what_is_printed_of_a_value_is_one_short_line() -> None:
    values: list[object] = [chorus().tune, chorus(), *fw.find_gaps(chorus()), proposal(),
                            *proposal().fills]
    for value in values:
        assert repr(value).startswith(f"<{type(value).__name__} ") or value is proposal()
        assert len(repr(value)) < 200 and "\n" not in repr(value)
    assert repr(fw.find_gaps(chorus())[1]) == (
        "<Gap 2: bar 2, beat 1, 3 beats, A4 over Dm7 G7, to B4>")
    assert "3 bars" in repr(chorus())


def gaps() -> tuple[fw.Gap, ...]:
    return fw.find_gaps(chorus())


def proposed(**asked: Any) -> Callable[[], object]:
    return lambda: fw.propose(chorus(), gaps(), **asked)


WRONG: list[tuple[Callable[[], object], str]] = [
    (proposed(families=["riff"]), "'riff' is no family; there are comp, reharm, line"),
    (proposed(families="comp"), "families is a list"),
    (proposed(without=["nonsense"]), "'nonsense' is no device"),
    (proposed(numbers=[999]), "there is no gap 999; there are 3"),
    (proposed(level="expert"), "'expert' is no level; there are beginner"),
    (proposed(hand="huge"), "'huge' is no hand; there are small"),
    (proposed(count=0), "count is a number from 1"),
    (lambda: fw.propose(chorus().tune, gaps()),  # type: ignore[arg-type]
     r"unfold\(tune\) makes one"),
    (lambda: fw.propose(chorus(), [1, 2]), "find_gaps"),  # type: ignore[arg-type]
    (lambda: fw.find_gaps(chorus().tune), r"unfold\(tune\)"),  # type: ignore[arg-type]
    (lambda: fw.unfold("tune.musicxml"), "read_tune"),  # type: ignore[arg-type]
    (lambda: fw.unfold(chorus().tune, tempo=Fraction(-1)), "more than 0"),
    (lambda: fw.unfold(chorus().tune, feel="rock"), "'rock' is no feel; there are swing"),
    (lambda: fw.unfold(chorus().tune, octave=9), "-4 to 4 octaves"),
    (lambda: fw.Options(choruses=3), "3 is not a value of choruses; it is one of 1, 2"),
    (lambda: fw.Options(level="none"), "level"),
    (lambda: fw.Options(hand="none"), "hand"),
    (lambda: fw.Options(feel="rock"), "feel"),
    (lambda: fw.Options(octave="2"), "octave"),
    (lambda: fw.Options(introduction=3), "introduction"),
    (lambda: fw.Options(ending=True), "ending"),
    (lambda: fw.Options(tempo=Fraction(0)), "tempo"),
    (lambda: fw.Options(mix=(("riff", 1),)), "riff"),
    (lambda: fw.arrange(chorus()), "read_tune"),  # type: ignore[arg-type]
    (lambda: fw.arrange(chorus().tune, fw.Options(without=("nonsense",))), "no device"),
    (lambda: fw.show(3), "an int cannot be shown"),
    (lambda: fw.play("x"), "cannot be played"),
]


@pytest.mark.parametrize("case", range(len(WRONG)))
def test_what_is_no_argument_is_one_clear_sentence(case: int) -> None:
    call, sentence = WRONG[case]
    with pytest.raises(fw.InputError, match=sentence) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_a_chord_symbol_is_read() -> None:
    assert fw.ChordSymbol.parse("G7(b9)/B").degrees == ("1", "3", "5", "b7", "b9")
    with pytest.raises(ValueError, match="'foo'"):
        fw.ChordSymbol.parse("Cfoo")


def test_a_fill_explains_itself() -> None:
    lines = fill().explain().split("\n")
    assert lines[0].startswith(f"{fill().device} ({fill().family}, intermediate, difficulty ")
    assert lines[1] == f"Count: {fill().counts}"
    assert lines[-len(fill().reasons):] == list(fill().reasons)


def test_where_a_fill_stands_says_nothing_of_what_it_is() -> None:
    again = pickle.loads(pickle.dumps(fill()))
    assert again == fill() and hash(again) == hash(fill())
    assert fill().chorus is chorus()


def test_a_fill_and_a_chorus_are_shown() -> None:
    for thing in (fill(), chorus()):
        picture = thing.show()
        assert isinstance(picture, Picture)
        assert picture._repr_svg_().startswith("<svg ")
        assert picture._repr_html_().count("data:image/svg+xml;base64,") == len(picture.pages)
        assert "&lt;" in thing._repr_html_() and "<img " in thing._repr_html_()


def test_a_fill_and_a_chorus_sound(tmp_path: Path) -> None:
    for thing in (fill(), chorus()):
        sound = thing.play()
        assert isinstance(sound, Sound) and sound.flac.startswith(b"fLaC")
        assert sound._repr_html_().startswith("<audio controls ")
    sound.save(tmp_path / "x.flac")
    assert (tmp_path / "x.flac").read_bytes() == sound.flac


def test_an_arrangement_is_shown_and_sounds() -> None:
    tune = read_bars([chord("C") + notes("E5:16"), chord("F") + notes("C5:16")])
    done = fw.arrange(tune, fw.Options(picks=((1, "open"), (2, "open"))))
    assert repr(done).startswith("<Arrangement of ") and "0 of 2 gaps" in repr(done)
    assert "<img " in done._repr_html_()
    assert done.play().flac.startswith(b"fLaC")


def test_titles_are_no_markup() -> None:
    picture = Picture(("<svg/>",), '"><script>')
    assert "<script" not in picture._repr_html_()
    assert "<script" not in Sound(b"", '"><script>')._repr_html_()
