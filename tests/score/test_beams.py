"""Beams by the beat: known answers, and what every beam must be."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from tests.score.test_rhythm import bars

from fillwright.score.beams import beam_bar
from fillwright.score.metre import bar_tree, beats_of
from fillwright.score.rhythm import Piece, VoiceEvent, write_bar
from fillwright.tune import Meter


def row_of(meter: str, points: str, rests: tuple[int, ...] = ()) -> tuple[
        list[tuple[Piece, bool]], list[tuple[str, ...]]]:
    beats, unit = meter.split("/")
    tree = bar_tree(Meter(int(beats), int(unit)))
    places = [Fraction(point) for point in points.split()]
    spans = [VoiceEvent(low, high, index in rests)
             for index, (low, high) in enumerate(itertools.pairwise(places))]
    row = [(piece, span.is_rest) for span, pieces in zip(spans, write_bar(tree, spans),
                                                         strict=True) for piece in pieces]
    return row, beam_bar(tree, row)


def drawn(meter: str, points: str, rests: tuple[int, ...] = ()) -> str:
    """One sign for each note value: ``[`` a beam begins, ``-`` goes on, ``]`` ends, ``.`` none."""
    _, beams = row_of(meter, points, rests)
    return "".join({"begin": "[", "continue": "-", "end": "]"}[words[0]] if words else "."
                   for words in beams)


# Common practice, worked out by hand.
@pytest.mark.parametrize(("meter", "points", "rests", "expected"), [
    ("4/4", "0 1/2 1 3/2 2 5/2 3 7/2 4", (), "[--][--]"),        # never across the middle
    ("4/4", "0 1/2 1 3/2 2 5/2 3 4", (), "[--][]."),
    ("4/4", "0 1/2 1 3/2 2 4", (0,), "..[]."),
    ("4/4", "0 1/2 1 2 4", (), "[].."),
    ("4/4", "0 1/2 3/2 2 4", (), "...."),
    ("4/4", "0 1/4 1/2 3/4 1 3/2 2 4", (), "[--][]."),
    ("3/4", "0 1/2 1 3/2 2 5/2 3", (), "[][][]"),
    ("6/8", "0 1/2 1 3/2 2 5/2 3", (), "[-][-]"),
    ("6/8", "0 1 3/2 2 3", (), "...."),
    ("7/8", "0 1/2 1 3/2 2 5/2 3 7/2", (), "[--][-]"),
    ("5/4", "0 1/2 1 3/2 2 5/2 3 7/2 4 9/2 5", (), "[][][][--]"),
    ("4/4", "0 1/3 2/3 1 3/2 2 4", (), "[-][]."),                 # a tuplet by itself
    ("4/4", "0 2/3 4/3 2 4", (), "...."),
])
def test_known_answers(meter: str, points: str, rests: tuple[int, ...], expected: str) -> None:
    assert drawn(meter, points, rests) == expected


def test_hooks() -> None:
    _, beams = row_of("4/4", "0 3/4 1 5/4 2 9/4 11/4 3 4")
    assert beams[:2] == [("begin",), ("end", "backward hook")]       # dotted eighth, 16th
    assert beams[2:4] == [("begin", "forward hook"), ("end",)]       # 16th, dotted eighth
    assert beams[4:7] == [("begin", "forward hook"), ("continue",), ("end", "backward hook")]


@given(bars())
@settings(max_examples=100, deadline=None)
def test_every_beam_is_begun_and_ended_inside_its_half(
        bar: tuple[Meter, list[VoiceEvent]]) -> None:
    meter, spans = bar
    tree = bar_tree(meter)
    row = [(piece, span.is_rest) for span, pieces in zip(spans, write_bar(tree, spans),
                                                         strict=True) for piece in pieces]
    beams = beam_bar(tree, row)
    assert len(beams) == len(row)
    beats = beats_of(tree)
    for level in range(4):
        opened: Fraction | None = None
        for (piece, is_rest), words in zip(row, beams, strict=True):
            word = words[level] if level < len(words) else ""
            assert not (words and (is_rest or len(words) != piece.flags))
            if word == "begin":
                assert opened is None
                opened = piece.start_quarter
            elif word in ("continue", "end"):
                assert opened is not None
                if piece.tuplet is None:
                    crossed = [beat for beat in beats
                               if opened < beat.start_quarter <= piece.start_quarter]
                    assert len(crossed) <= 1
                if word == "end":
                    opened = None
            elif not word:
                assert opened is None
        assert opened is None
