"""The order of parts of ABC notation (ABC 2.1, 3.1.9 and 4.10), parsed and played."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.tune.sheets import melody, order, read

from fillwright import Chorus, InputError, Key, unfold
from fillwright.tune import transpose_tune
from fillwright.tune.partorder import labels_of, parse_part_order

THREE_PARTS = 'P:A\n"C"c4|"F"d4||\nP:B\n"G"e4||\nP:C\n"Am"f4|]\n'


def play(parts: str, body: str = THREE_PARTS) -> Chorus:
    return unfold(read(f"X:1\nT:t\nP:{parts}\nM:4/4\nL:1/4\nK:C\n{body}".encode(), "t.abc"))


@pytest.mark.parametrize(("text", "called"), [
    # the examples of the standard
    ("ABABCDCD", "ABABCDCD"), ("A3", "AAA"), ("(AB)3", "ABABAB"), ("((AB)3.(CD)3)2",
     "ABABABCDCDCDABABABCDCDCD"), ("A4.B4", "AAAABBBB"),
    ("A2B", "AAB"), ("(AB)3C", "ABABABC"), ("A A, B-A", "AABA"), ("(A2B)2", "AABAAB"),
])
def test_orders(text: str, called: str) -> None:
    assert "".join(parse_part_order(text) or ()) == called


@pytest.mark.parametrize("text", ["", "()", "(A", "A)", "2A", "A0", "A2 2", "A+B", "()2", "A§"])
def test_what_is_no_order(text: str) -> None:
    assert parse_part_order(text) is None


def test_an_order_without_end_is_refused() -> None:
    with pytest.raises(InputError, match="more of them than the limit of 4000"):
        parse_part_order("((((A99)99)99)99)99")


@given(st.recursive(st.sampled_from("ABC"), lambda inner: st.lists(
    inner, min_size=1, max_size=3).map("".join).flatmap(
        lambda text: st.integers(1, 3).map(lambda n: f"({text}){n}")), max_leaves=6))
def test_any_order_is_the_one_written_out(text: str) -> None:
    """Against Python's own arithmetic on strings."""
    python = "".join({"(": "+(", ")": ")", "A": "+'A'", "B": "+'B'", "C": "+'C'"}.get(c, "*" + c)
                     for c in text).replace("(+", "(").lstrip("+")
    assert "".join(parse_part_order(text) or ()) == eval(python)


def test_which_bars_a_part_has() -> None:
    sections = ["", "A", "", "B", "A", "Coda"]
    assert labels_of(sections, "AB") == {"A": (1, 3), "B": (3, 4)}
    assert labels_of(["", ""], "AB") == {}


@pytest.mark.parametrize(("parts", "bars"), [
    ("AABA", "1 2 1 2 3 1 2"), ("A2B", "1 2 1 2 3"), ("(AB)3C", "1 2 3 1 2 3 1 2 3 4"),
    ("CBA", "4 3 1 2"),
])
def test_parts_are_played_as_they_are_called(parts: str, bars: str) -> None:
    chorus = play(parts)
    assert (order(chorus), chorus.warnings) == (bars, ())


def test_inline_parts() -> None:
    assert order(play("ABA", '[P:A]"C"c4|"F"d4|[P:B]"G"e4|]')) == "1 2 3 1 2"


def test_a_part_marked_before_its_bar_line() -> None:
    chorus = play("OABA", '[P:O]\\\nG2\\\n[P:A]\\\n |"C"c4|"F"d2 :|\\\n[P:B] e2|"G"e4|"C"c2|]')
    assert order(chorus) == "1 2 3 2 3 4 5 6 2 3 2 3"


def test_a_called_part_has_its_own_repeats() -> None:
    body = 'P:A\n|:"C"c4|"F"d4:|\nP:B\n|:"G"e4:|\n'
    assert order(play("ABA", body)) == "1 2 1 2 3 3 1 2 1 2"


def test_an_order_that_says_what_the_repeat_signs_say_changes_nothing() -> None:
    assert order(play("AABB", 'P:A\n|:"C"c4|"F"d4:|\nP:B\n|:"G"e4:|\n')) == "1 2 1 2 3 3"


def test_each_call_takes_the_next_ending() -> None:
    body = 'P:A\n|:"C"c4|1 "F"d4:|2 "Dm"f4:|3 "Em"g4:|4 "Am"a4|]\nP:B\n"G"e4|]\n'
    assert order(play("A4.B", body)) == "1 2 1 3 1 4 1 5 6"
    body = 'P:A\n|:"C"c4|1 "F"d4:|2 "Dm"f4||\nP:B\n"G"e4|]\n'
    assert order(play("AABA", body)) == "1 2 1 3 4 1 3"
    assert order(play("AB", body)) == "1 2 1 3 4"


def test_jumps_say_nothing_beside_an_order() -> None:
    body = 'P:A\n"C"c4||\nP:B\n"G"e4!D.C.!|]\n'
    assert (order(play("ABAB", body)), play("ABAB", body).warnings) == ("1 2 1 2", ())
    chorus = play("ABA", body)
    assert order(chorus) == "1 2 1"
    assert chorus.warnings == (
        "bar 2: D.C. is left out, since the order of parts is stated",)


def test_bars_before_the_first_part_are_played_once() -> None:
    assert order(play("AAB", '"G"G4|\nP:A\n"C"c4||\nP:B\n"G"e4|]\n')) == "1 2 2 3"


def test_a_part_that_begins_inside_a_bar() -> None:
    """The pickup of B stands in the last bar of A: where A is played again it is held."""
    for body in ('P:A\n"C"c4|"F"d3\nP:B\ne|"G"e4|"C"c3|]', '[P:A]"C"c4|"F"d3[P:B]e|"G"e4|"C"c3|]'):
        chorus = play("AAB", body)
        assert order(chorus) == "1 2 1 2 3 4 5"
        assert melody(chorus) == "C5@0+4 D5@4+3 C5@8+4 D5@12+3 E5@15+1 E5@16+4 C5@20+3"


@pytest.mark.parametrize(("parts", "sentence"), [
    ("AXB", "the order of parts AXB calls part X, which is marked nowhere"),
    ("A+B", "the order of parts 'A+B' is not understood"),
])
def test_an_order_that_cannot_be_followed(parts: str, sentence: str) -> None:
    chorus = play(parts)
    assert order(chorus) == "1 2 3 4"
    assert any(sentence in warning for warning in chorus.warnings)


def test_an_order_of_parts_that_are_marked_nowhere() -> None:
    chorus = play("AABA", '|:"C"c4:|"F"d4|]')
    assert order(chorus) == "1 1 2"
    assert any("calls part A" in warning for warning in chorus.warnings)


def test_one_letter_names_a_part_and_is_no_order() -> None:
    assert (order(play("A")), play("A").warnings) == ("1 2 3 4", ())


def test_more_bars_than_can_be_played() -> None:
    with pytest.raises(InputError, match=r"t\.abc: with its order of parts"):
        play("A3000", 'P:A\n"C"c4|"F"d4||\n')


def test_the_order_holds_in_another_key() -> None:
    tune = read(f"X:1\nP:ABA\nM:4/4\nL:1/4\nK:C\n{THREE_PARTS}".encode(), "t.abc")
    assert order(unfold(transpose_tune(tune, Key(-1)))) == "1 2 3 1 2"
