"""Textures for both hands between the fills, and landings out of place (common practice)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from functools import lru_cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.arranging.test_arrange import TUNES, document, tune
from tests.demo_arrangements import arranged
from tests.promises import broken_rules

from fillwright import Arrangement, ChordSymbol, Fill, Key, Options, arrange, propose
from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.build import prepare
from fillwright.arranging.choose import choose_fills, shifts_of
from fillwright.arranging.figures import Figure, FigurePlace, figures
from fillwright.arranging.story import story_of
from fillwright.arranging.window import moved
from fillwright.fills import BEGINNER, Shift, player_of
from fillwright.hands import playable
from fillwright.hands.difficulty import difficulty
from fillwright.rules import MUD, RUB
from fillwright.theory import Harmony, analyse

pytestmark = pytest.mark.slow


def harmony(text: str) -> Harmony:
    (found,) = analyse([ChordSymbol.parse(text)], Key.parse("C"))
    assert found is not None
    return found


def chords_of_both(over: Harmony, texture: str, hand: str, top: int) -> list[Figure]:
    player = player_of("advanced", hand)
    return figures(FigurePlace(over, F(4), F(1), player, 34, top, top), texture)


def test_drop_2_under_the_melody() -> None:
    # C major seventh, G on top: G-E-C-B close, the second voice dropped.
    found = {tuple(map(str, (*(s.pitch for s in c.struck), *c.under))): c
             for c in chords_of_both(harmony("Cmaj7"), "drop 2", "medium", 67)}
    assert any(names[-3:] == ("E3", "B3", "C4") for names in found)
    for names, chord in found.items():
        assert names[0].startswith("C")  # the root, struck before where it is a fifth voice
        assert (chord.texture == "drop 2") == (len(names) == 3)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["Cmaj7", "Dm7", "G7", "G7(b9)", "Bm7b5", "F6", "Ebmaj7", "C/E", "Adim7"]),
       st.sampled_from(["spread", "drop 2"]), st.sampled_from(["small", "medium", "large"]),
       st.integers(60, 84))
def test_both_hands_reach_what_stands_under_the_melody(
        text: str, texture: str, hand: str, top: int) -> None:
    over = harmony(text)
    bass = over.symbol.lowest
    assert bass is not None
    for chord in chords_of_both(over, texture, hand, top):
        keys = (*chord.all_midis, top)
        assert keys[0] % 12 == bass.pitch_class
        assert all(low < high for low, high in pairwise(keys))
        assert playable((*(p.midi for p in chord.under), top), "right", hand)
        together = chord.midis if chord.texture == texture else chord.midis[1:]
        assert playable(together, "left", hand)
        assert not MUD.pairs(keys)
        assert not RUB.among([p.midi for p in chord.under], top)


def strokes_of_both(arrangement: Arrangement) -> int:
    """Places where base notes lie under a melody note in the right hand while the left strikes,
    root or bass at the bottom, three keys and more without the melody."""
    count = 0
    for note in arrangement.notes:
        if note.role != "melody":
            continue
        own = [n for n in arrangement.notes
               if n.role == "base" and n.onset_quarter == note.onset_quarter]
        if (sum(n.hand == "right" for n in own) >= 1 and sum(n.hand == "left" for n in own) >= 1
                and len(own) >= 3):
            count += 1
    return count


def test_a_ballad_has_chords_of_both_hands_in_its_middle() -> None:
    arrangement = arranged("snow", "advanced")
    assert strokes_of_both(arrangement) >= 3
    assert strokes_of_both(arranged("snow", "beginner")) == 0


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
@pytest.mark.parametrize("name", TUNES)
def test_no_hole_of_two_octaves_between_the_hands(name: str, level: str) -> None:
    arrangement = arranged(name, level)
    beat = arrangement.chorus.meter.beat_quarter
    filled = [(arrangement.gaps[f.gap - 1].onset_quarter, arrangement.gaps[f.gap - 1].end_quarter)
              for f in arrangement.fills]
    for note in arrangement.notes:
        if note.role != "melody" or note.duration_quarter < beat or any(
                low <= note.onset_quarter < high for low, high in filled):
            continue
        others = [n.midi for n in arrangement.notes if n.role != "melody"
                  and n.onset_quarter < note.end_quarter and n.end_quarter > note.onset_quarter]
        assert not others or note.midi - max(others) <= 24, note


def test_a_second_chorus_of_a_beginner_stays_within_the_level() -> None:
    arrangement = arrange(tune("lamp"), Options(level="beginner", hand="small", choruses=2,
                                                introduction=2, ending=2))
    chorus = arrangement.chorus
    assert difficulty(arrangement.notes, "small", chorus.seconds_per_quarter,
                      chorus.meter.beat_quarter).total <= BEGINNER.difficulty[1]
    assert audit_arrangement(arrangement).findings == ()


# --- landings out of place --------------------------------------------------------------------


@lru_cache
def offered() -> dict[int, tuple[Fill, ...]]:
    chorus, gaps = prepare(tune("lamp"), Options())
    found = propose(chorus, gaps, level="intermediate", hand="medium", count=3)
    return {gap.number: tuple(f for f in found.of(gap.number) if f.shift is None)
            for gap in gaps}


def chosen_of(every: dict[int, tuple[Fill, ...]]) -> tuple[Fill, ...]:
    chorus, gaps = prepare(tune("lamp"), Options())
    return choose_fills(story_of(chorus, gaps), every, {})


def shifted(fill: Fill, by: F) -> Fill:
    _, gaps = prepare(tune("lamp"), Options())
    end = gaps[fill.gap - 1].end_quarter
    return replace(fill, device=f"landing moved by {by}", id=f"{fill.id}-{by}",
                   shift=Shift(end + by, end + 2))


@pytest.mark.parametrize(("by", "times"), [(-F(1, 2), 1), (F(1, 2), 0)])
def test_one_landing_in_a_chorus_comes_early_and_none_late(by: F, times: int) -> None:
    """A melody that waits for a fill and is squeezed to catch up is a pick of the user's."""
    every = {n: tuple(shifted(f, by) for f in fills) for n, fills in offered().items()}
    assert sum(f.shift is not None for f in chosen_of(every)) == times
    assert not any(f.shift for f in chosen_of(offered()))


@pytest.mark.parametrize(("bars", "most"), [(12, 1), (32, 1), (64, 2), (200, 2)])
def test_how_many_landings_may_be_out_of_place(bars: int, most: int) -> None:
    assert shifts_of(F(4 * bars), F(4)) == most


def test_a_chorus_with_a_late_landing_keeps_every_promise() -> None:
    chorus, gaps = prepare(tune("lamp"), Options(level="advanced"))
    found = propose(chorus, gaps, level="advanced", hand="medium", count=4)
    shifted = [f for gap in gaps for f in found.of(gap.number) if f.shift is not None]
    assert shifted
    for fill in {f.device: f for f in shifted}.values():
        arrangement = arrange(tune("lamp"), Options(level="advanced",
                                                    picks=((fill.gap, fill.id),)))
        assert arrangement.fill_of(fill.gap) is not None
        assert broken_rules(document(arrangement)) == []
        assert audit_arrangement(arrangement).findings == ()


def test_a_long_piece_is_filled_as_a_short_one_is() -> None:
    """What comes again is heard within a form, not over the whole evening."""
    chorus, gaps = prepare(tune("lamp"), Options())
    length, times = chorus.length_quarter, 6
    one = {n: tuple(replace(f, shift=None) for f in fills) for n, fills in offered().items()}
    whole = replace(
        chorus, length_quarter=length * times, harmonies=chorus.harmonies * times,
        bars=tuple(b for k in range(times) for b in moved(chorus.bars, length * k)),
        melody=tuple(n for k in range(times) for n in moved(chorus.melody, length * k)),
        chords=tuple(c for k in range(times) for c in moved(chorus.chords, length * k)))
    many = tuple(replace(moved(g, length * k), number=g.number + len(gaps) * k)
                 for k in range(times) for g in gaps)
    every = {n + len(gaps) * k: tuple(
        replace(moved(f, length * k), gap=n + len(gaps) * k, id=f"{k}-{f.id}") for f in fills)
        for k in range(times) for n, fills in one.items()}
    short = choose_fills(story_of(chorus, gaps), one, {})
    long = choose_fills(story_of(whole, many), every, {})
    assert 3 * len(long) >= 2 * times * len(short)
