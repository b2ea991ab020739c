"""Devices of comping that are told from the notes: each is heard in no other device's example,
and in every fill that goes by its name."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, one_task

from fillwright import Chorus, Fill
from fillwright.fills import fills_of, passage_of
from fillwright.fills.devices.comp.family import COMP
from fillwright.fills.devices.comp.table import TEXTURES
from fillwright.theory import Interval

# What is heard in examples of other ideas, for it goes well with them: its name is true there.
WITH_OTHERS = {
    "four-note voicings with the melody on top": {"fourths under", "chords under"},
    "bass line under the held note": {"bass and tenths"},
    "broken chord under the held note": {"broken tenth under the held note"},
    "fourths over the root": {"chord slid into from a half step", "fourths under", "planed"},
    "inner line under the held note": {"moving"},
    "spread voicing with inner motion": {"moving"},
    "low to high": {"the melody's last notes in locked hands"},
    "locked hands": {"the melody's last notes in locked hands"},
    "tenths in the left hand": {"bass and tenths", "moving voice 13", "bell note"},
}
OWN = [t for t in TEXTURES if not t.plain]


def test_an_idea_is_heard_in_no_other_example() -> None:
    for texture in OWN:
        for other in OWN:
            if other.example != texture.example and other.hears is not texture.hears:
                heard = texture.is_heard_in(other.example.passage())
                assert not heard or other.name.startswith(
                    tuple(WITH_OTHERS.get(texture.name, ()))), (texture.name, other.name)


def test_what_the_hands_strike_tells_a_plain_texture() -> None:
    """A root more in the left hand, or its lowest key a half step up, or a key more in the hand
    that is counted: it is not what it is called."""
    for texture in TEXTURES:
        if not texture.plain:
            continue
        passage = texture.example.passage()
        hand = "right" if texture.right else "left"
        first = min((n for n in passage.notes if n.hand == "left"),
                    key=lambda n: (n.onset_quarter, n.midi))
        moved = [replace(n, pitch=n.pitch + Interval(0, 1)) if n is first else n
                 for n in passage.notes]
        onset = next(o for o, row in reversed(passage.struck(hand)))
        low = min((n for n in passage.notes if n.hand == hand and n.onset_quarter == onset),
                  key=lambda n: n.midi)
        more = [*passage.notes, *(replace(low, pitch=low.pitch + Interval(7 * i, 12 * i - 1))
                                  for i in (1, 2, 3))]
        assert not all(texture.is_heard_in(replace(passage, notes=tuple(notes)))
                       for notes in (moved, more)), texture.name


def test_one_key_off_is_not_the_device() -> None:
    """A half step more on the last key of the hand that tells it."""
    told = ("moving", "two notes slid", "chord slid", "planed", "guide tones", "fourths",
            "top register", "shells", "two-note shells", "root, then guide")
    for texture in TEXTURES:
        passage = texture.example.passage()
        hand = "right" if any(n.hand == "right" for n in passage.notes) else "left"
        last = max((n for n in passage.notes if n.hand == hand),
                   key=lambda n: (n.onset_quarter, -n.midi))
        notes = tuple(replace(n, pitch=n.pitch + Interval(0, 1)) if n is last else n
                      for n in passage.notes)
        if texture.name.startswith(told):
            assert not texture.is_heard_in(replace(passage, notes=notes)), texture.name


def test_what_is_offered_by_its_name_is_heard() -> None:
    seen = set()
    named = {t.name: t for t in TEXTURES}
    for tempo in (63, 132):
        for chord, goal, held in (("Cmaj7", "Dm7", "G4"), ("Dm7", "G7", "A4"),
                                  ("G7", "Cmaj7", "F5")):
            chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 4)],
                               [(chord, 4), (goal, 4)])
            task = one_task(chorus, 1, "advanced")
            for number, candidate in enumerate(COMP.candidates(task, task.player, frozenset())):
                if number >= 40:
                    break
                texture = named.get(candidate.device)
                for draft in candidate.drafts(0) if texture is not None else ():
                    assert texture is not None
                    said = texture.says(passage_of(task, draft))
                    if texture.plain:  # said of every fill, with what is left out
                        assert any(r.startswith(said.removesuffix(".")) for r in draft.reasons)
                    else:
                        assert said in draft.reasons
                    seen.add(texture.name)
    assert len(seen) >= 15, seen


def fills_named(word: str, chorus: Chorus, count: int = 24) -> list[Fill]:
    found = fills_of(one_task(chorus, 1, "advanced"), "comp", count)
    assert not isinstance(found, str)
    return [fill for fill in found if word in fill.device]


@pytest.mark.slow
def test_a_pedal_point_stays_through_chords_that_take_it() -> None:
    """G lies under Dm7 and G7 before C (common practice); under Dm7 and E7 nothing does."""
    melody = [("E4", 1), ("G4", 1), ("E4", 1), ("G4", 1), ("A4", 4), ("E5", 4)]

    def over(*pair: str) -> list[Fill]:
        return fills_named("pedal point", chorus_of("4/4", "C", 132, melody, [
            ("Cmaj7", 4), (pair[0], 2), (pair[1], 2), (pair[2], 4)]))

    found = over("Dm7", "G7", "Cmaj7")
    assert found and not over("Dm7", "E7", "Am7") and not over("G7", "G7", "Cmaj7")
    for fill in found:
        bass = [n for n in fill.notes if n.hand == "left"]
        assert {n.midi % 12 for n in bass} == {7} and len({n.midi for n in bass}) == 1
        assert any("G stays in the bass" in reason for reason in fill.reasons)


def test_locked_hands_are_four_keys_close_and_the_top_an_octave_below() -> None:
    chorus = chorus_of("4/4", "C", 132, [("E5", 8), ("C5", 4)], [("C6", 8), ("Cmaj7", 4)])
    found = fills_named("locked hands", chorus)
    assert found
    for fill in found:
        right = {o: sorted(n.midi for n in fill.notes if n.hand == "right"
                           and n.onset_quarter == o) for o in {
            n.onset_quarter for n in fill.notes if n.hand == "right"}}
        left = {n.onset_quarter: n.midi for n in fill.notes if n.hand == "left"}
        assert len(right) > 1
        for onset, row in right.items():
            assert len(row) == 4 and row[-1] - row[0] < 12 and left[onset] == row[-1] - 12
        tops = [right[o][-1] for o in sorted(right)]
        down = [a > b for a, b in pairwise(tops)]
        assert 0 not in {a - b for a, b in pairwise(tops)} and sum(down) >= len(down) - 1, (
            "a line down to the landing")
