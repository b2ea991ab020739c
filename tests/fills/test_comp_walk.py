"""A bass that walks, and shells that change places."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import ChordSymbol, Key, Pitch
from fillwright.fills.devices.comp.states import States
from fillwright.fills.devices.comp.steps import guides_leap
from fillwright.fills.devices.comp.walk import Step, Walk, bass_line, with_tenths
from fillwright.fills.voicing.voicings import Voicing
from fillwright.theory import Harmony, NoteName, analyse

CHORDS = ("C6", "Am7", "Dm7", "G7", "Fmaj7", "E7", "Bm7b5", "Ebmaj7", "Abm7", "Db7")


def harmonies(*names: str) -> list[Harmony]:
    found = analyse([ChordSymbol.parse(name) for name in names], Key(0, "major"))
    return [h for h in found if h is not None]


def walk(names: tuple[str, ...], goal: str | None, *, beats: int = 4,
         every_beat: bool = True, last_step: bool = False) -> Walk:
    """A bar of four for every chord."""
    steps = tuple(Step(harmony, beat == 0, beat % 2 == 0)
                  for harmony in harmonies(*names) for beat in range(beats))
    return Walk(steps, None if goal is None else NoteName.parse(goal), every_beat, last_step)


def keys(asked: Walk) -> list[int]:
    found = bass_line(asked)
    assert found is not None
    return [voicing.midis[0] for voicing in found[0]]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(CHORDS), min_size=1, max_size=3), st.sampled_from(CHORDS))
def test_a_walk_goes_somewhere(names: list[str], home: str) -> None:
    goal = harmonies(home)[0].root
    asked = walk(tuple(names), str(goal))
    row = keys(asked)
    assert not any(a == c for a, b, c in zip(row, row[1:], row[2:], strict=False))
    for step, key, after in zip(asked.steps, row, [*row[1:], None], strict=True):
        if step.begins:
            assert key % 12 == step.harmony.root.pitch_class
        elif after is not None and not step.harmony.is_tone(key % 12):
            assert abs(after - key) <= 2  # a foreign tone is left by step
    leaps = [abs(b - a) for a, b in pairwise(row)]
    assert max(leaps, default=0) <= 12 and 0 not in leaps


def test_a_chromatic_step_is_named_by_its_goal() -> None:
    """Over C7 a walk to B flat may come from B natural or A, never from C flat."""
    found = bass_line(walk(("C7",), "Bb"))
    assert found is not None
    names = [v.pitches[0].note_name.pretty for v in found[0]]
    assert names[0] == "C" and not {"C♭", "E♯", "B♯", "F♭"} & set(names)
    assert (found[0][-1].midis[0] - 10) % 12 in (1, 2, 5, 7, 10, 11)


def test_in_two_with_a_last_step_and_an_end() -> None:
    row = keys(walk(("Dm7",), "G", beats=3, every_beat=False, last_step=True))
    assert (row[-1] - 7) % 12 in (1, 2, 10, 11)
    assert keys(walk(("C6",), None))[-1] % 12 == 0  # a tune's end stands on its root


def test_tenths_lie_over_the_keys_that_have_one_in_reach() -> None:
    asked = walk(("C6",), "F")
    line = bass_line(asked)
    assert line is not None
    large = with_tenths(asked, line[0], "large", roll=False)
    assert large[0].midis[-1] - large[0].midis[0] == 16
    assert all(len(v.midis) == 1 for v in with_tenths(asked, line[0], "small", roll=False))


@pytest.mark.parametrize("moved", ("G3 B3 F4", "C4 E4 Bb4"))
def test_a_shell_carried_as_a_block_pays(moved: str) -> None:
    """D7 to G7: F sharp goes to F and C to B (common practice); a block leaps."""
    def states(text: str) -> States:
        pitches = tuple(Pitch.parse(name) for name in text.split())
        return States([Voicing("shell", ("1", "3", "b7"), pitches, 3)], [{}])

    here = states("D3 F#3 C4")
    assert guides_leap(here, states("G2 F3 B3"))[0, 0] < guides_leap(here, states(moved))[0, 0]
    assert guides_leap(states("D3 C4"), states("G3 B3"))[0, 0] == 0
