"""The plan of a pack: what may stand in it, and the sentence for all else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.sweep import every

from fillwright import InputError
from fillwright.lesson import ITEM_KEYS, MOST_ITEMS, TOP_KEYS, read_plan, read_plan_text

ITEM = '[[item]]\ntune = "lamp"\ngap = 3\n'


def test_everything_a_plan_can_say() -> None:
    plan = read_plan_text("""
title = "Answers  to a held note"
teacher = "T."
student = "S."
date = 2026-12-01
paper = "Letter"
language = "de"
larger_print = true
answers_in_page = true
level = "beginner"
counts = false

[[item]]
tune = "tunes/own.musicxml"
gap = 4
fill = "reharm:2"
hand = "small"
tempo = 92.5
key = "Ab"
show = "chords"
words = \"\"\"Slowly.

  Then   faster.\"\"\"
reasons = false

[[item]]
tune = "snow"
gap = 1
level = "advanced"
counts = true
""")
    assert (plan.title, plan.date, plan.paper, plan.language) == (
        "Answers to a held note", "2026-12-01", "Letter", "de")
    assert plan.larger_print and plan.answers_in_page
    first, second = plan.items
    assert (first.level, first.hand, first.key) == ("beginner", "small", "Ab")
    assert first.tempo is not None and first.tempo == 92.5
    assert first.words == "Slowly.\n\nThen faster."
    assert (first.counts, first.reasons, first.hand_pictures) == (False, False, True)
    assert (second.level, second.counts, second.fill, second.show) == (
        "advanced", True, "", "filled")


WRONG = {
    ITEM: "a plan has a title",
    'title = "A"': "a plan has at least one [[item]]",
    'title = "A"\nitem = 3': "a plan has at least one [[item]]",
    'title = "A"\n' + ITEM * (MOST_ITEMS + 1): "at most 100 items, not 101",
    'title = "A\n': "the plan is no TOML",
    'titel = "A"\n' + ITEM: "'titel' is no key here; the nearest is title",
    'title = "A"\nlevel = "expert"\n' + ITEM: "'expert' is not a value of level",
    'title = " "\n' + ITEM: "title is empty",
    'title = 3\n' + ITEM: "title is a text, not 3",
    'title = "A"\npaper = "A5"\n' + ITEM: "one of A4, Letter; the nearest is A4",
    'title = "A"\n[[item]]\ngap = 3': "item 1: it has no tune",
    'title = "A"\n' + ITEM + '[[item]]\ntune = "lamp"': "item 2: it has no gap",
    'title = "A"\n' + ITEM + "teacher = 'x'": "item 1: 'teacher' is no key here",
    'title = "A"\n' + ITEM + "leval = 'beginner'": "the nearest is level",
    'title = "A"\n' + ITEM + "fill = 'open'": "item 1: an open gap has no fill",
    'title = "A"\n' + ITEM + "fill = 'comb:1'": "item 1: 'comb:1' names no fill",
    'title = "A"\n' + ITEM + "show = 'rythm'": "the nearest is rhythm",
    'title = "A"\n' + ITEM + "tempo = 'fast'": "item 1: a tempo is a number",
    'title = "A"\n' + ITEM + "tempo = nan": "item 1: a tempo is a number",
    'title = "A"\n' + ITEM + "key = 'H#'": "write it like Ab",
    'title = "A"\n' + ITEM + "counts = 1": "item 1: counts is true or false, not 1",
    'title = "A"\n' + ITEM + "words = ['a']": "item 1: words are a text",
    'title = "A"\n[[item]]\ntune = "lamp"\ngap = 0': "item 1: the number of a gap is a whole",
    'title = "A"\n[[item]]\ntune = "lamp"\ngap = true': "item 1: the number of a gap is a whole",
    'title = "A"\n' + ITEM + f"words = '{'a' * 3000}'": "at most 2000 characters",
}


@every(WRONG.items())
def test_what_is_wrong_is_said_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_plan_text(text)
    assert said in refused.value.message
    assert "\n" not in refused.value.message


@given(st.text("abcdefghijklmnopqrstuvwxyz_", min_size=1))
def test_no_key_is_passed_over(name: str) -> None:
    for known, place in ((TOP_KEYS, f'title = "A"\n{name} = 1\n' + ITEM),
                         (ITEM_KEYS, 'title = "A"\n' + ITEM + f"{name} = 1")):
        if name not in known:
            with pytest.raises(InputError, match="is no key here; the nearest is"):
                read_plan_text(place)


def test_a_plan_is_a_file(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    with pytest.raises(InputError, match=r"^plan.toml: the plan cannot be read: No such file"):
        read_plan(path)
    path.write_bytes(b"\xef\xbb\xbf" + b'title = "A"\r\n' + ITEM.encode())
    assert read_plan(path).title == "A"
    path.write_bytes(b'title = "\xff"')
    with pytest.raises(InputError, match=r"^plan.toml: the plan is no UTF-8 text"):
        read_plan(path)
    path.write_text("item = []")
    with pytest.raises(InputError, match=r"^plan.toml: a plan has a title"):
        read_plan(path)
