"""The order of bars: small forms worked out by hand as a player would read them (common
practice), written as MusicXML."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sweep import every
from tests.tune.sheets import (
    barline,
    chord,
    melody,
    note,
    notes,
    order,
    play,
    read,
    sheet,
    sign,
    sound,
    words,
)

from fillwright import InputError, Key, unfold
from fillwright.tune import Bar, FormMarks, Jump, Meter
from fillwright.tune.limits import MAX_PLAYED_BARS
from fillwright.tune.order import playing_order

WHOLE = notes("C5:16")


def form(text: str) -> list[str]:
    """Bars from a sketch: one word a bar, marks around its number.

    ``|:`` and ``:|`` repeats (``:|3`` played three times), ``[1`` opens an ending, ``]``
    stops it, ``}`` discontinues it, ``$`` segno, ``@`` coda, ``>`` to coda, ``F`` Fine,
    ``DC``, ``DS`` with ``f`` (al Fine) or ``c`` (al Coda) as words.
    """
    bars = []
    for number, word in enumerate(text.split(), 1):
        before, after = ("" if number > 1 else chord("C")), ""
        if "|:" in word:
            before += barline(repeat="forward", location="left")
        opened = re.search(r"\[([\d,]+)", word)
        if opened:
            before += barline(ending=opened[1], kind="start", location="left")
        if "$" in word:
            before += sign("segno")
        if "@" in word:
            before += words("Coda")
        if ">" in word:
            after += words("To Coda")
        if "F" in word:
            after += words("Fine")
        jump = re.search(r"D([CS])([fc]?)", word)
        if jump:
            after += words({"C": "D.C.", "S": "D.S."}[jump[1]]
                           + {"": "", "f": " al Fine", "c": " al Coda"}[jump[2]])
        stop = "]" in word or "}" in word
        closed = re.search(r":\|(\d*)", word)
        if stop or closed:
            kind = "discontinue" if "}" in word else "stop"
            inside = barline(ending="1" if stop else "", kind=kind,
                             repeat="backward" if closed else "",
                             times=int(closed[1]) if closed and closed[1] else None)
            after += inside
        bars.append(before + WHOLE + after)
    return bars


def played(text: str) -> str:
    return order(play(form(text)))


@pytest.mark.parametrize(("sketch", "expected"), [
    # plain
    ("1 2 3", "1 2 3"),
    # repeats
    ("|: 2: :|", "1 2 3 1 2 3"),
    ("1 |:2 3:| 4", "1 2 3 2 3 4"),
    ("1 2:| 3 4", "1 2 1 2 3 4"),
    ("|:1 2:| |:3 4:|", "1 2 1 2 3 4 3 4"),
    ("1 2:| 3 4:|", "1 2 1 2 3 4 3 4"),
    ("|:1 2:|3 3", "1 2 1 2 1 2 3"),
    ("|:1:|", "1 1"),
    # endings
    ("|:1 [1:|] [2]", "1 2 1 3"),
    ("|:1 2 [1:|] [2] 5", "1 2 3 1 2 4 5"),
    ("|:1 2 [1 4:|] [2 6] 7", "1 2 3 4 1 2 5 6 7"),
    ("|:1 [1:|] [2:|] [3] 5", "1 2 1 3 1 4 5"),
    ("|:1 [1,3:|] [2:|] 4", "1 2 1 3 1 2 4"),
    ("|:1 [1,2:|] [3] 4", "1 2 1 2 1 3 4"),
    ("|:1 [1:|] [2} 4", "1 2 1 3 4"),
    ("|:1 [1:|] [2]:| 4", "1 2 1 3 4"),
    ("|:1 [1:|] |:3 [1:|] [2] 6", "1 2 1 3 4 3 5 6"),
    ("|:1 [1:|] [2] |:4 [1:|] [2]", "1 2 1 3 4 5 4 6"),
    ("|:1 [1:|]", "1 2 1"),
    ("|:1 [1:| 3 4", "1 2 1 3 4"),
    # nested
    ("|:1 |:2 3:| 4:| 5", "1 2 3 2 3 4 1 2 3 2 3 4 5"),
    # D.C. and D.S.
    ("1 2F 3 4DCf", "1 2 3 4 1 2"),
    ("1 $2 3F 4DSf", "1 2 3 4 2 3"),
    ("1 2> 3 4DCc @5 6", "1 2 3 4 1 2 5 6"),
    ("1 $2 3> 4DSc @5", "1 2 3 4 2 3 5"),
    ("1 2 3DC", "1 2 3 1 2 3"),
    ("1 $2 3DS", "1 2 3 2 3"),
    ("1 2F 3DC", "1 2 3 1 2"),
    ("1 2> 3DC @4", "1 2 3 1 2 4"),
    ("1 2DC 3", "1 2 1 2 3"),
    ("1 $2 3DS |:4:| 5", "1 2 3 2 3 4 4 5"),
    ("1 2DCf 3F 4", "1 2 1 2 3"),
    ("1> 2DCc 3 @4 5", "1 2 1 4 5"),
    # repeats come before the jump, and are not taken after it; the last ending is
    ("|:1 2:| 3F 4DCf", "1 2 1 2 3 4 1 2 3"),
    ("|:1 [1:|] [2F] 4 5DCf", "1 2 1 3 4 5 1 3"),
    ("|:$1 [1:|] [2> 4 5DSc @6", "1 2 1 3 4 5 1 3 6"),
    ("|:1F 2:| 3DCf", "1 2 1 2 3 1"),
    ("|:1 2DC:|", "1 2 1 2 1 2"),
    ("|:1 [1F:|] [2] 4DCf", "1 2 1 3 4 1 2"),
    ("1 $|:2 3:| 4> 5DSc @6 7", "1 2 3 2 3 4 5 2 3 4 6 7"),
    # a repeat in the coda, played for the first time there
    ("1> 2DCc @|:3:| 4", "1 2 1 3 3 4"),
])
def test_forms(sketch: str, expected: str) -> None:
    assert played(sketch) == expected
    assert playing_order(read(sheet(form(sketch))).bars)[1] == []


@pytest.mark.parametrize(("sketch", "expected", "warning"), [
    # a two-bar ending bracketed over its first bar only
    ("|:1 [1] 3:| [2] 5", "1 2 3 1 4 5", "bar 2"),
    ("|:1 [1} 3:| [2} 5 6", "1 2 3 1 4 5 6", "bar 2"),
    # the repeat sign of a first ending is missing
    ("|:1 [1] [2] 4", "1 2 1 3 4", "bar 2"),
    ("|:1 [1 3] [2] 5", "1 2 3 1 4 5", "bar 3"),
    # both endings carry the same number
    ("|:1 [1:|] [1] 4", "1 2 1 3 4", "bar 2"),
    ("|:1 [2:|] [3] 4", "1 2 1 3 4", "bar 2"),
    # a repeat that nothing ends
    ("1 |:2 3 4", "1 2 3 4", "bar 2"),
    # an ending that nothing repeats
    ("1 [1] 3", "1 2 3", "bar 2"),
    ("[1:|] 2 3", "1 1 2 3", "bar 1"),
    # jumps without a target or a way out: as printed, once
    ("1 2 3DS", "1 2 3", "bar 3"),
    ("1 2 3DSf", "1 2 3", "bar 3"),
    ("|:1 2:| 3DSc", "1 2 3", "bar 3"),
    ("1 2 3DCf", "1 2 3", "bar 3"),
    ("1 2> 3DCc", "1 2 3", "bar 3"),
    ("1 2 3DCc @4", "1 2 3 4", "bar 3"),
    ("1 2> 3 @4", "1 2 3 4", "bar 2"),
])
def test_faults_are_repaired_or_ignored_with_a_warning(sketch: str, expected: str,
                                                       warning: str) -> None:
    chorus = play(form(sketch))
    assert order(chorus) == expected
    assert any(sentence.startswith(warning) for sentence in chorus.warnings), chorus.warnings


# How the signs are written -------------------------------------------------------------


@every([
    sound('dacapo="yes"') + "", words("D.C. al Fine"), words("D. C. al fine"),
    words("Da Capo al Fine"), words("DC al Fine"), words("d.c. al fine"),
    words("D.C.") + words("al Fine"),
    "<direction><direction-type><words>D.C. al Fine</words></direction-type>"
    '<sound dacapo="yes"/></direction>',
], [words("Fine"), sound('fine="yes"'), words("FINE"), words("fine")])
def test_da_capo_al_fine(jump: str, fine: str) -> None:
    assert order(play([chord("C") + WHOLE, WHOLE + fine, WHOLE + jump])) == "1 2 3 1 2"
    # Both signs hold at the end of their bar, wherever in it they are printed.
    assert order(play([chord("C") + WHOLE, fine + WHOLE, jump + WHOLE])) == "1 2 3 1 2"


@every([
    words("To Coda"), sound('tocoda="coda"'), sign("coda"), words("To") + sign("coda"),
    words("to coda") + sign("coda"), words("al Coda"), words("To ⊕"),
    "<direction><direction-type><coda/></direction-type><sound tocoda='x'/></direction>",
], [
    words("Coda"), sign("coda"), sound('coda="coda"'), words("CODA") + sign("coda"),
    "<direction><direction-type><rehearsal>Coda</rehearsal></direction-type></direction>",
    '<barline location="left" coda="coda"/>',
    "<direction><direction-type><coda/></direction-type><sound coda='x'/></direction>",
    '<barline location="left"><coda/></barline>',
], [
    words("D.S. al Coda"), sound('dalsegno="segno"'), words("Dal Segno al Coda"),
    words("D.S. al ⊕"),
])
def test_dal_segno_al_coda(to_coda: str, coda: str, jump: str) -> None:
    for segno in (sign("segno"), sound('segno="segno"'), words("Segno"),
                  '<barline location="left"><segno/></barline>'):
        bars = [chord("C") + WHOLE, segno + WHOLE, WHOLE + to_coda, WHOLE + jump, coda + WHOLE]
        assert order(play(bars)) == "1 2 3 4 2 3 5"


def test_repeat_signs_on_the_other_edge() -> None:
    """A forward repeat printed at the end of a bar opens the next one; a backward repeat at
    the beginning closes the one before."""
    bars = [chord("C") + WHOLE + barline(repeat="forward"), WHOLE, WHOLE,
            barline(repeat="backward", location="left") + WHOLE]
    assert order(play(bars)) == "1 2 3 2 3 4"


def test_an_ending_number_may_be_in_the_text() -> None:
    ending = '<barline location="left"><ending number="" type="start">1.-2.</ending></barline>'
    bars = [chord("C") + barline(repeat="forward", location="left") + WHOLE,
            ending + WHOLE + barline(repeat="backward", ending="1", kind="stop"), WHOLE]
    assert order(play(bars)) == "1 2 1 2 1 3"


def test_passes_count_through_a_printed_bar() -> None:
    chorus = play(form("|:1 [1:|] [2F] 4DCf"))
    assert [(bar.number, bar.pass_number) for bar in chorus.bars] == [
        ("1", 1), ("2", 1), ("1", 2), ("3", 1), ("4", 1), ("1", 3), ("3", 2)]


# Pickups -------------------------------------------------------------------------------


PICKUP, AGAIN = chord("C") + notes("G4:4"), barline(repeat="backward")


def test_a_repeat_from_the_beginning_takes_the_pickup_where_there_is_room() -> None:
    chorus = play([PICKUP, WHOLE, notes("C5:12") + AGAIN, notes("C5:12")])
    assert order(chorus) == "1 2 3 1 2 3 4"
    assert chorus.length_quarter == 1 + 4 + 3 + 1 + 4 + 3 + 3


@pytest.mark.parametrize("last", [notes("D5:16"), notes("D5:12 r:4"), notes("D5:4 r:12")])
def test_a_held_note_or_a_rest_gives_way_to_the_pickup(last: str) -> None:
    """The beat goes on: the bar before the repeated pickup loses what the pickup takes."""
    chorus = play([PICKUP, WHOLE, last + AGAIN, WHOLE])
    assert order(chorus) == "1 2 3 1 2 3 4"
    assert [bar.length_quarter for bar in chorus.bars] == [1, 4, 3, 1, 4, 4, 4]
    assert melody(chorus).split()[3] == "G4@8+1"


def test_a_pickup_without_room_is_left_out() -> None:
    full = notes("D5:8 E5:4 F5:4")
    assert order(play([PICKUP, WHOLE, full + AGAIN, WHOLE])) == "1 2 3 2 3 4"
    marked = play([barline(repeat="forward", location="left") + PICKUP, WHOLE, full + AGAIN])
    assert order(marked) == "1 2 3 1 2 3"
    bars = [PICKUP, WHOLE + words("Fine"), full + words("D.C. al Fine")]
    assert order(play(bars)) == "1 2 3 2"


# Bounds --------------------------------------------------------------------------------


def test_absurd_numbers_of_repeats_are_refused_at_once() -> None:
    data = sheet([chord("C") + WHOLE, note("C5", 16) + barline(repeat="backward", times=10**9)])
    with pytest.raises(InputError, match=rf"bar \d.*limit of {MAX_PLAYED_BARS} bars") as caught:
        unfold(read(data))
    assert caught.value.source == "sheet.musicxml"


def marks() -> st.SearchStrategy[FormMarks]:
    return st.builds(
        FormMarks, repeat_start=st.booleans(), repeat_end=st.booleans(),
        repeat_times=st.integers(1, 3), endings=st.sampled_from([(), (), (), (1,), (2,), (1, 3)]),
        ending_starts=st.booleans(), ending_stops=st.booleans(), segno=st.booleans(),
        coda=st.booleans(), to_coda=st.booleans(), fine=st.booleans(),
        jump=st.sampled_from([None, None, None, *Jump]))


@given(st.lists(marks(), min_size=1, max_size=12))
@settings(max_examples=100, deadline=None)
def test_any_marks_unfold(row: list[FormMarks]) -> None:
    """Whatever is printed, the order is bounded, begins with the first bar and the warnings
    name a bar."""
    bars = tuple(Bar(str(number), Meter(4, 4), Key(0), Meter(4, 4).length_quarter, marks=mark)
                 for number, mark in enumerate(row, 1))
    played_bars, warnings = playing_order(bars)
    assert 1 <= len(played_bars) <= MAX_PLAYED_BARS
    assert set(played_bars) <= set(range(len(bars)))
    assert all(warning.startswith("bar ") for warning in warnings)


@given(st.integers(1, 8), st.integers(1, 8), st.integers(0, 4))
def test_a_repeat_doubles_what_it_encloses(before: int, inside: int, behind: int) -> None:
    sketch = ["x"] * before + ["x"] * inside + ["x"] * behind
    sketch[before] = "|:" + sketch[before]
    sketch[before + inside - 1] += ":|"
    chorus = play(form(" ".join(sketch)))
    assert len(chorus.bars) == before + 2 * inside + behind
    assert [bar.pass_number for bar in chorus.bars].count(2) == inside
