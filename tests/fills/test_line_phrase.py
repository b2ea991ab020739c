"""Rhythms of lines: they wait, breathe, land, and suit the tempo."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, context_of

from fillwright.fills.devices.line.phrase import (
    NOTES_PER_SECOND,
    beats_of,
    make_phrase,
    phrases,
    rate_ok,
    strength_at,
    suitable_styles,
)
from fillwright.fills.finish import speak_quarter
from fillwright.fills.situation import Task
from fillwright.hands.model import LEVELS

pytestmark = pytest.mark.slow


def gap(beats: int = 4, tempo: int = 120, level: str = "intermediate", meter: str = "4/4",
        offset: Fraction = Fraction(0)) -> Task:
    """One gap, its onset `offset` quarters after a bar line, and a melody after it."""
    before: list[tuple[str | None, Fraction]] = [("C5", offset)] if offset else []
    chorus = chorus_of(meter, "C", tempo,
                       [*before, ("E5", Fraction(beats)), ("D5", 1), ("C5", 1), ("B4", 1)],
                       [("Cmaj7", offset + beats + 4)])
    return context_of(chorus, level=level)


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 12), st.sampled_from((56, 80, 110, 150, 210, 260)),
       st.sampled_from(LEVELS), st.sampled_from(("4/4", "3/4", "6/8", "12/8", "5/4")),
       st.sampled_from((Fraction(0), Fraction(1, 2), Fraction(3, 2))))
def test_every_rhythm_waits_breathes_and_is_in_time(
        beats: int, tempo: int, level: str, meter: str, offset: Fraction) -> None:
    context = gap(beats, tempo, level, meter, offset)
    for phrase in phrases(context):
        assert phrase.onsets[0] >= context.onset_quarter + speak_quarter(context)
        assert phrase.ends[-1] <= context.end_quarter
        assert phrase.air == context.end_quarter - phrase.ends[-1]
        assert all(a < b for a, b in pairwise(phrase.onsets))
        assert all(o < e for o, e in zip(phrase.onsets, phrase.ends, strict=True))
        assert all(e <= o for e, o in zip(phrase.ends, phrase.onsets[1:], strict=False))
        assert rate_ok(context, phrase.onsets)
        full = longest = 0
        for beat in beats_of(context):
            inside = sum(beat.onset_quarter <= o < beat.end_quarter for o in phrase.onsets)
            full = full + 1 if inside > 1 else 0
            longest = max(longest, full)
        assert longest <= 4


def test_rhythms_differ() -> None:
    found = phrases(gap(6))
    assert len({p.onsets for p in found}) == len(found) >= 6


def test_not_every_rhythm_starts_or_ends_on_a_beat() -> None:
    """Of real phrases 35 % start and 39 % end on a beat (Weimar Jazz Database)."""
    found = phrases(gap(6), each=6)
    starts = [p.onsets[0].denominator == 1 for p in found]
    ends = [p.onsets[-1].denominator == 1 for p in found]
    assert any(starts) and not all(starts)
    assert any(ends) and not all(ends)


def test_styles_suit_tempo_and_level() -> None:
    """Sixteenths belong to tempos below 100, triplets to the middle, quarters and eighths to
    fast tempos (division shares by tempo, Weimar Jazz Database)."""
    assert suitable_styles(gap(4, 60, "advanced"))[0] == "double time"
    assert "triplets" in suitable_styles(gap(4, 130, "intermediate"))
    assert "triplets" not in suitable_styles(gap(4, 220, "advanced"))
    assert "double time" not in suitable_styles(gap(4, 160, "advanced"))
    assert "quarters" in suitable_styles(gap(4, 240, "intermediate"))
    assert set(suitable_styles(gap(4, 150, "beginner"))) == {"quarters", "eighths"}


@pytest.mark.parametrize(("level", "tempo", "ok"), [
    ("beginner", 100, True), ("beginner", 170, False), ("intermediate", 170, True),
    ("intermediate", 300, False), ("advanced", 290, True)])
def test_eighths_are_held_to_the_rate_of_the_level(level: str, tempo: int, ok: bool) -> None:
    """At 170 a minute eight eighths take 1.4 seconds: too many for a beginner."""
    context = gap(6, tempo, level)
    onsets = [context.onset_quarter + 1 + Fraction(i, 2) for i in range(8)]
    assert rate_ok(context, onsets) == ok
    rate = 1 / (30 / tempo)
    assert ok == (rate <= NOTES_PER_SECOND[level] + 1 and 30 / tempo >= 0.075 and (
        level != "beginner" or rate <= 4) and (level != "intermediate" or rate <= 7))


def test_strong_beats() -> None:
    four = gap(4)
    assert [strength_at(four, Fraction(i, 2)) for i in range(8)] == [2, 0, 1, 0, 2, 0, 1, 0]
    three = gap(3, meter="3/4")
    assert [strength_at(three, Fraction(i)) for i in range(3)] == [2, 1, 1]
    twelve = gap(6, meter="12/8")
    assert [strength_at(twelve, Fraction(3 * i, 2)) for i in range(4)] == [2, 1, 2, 1]


def test_the_last_note_runs_into_the_landing_or_leaves_air() -> None:
    context = gap(4)
    near = make_phrase(context, "eighths", [Fraction(1), Fraction(3)], 0)
    assert near.ends == (Fraction(2), Fraction(4)) and near.air == 0
    far = make_phrase(context, "eighths", [Fraction(1), Fraction(5, 2)], 0)
    assert far.ends[-1] == 3 and far.air == 1


def test_a_rhythm_may_lead_to_another_place_than_the_gaps_end() -> None:
    for phrase in phrases(gap(4), landing_quarter=Fraction(7, 2)):
        assert phrase.ends[-1] <= Fraction(7, 2)
