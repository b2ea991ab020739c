"""Note values, ties and tuplets: known answers and properties."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.score.metre import bar_tree, beats_of
from fillwright.score.rhythm import NOTE_TYPES, Piece, VoiceEvent, note_value, write_bar
from fillwright.tune import Meter

METERS = [(4, 4), (3, 4), (2, 4), (2, 2), (6, 8), (9, 8), (12, 8), (5, 4), (7, 8), (5, 8),
          (6, 4), (3, 2), (3, 8), (7, 4), (1, 4), (4, 8), (10, 8), (6, 16)]
LENGTH_OF = {name: size for size, name in NOTE_TYPES}


def written(meter: str, points: str, rests: tuple[int, ...] = ()) -> list[str]:
    """Each span as text: ``quarter.~eighth`` is a tied dotted quarter, ``3:eighth`` a
    note of a triplet."""
    beats, unit = meter.split("/")
    tree = bar_tree(Meter(int(beats), int(unit)))
    places = [Fraction(point) for point in points.split()]
    spans = [VoiceEvent(low, high, index in rests)
             for index, (low, high) in enumerate(itertools.pairwise(places))]
    return ["~".join((f"{piece.tuplet.actual}:" if piece.tuplet else "")
                     + piece.note_type + "." * piece.dots for piece in pieces)
            for pieces in write_bar(tree, spans)]


# Common practice, worked out by hand.
@pytest.mark.parametrize(("meter", "points", "expected"), [
    ("4/4", "0 4", ["whole"]),
    ("4/4", "0 3 4", ["half.", "quarter"]),
    ("4/4", "0 1 3 4", ["quarter", "quarter~quarter", "quarter"]),
    ("4/4", "0 1/2 3/2 2 4", ["eighth", "quarter", "eighth", "half"]),
    ("4/4", "0 3/2 5/2 4", ["quarter.", "eighth~eighth", "eighth~quarter"]),
    ("4/4", "0 1/2 4", ["eighth", "eighth~quarter~half"]),
    ("4/4", "0 7/2 4", ["half~quarter.", "eighth"]),
    ("4/4", "0 1/2 2 4", ["eighth", "eighth~quarter", "half"]),
    ("4/4", "0 3/4 1 5/4 7/4 2 4", ["eighth.", "16th", "16th", "eighth", "16th", "half"]),
    ("2/2", "0 1 3 4", ["quarter", "quarter~quarter", "quarter"]),
    ("3/4", "0 3", ["half."]),
    ("3/4", "0 3/2 3", ["quarter.", "eighth~quarter"]),
    ("3/4", "0 1 3", ["quarter", "half"]),
    ("3/4", "0 1/2 3/2 5/2 3", ["eighth", "quarter", "quarter", "eighth"]),
    ("6/8", "0 1 3/2 3", ["quarter", "eighth", "quarter."]),
    ("6/8", "0 2 3", ["quarter.~eighth", "quarter"]),
    ("6/8", "0 3/4 3/2 3", ["eighth.", "eighth.", "quarter."]),
    ("12/8", "0 6", ["whole."]),
    ("12/8", "0 3/2 9/2 6", ["quarter.", "quarter.~quarter.", "quarter."]),
    ("5/4", "0 5", ["half.~half"]),
    ("5/4", "0 2 4 5", ["half", "quarter~quarter", "quarter"]),
    ("7/8", "0 2 7/2", ["half", "quarter."]),
    ("7/8", "0 1 3 7/2", ["quarter", "quarter~quarter", "eighth"]),
    # triplets of half notes, quarters, eighths, sixteenths
    ("4/4", "0 4/3 8/3 4", ["3:half", "3:half", "3:half"]),
    ("4/4", "0 2/3 4/3 2 4", ["3:quarter", "3:quarter", "3:quarter", "half"]),
    ("4/4", "0 1/3 2/3 1 2 4", ["3:eighth", "3:eighth", "3:eighth", "quarter", "half"]),
    ("4/4", "0 1/6 1/3 1/2 1 2 4",
     ["3:16th", "3:16th", "3:16th", "eighth", "quarter", "half"]),
    ("4/4", "0 2/3 1 2 4", ["3:quarter", "3:eighth", "quarter", "half"]),
    ("4/4", "0 2/3 2 4", ["3:quarter", "3:eighth~quarter", "half"]),
    ("3/4", "0 1 5/3 7/3 3", ["quarter", "3:quarter", "3:quarter", "3:quarter"]),
    ("6/8", "0 1/6 1/3 1/2 3/2 3", ["3:16th", "3:16th", "3:16th", "quarter", "quarter."]),
    ("4/4", "0 1/5 2/5 3/5 4/5 1 4",
     ["5:16th"] * 5 + ["quarter~half"]),
])
def test_known_answers(meter: str, points: str, expected: list[str]) -> None:
    assert written(meter, points) == expected


@pytest.mark.parametrize(("meter", "points", "rests", "expected"), [
    ("4/4", "0 1 4", (1,), ["quarter", "quarter~half"]),
    ("4/4", "0 3 4", (0,), ["half~quarter", "quarter"]),
    ("4/4", "0 1/2 3/2 4", (1,), ["eighth", "eighth~eighth", "eighth~half"]),
    ("3/4", "0 2 3", (0,), ["quarter~quarter", "quarter"]),
    ("6/8", "0 3/2 3", (1,), ["quarter.", "quarter."]),
    ("6/8", "0 1/2 3/2 3", (1,), ["eighth", "eighth~eighth", "quarter."]),
    ("6/8", "0 1 3/2 3", (0,), ["quarter", "eighth", "quarter."]),
    ("4/4", "0 1/4 1 4", (1,), ["16th", "16th~eighth", "quarter~half"]),
    ("4/4", "0 1/3 1 4", (0,), ["3:eighth", "3:quarter", "quarter~half"]),
])
def test_rests_are_never_syncopated(meter: str, points: str, rests: tuple[int, ...],
                                    expected: list[str]) -> None:
    assert written(meter, points, rests) == expected


def test_overlaps_and_notes_outside_the_bar_are_errors() -> None:
    tree = bar_tree(Meter(4, 4))
    with pytest.raises(ValueError, match="overlap"):
        write_bar(tree, [VoiceEvent(Fraction(0), Fraction(2)),
                         VoiceEvent(Fraction(1), Fraction(3))])
    with pytest.raises(ValueError, match="leaves its bar"):
        write_bar(tree, [VoiceEvent(Fraction(3), Fraction(5))])


def test_a_pickup_is_the_end_of_its_bar() -> None:
    tree = bar_tree(Meter(4, 4), Fraction(3, 2), from_end=True)
    pieces = write_bar(tree, [VoiceEvent(Fraction(0), Fraction(3, 2))])[0]
    # One and a half beats before the bar line: an eighth, then a quarter on beat 4.
    assert [piece.note_type for piece in pieces] == ["eighth", "quarter"]
    third = bar_tree(Meter(4, 4), Fraction(1, 3), from_end=True)
    pieces = write_bar(third, [VoiceEvent(Fraction(0), Fraction(1, 3))])[0]
    assert [(piece.note_type, piece.tuplet is not None) for piece in pieces] == [
        ("eighth", True)]


@pytest.mark.parametrize(("beats", "unit"), METERS)
def test_the_beats_of_a_meter_fill_its_bar(beats: int, unit: int) -> None:
    meter = Meter(beats, unit)
    tree = bar_tree(meter)
    inside = beats_of(tree)
    assert tree.length_quarter == meter.length_quarter
    assert inside[0].start_quarter == 0
    for beat, following in itertools.pairwise(inside):
        assert beat.end_quarter == following.start_quarter
    assert inside[-1].end_quarter == meter.length_quarter


# --- properties -------------------------------------------------------------------------

@st.composite
def bars(draw: st.DrawFn) -> tuple[Meter, list[VoiceEvent]]:
    """A bar cut at random places: eighths, sixteenths, thirds, sixths, fifths of a quarter."""
    meter = Meter(*draw(st.sampled_from(METERS)))
    step = draw(st.sampled_from([Fraction(1, 2), Fraction(1, 4), Fraction(1, 3), Fraction(1, 6),
                                 Fraction(1, 12), Fraction(1, 5), Fraction(2, 3)]))
    count = int(meter.length_quarter / step)
    cuts = draw(st.sets(st.integers(1, max(count, 1)), max_size=9))
    places = sorted({Fraction(0), meter.length_quarter,
                     *(cut * step for cut in cuts if cut * step < meter.length_quarter)})
    return meter, [VoiceEvent(low, high, draw(st.booleans()))
                   for low, high in itertools.pairwise(places)]


def nominal(piece: Piece) -> Fraction:
    size = LENGTH_OF[piece.note_type]
    return size * Fraction(2 ** (piece.dots + 1) - 1, 2 ** piece.dots)


@given(bars())
@settings(max_examples=100, deadline=None)
def test_pieces_fill_their_span_with_true_note_values(bar: tuple[Meter, list[VoiceEvent]]) -> None:
    meter, spans = bar
    for span, pieces in zip(spans, write_bar(bar_tree(meter), spans), strict=True):
        place = span.start_quarter
        for piece in pieces:
            assert piece.start_quarter == place
            place = piece.end_quarter
            stretch = (Fraction(1) if piece.tuplet is None
                       else Fraction(piece.tuplet.normal, piece.tuplet.actual))
            assert piece.duration_quarter == nominal(piece) * stretch
            assert piece.dots <= 1
        assert place == span.end_quarter


@given(bars())
@settings(max_examples=100, deadline=None)
def test_tuplets_are_whole(bar: tuple[Meter, list[VoiceEvent]]) -> None:
    """What stands in a tuplet lies inside it and fills it from end to end."""
    meter, spans = bar
    filled: dict[tuple[Fraction, Fraction], Fraction] = {}
    for pieces in write_bar(bar_tree(meter), spans):
        for piece in pieces:
            if piece.tuplet is None:
                continue
            tuplet = piece.tuplet
            assert tuplet.start_quarter <= piece.start_quarter
            assert piece.end_quarter <= tuplet.end_quarter
            key = (tuplet.start_quarter, tuplet.end_quarter)
            filled[key] = filled.get(key, Fraction(0)) + piece.duration_quarter
    assert all(length == end - start for (start, end), length in filled.items())


@given(bars())
@settings(max_examples=100, deadline=None)
def test_beats_stay_visible(bar: tuple[Meter, list[VoiceEvent]]) -> None:
    """No piece that starts inside a beat leaves it, but for a quarter on the off-beat; no
    piece hides the middle of a bar of 4/4, or part of a beat of three."""
    meter, spans = bar
    tree = bar_tree(meter)
    beats = beats_of(tree)
    edges = {beat.start_quarter for beat in beats} | {tree.end_quarter}
    halves = {tree.start_quarter + part.length_quarter for part in tree.parts[:1]
              if len(tree.parts) == 2}
    for span, pieces in zip(spans, write_bar(tree, spans), strict=True):
        for piece in pieces:
            start, end = piece.start_quarter, piece.end_quarter
            crossed = {edge for edge in edges if start < edge < end}
            if not crossed or piece.tuplet is not None:
                continue
            whole_bar = (start, end) == (tree.start_quarter, tree.end_quarter)
            if start not in edges:
                assert not span.is_rest
                assert piece.note_type == "quarter" and piece.dots == 0
                assert (start - max(e for e in edges if e < start)) == Fraction(1, 2)
            if meter.beats == 4 and meter.beat_type == 4 and halves & crossed and not whole_bar:
                assert start == 0 and piece.note_type == "half" and piece.dots == 1
            if meter.is_compound:
                assert start in edges and end in edges


def test_note_values_have_at_most_one_dot() -> None:
    assert note_value(Fraction(7, 2)) is None
    assert note_value(Fraction(3, 8)) == ("16th", 1)
    assert note_value(Fraction(1, 3)) is None
