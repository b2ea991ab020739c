"""The package as it is used from Python and in a notebook."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from tests.fills.builders import chorus_of
from tests.tune.sheets import chord, notes, read_bars

import fillwright as fw
from fillwright.demo import demo_path
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


@cache
def silent() -> fw.Arrangement:
    tune = read_bars([chord("C") + notes("E5:16"), chord("F") + notes("C5:16")])
    return fw.arrange(tune, fw.Options(picks=((1, "open"), (2, "open"))))


def long_chorus() -> fw.Chorus:
    return chorus_of("4/4", "C", 120, [("E5", 4)] * 9, [("Cmaj7", 36)])


def edition() -> fw.Edition:
    return fw.Edition.of_sheet(demo_path("snow"))


def gaps() -> tuple[fw.Gap, ...]:
    return fw.find_gaps(chorus())


def by_hand(**changes: Any) -> fw.Tune:
    """A tune of one bar, made without a file."""
    tune = read_bars([chord("C") + notes("E5:16")])
    return replace(tune, bars=(replace(tune.bars[0], **changes),))


def proposed(**asked: Any) -> Callable[[], object]:
    return lambda: fw.propose(chorus(), gaps(), **asked)


WRONG: list[tuple[Callable[[], object], str]] = [
    (proposed(families=["riff"]), "'riff' is no family; there are comp, reharm, line"),
    (proposed(families="comp"), "families is a list"),
    (proposed(without=["nonsense"]), "'nonsense' is no device"),
    (proposed(numbers=[999]), "there is no gap 999; there are 3"),
    (proposed(level="expert"), "'expert' is no level; there are beginner"),
    (proposed(hand="huge"), "'huge' is no hand; there are small"),
    (proposed(count=0), "count is a whole number from 1"),
    (lambda: fw.propose(chorus().tune, gaps()),  # type: ignore[arg-type]
     r"unfold\(tune\) makes one"),
    (lambda: fw.propose(chorus(), [1, 2]), "find_gaps"),  # type: ignore[arg-type]
    (lambda: fw.find_gaps(chorus().tune), r"unfold\(tune\)"),  # type: ignore[arg-type]
    (lambda: fw.unfold("tune.musicxml"), "read_tune"),  # type: ignore[arg-type]
    (lambda: fw.unfold(chorus().tune, tempo=Fraction(-1)), "between 1 and 1000"),
    (lambda: fw.unfold(chorus().tune, feel="rock"), "'rock' is no feel; there are swing"),
    (lambda: fw.unfold(chorus().tune, octave=9), "from -4 to 4, not 9"),
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
    (lambda: fw.read_tune(None), "from a NoneType"),  # type: ignore[arg-type]
    (lambda: fw.read_tune("sheet.musicxml", part=3), "by an int"),  # type: ignore[arg-type]
    *((lambda wrong=wrong: fw.unfold(chorus().tune, tempo=wrong), "a tempo")
      for wrong in ("120", float("nan"), float("inf"), True, 10 ** 9)),
    (lambda: fw.unfold(chorus().tune, octave=True), "whole number"),
    (proposed(numbers=[True]), "there is no gap True"),
    (proposed(numbers=[[1]]), "there is no gap"),
    (proposed(count=True), "count"),
    (proposed(progress=5), "progress is a function"),
    (proposed(same_each_time="yes"), "true or false, not 'yes'"),
    (lambda: fw.propose(chorus(), fw.find_gaps(long_chorus())), "another chorus"),
    (lambda: fw.propose(chorus(), fw.find_gaps(long_chorus())[1:2]), "find_gaps"),
    *((lambda wrong=wrong: fw.Options(**wrong), sentence) for wrong, sentence in (
        ({"tempo": "fast"}, "a tempo is a number, not 'fast'"), ({"key": 5}, "a key"),
        ({"without": "shells"}, "without is a list"), ({"without": (5,)}, "list of names"),
        ({"picks": ((1,),)}, "picks is a list of pairs"), ({"picks": ((1, 5),)}, "a fill as text"),
        ({"picks": ((0, "open"),)}, "number of a gap"), ({"choruses": 1.0}, "choruses"),
        ({"mix": {"comp": 1}}, "mix is a list of pairs"),
        ({"mix": (("comp", -1),)}, "from 0 to 99, not -1"),
        ({"mix": (("comp", 0),)}, "one family at least"),
        ({"mix": (("comp", 1), ("comp", 2))}, "two weights"),
        ({"same_each_time": "yes"}, "same_each_time"), ({"formats": ("doc",)}, "no format"))),
    (lambda: fw.arrange(chorus().tune, {}), "Options"),  # type: ignore[arg-type]
    (lambda: fw.engrave(chorus()), "a Chorus"),  # type: ignore[arg-type]
    (lambda: fw.engrave(silent(), ["doc"]), "'doc' is no format"),
    (lambda: fw.engrave(silent(), ["musicxml"], "some"), "fingering"),
    (lambda: fw.perform(chorus()), "a Chorus"),  # type: ignore[arg-type]
    (lambda: fw.perform(silent(), Fraction(5), Fraction(2)), "from quarter 5 to quarter 2"),
    (lambda: fw.perform(silent(), "x"), "is a number, not 'x'"),  # type: ignore[arg-type]
    (lambda: fw.open_edition("no such file"), "there is no such file"),
    (lambda: fw.open_edition(5), "an int"),  # type: ignore[arg-type]
    (lambda: fw.Edition.of_sheet("no such file"), "there is no such file"),
    (lambda: edition().with_choice(0, "open"), "number of a gap"),
    (lambda: edition().with_choice(1, "comp:1", [(0,)]), "number and semitones"),  # type: ignore
    (lambda: edition().with_settings({"mix": {"riff": 1}}), "'riff' is no family"),
    (lambda: edition().with_settings({"same_each_time": "yes"}), "is true or false"),
    (lambda: edition().with_choice(1, "opne"), "'opne' names no fill.*the nearest is open"),
    (lambda: edition().with_chord(1000, "0", "C7"), "in bar 1000, counted from 0; the nearest"),
    (lambda: edition().save(5), "saved by the name of its file"),  # type: ignore[arg-type]
    (lambda: fw.Edition("x", "a.abc"), "the bytes of a sheet, not a str"),  # type: ignore
    (lambda: fw.Edition(b"", 5), "the name of its file"),  # type: ignore[arg-type]
    (lambda: fw.Edition(b"", "a.abc", {}), "has Decisions, not a dict"),  # type: ignore
    (lambda: fw.arrange(by_hand(notes=())), "no notes that sound"),
    (lambda: fw.arrange(by_hand(chords=())), "no chord symbols"),
    (lambda: replace(by_hand(), bars=()), "a tune has bars"),
    (lambda: by_hand(length_quarter=Fraction(0)), "bar 1 has no length"),
    (lambda: replace(by_hand(), tempo_bpm=Fraction(0)), "between 1 and 1000"),
    (lambda: replace(by_hand(), feel="rock"), "'rock' is no feel; there are swing"),
    (lambda: fw.ChordSymbol.parse(5), "is text"),  # type: ignore[arg-type]
    (lambda: fw.ChordSymbol.parse("Cfoo"), "'foo'"),
    (lambda: fw.Key.parse("H"), "not a note name"),
    (lambda: fw.Pitch.parse("C"), "not a pitch: 'C'"),
    (lambda: fw.play("x"), "cannot be played"),
]


@pytest.mark.parametrize("case", range(len(WRONG)))
def test_what_is_no_argument_is_one_clear_sentence(case: int) -> None:
    call, sentence = WRONG[case]
    with pytest.raises(fw.InputError, match=sentence) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_some_of_the_gaps_are_enough() -> None:
    some = fw.propose(chorus(), gaps()[1:2], families=["comp"], count=1)
    assert some == fw.propose(chorus(), gaps(), families=["comp"], numbers=[2], count=1)


def test_a_chord_symbol_is_read() -> None:
    assert fw.ChordSymbol.parse("G7(b9)/B").degrees == ("1", "3", "5", "b7", "b9")
    with pytest.raises(ValueError, match="'foo'"):
        fw.ChordSymbol.parse("Cfoo")


def test_a_fill_explains_itself() -> None:
    lines = fill().explain().split("\n")
    assert lines[0].startswith(f"{fill().device} ({fill().family}, intermediate, difficulty ")
    assert lines[1] == f"Count: {fill().counts}"
    assert lines[-len(fill().reasons):] == list(fill().reasons)


@pytest.mark.parametrize(("sings", "says"), [
    (1, "The held note ends as it is written."), (4, "The held note is let go.")])
def test_a_note_that_is_over_is_not_said_to_be_let_go(sings: int, says: str) -> None:
    played = chorus_of("4/4", "C", 120, [("B5", sings), (None, 4 - sings), ("C6", 4)],
                       [("G7", 4), ("C", 4)])
    found = fw.propose(played, fw.find_gaps(played), numbers=[1], count=12).fills
    free = [one for one in found if one.held_end.kept == "released"]
    assert free
    for one in free:
        assert says in one.explain().split("\n")


def test_where_a_fill_stands_says_nothing_of_what_it_is() -> None:
    again = pickle.loads(pickle.dumps(fill()))
    assert again == fill() and hash(again) == hash(fill())
    assert fill().chorus is chorus()


@pytest.mark.slow
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
    done = silent()
    assert repr(done).startswith("<Arrangement of ") and "0 of 2 gaps" in repr(done)
    assert "<img " in done._repr_html_()
    assert done.play().flac.startswith(b"fLaC")


def test_titles_are_no_markup() -> None:
    picture = Picture(("<svg/>",), '"><script>')
    assert "<script" not in picture._repr_html_()
    assert "<script" not in Sound(b"", '"><script>')._repr_html_()
