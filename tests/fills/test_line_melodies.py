"""Do the line costs hear something? Real phrases against their own notes shuffled; and the
statistics of whole tunes of lines against those of real solos."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

import pytest
from bench.bench_lines import (
    CHORD_TONES_ON_STRONG,
    CORPUS,
    NOTES_PER_SECOND,
    RANGES,
    Count,
    corpus_sheets,
    count_lines,
    demo_tunes,
)

from fillwright.fills.devices.line.costs import Problem, Slot, price
from fillwright.fills.devices.line.pools import kinds
from fillwright.tune.model import Chorus, SoundingNote

pytestmark = pytest.mark.slow

SHUFFLES = 5


@lru_cache(maxsize=1)
def sheets() -> tuple[Chorus, ...]:
    """The demo tunes and the two lead sheets of music21's corpus."""
    return (*demo_tunes(), *corpus_sheets(CORPUS[:2]))


def phrases(chorus: Chorus) -> Iterator[tuple[SoundingNote, ...]]:
    """Stretches of 5 to 12 notes of the melody, cut after notes of two beats and rests of one."""
    row: list[SoundingNote] = []
    for index, note in enumerate(chorus.melody):
        row.append(note)
        following = chorus.melody[index + 1] if index + 1 < len(chorus.melody) else None
        beat = chorus.bar_at(note.onset_quarter).meter.beat_quarter
        cut = (following is None or note.duration_quarter >= 2 * beat
               or following.onset_quarter - note.end_quarter >= beat or len(row) == 12)
        if cut:
            if len(row) >= 5:
                yield tuple(row)
            row = []


def question(chorus: Chorus, phrase: tuple[SoundingNote, ...]) -> Problem | None:
    """The phrase as a question without a contour of its own: every shuffle is as near to it."""
    slots = []
    for index, note in enumerate(phrase):
        harmony = chorus.harmony_at(note.onset_quarter)
        if harmony is None:
            return None
        place = chorus.beat_in_bar(note.onset_quarter) - 1
        strength = 0 if place.denominator != 1 else 2 if place % 2 == 0 else 1
        slots.append(Slot(note.onset_quarter, strength, note.duration_quarter > Fraction(1, 2),
                          index == len(phrase) - 1, kinds(harmony, "advanced"), 0))
    middle = sum(n.midi for n in phrase) // len(phrase)
    return Problem(tuple(slots), tuple((n.midi,) for n in phrase), (None,) * (len(phrase) - 1),
                   (middle,) * len(phrase), None, None, True, strict=False)


def test_real_phrases_cost_less_than_their_notes_shuffled() -> None:
    """In at least 80 of 100 cases, over the demo tunes and lead sheets of music21's corpus."""
    won = tried = 0
    for chorus in sheets():
        for number, phrase in enumerate(phrases(chorus)):
            problem = question(chorus, phrase)
            if problem is None:
                continue
            midis = [n.midi for n in phrase]
            own = sum(price(problem, midis).values())
            for seed in range(SHUFFLES):
                mixed = midis[:]
                random.Random(100 * number + seed).shuffle(mixed)
                if mixed == midis:
                    continue
                tried += 1
                won += own < sum(price(problem, mixed).values())
    assert tried >= 200
    assert won >= 0.8 * tried, (won, tried)


@lru_cache(maxsize=4)
def counted(level: str) -> Count:
    """All gaps of the demo tunes, and a dozen of some corpus sheets."""
    count = count_lines(demo_tunes(), level)
    return count_lines(corpus_sheets((*CORPUS[:2], CORPUS[-1])), level, most_gaps=12,
                       count=count)


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
@pytest.mark.parametrize("term", sorted(RANGES))
def test_intervals_are_those_of_real_solos(term: str, level: str) -> None:
    """Ranges around the Weimar Jazz Database (Pfleiderer et al., Inside the Jazzomat, 2017)."""
    low, high = RANGES[term]
    assert low <= counted(level).share(term) <= high


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_chord_tones_fall_on_beats_and_rates_suit_the_level(level: str) -> None:
    """More on beats than between (52 and 48 % in the same database); strong beats by level."""
    count = counted(level)
    assert count.per_cent(count.strong) >= CHORD_TONES_ON_STRONG[level]
    assert count.per_cent(count.beats) > count.per_cent(count.between) + 3
    assert count.fastest <= NOTES_PER_SECOND[level]
    assert count.per_cent(count.last) >= 61


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_few_gaps_have_no_line(level: str) -> None:
    count = counted(level)
    assert len(count.empty) <= 0.05 * count.gaps, count.empty


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_the_devices_are_many(level: str) -> None:
    devices = counted(level).devices
    assert len(devices) >= (6 if level == "beginner" else 14)
    assert max(devices.values()) <= 0.4 * sum(devices.values())
