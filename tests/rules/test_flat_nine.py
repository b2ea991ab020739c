"""Where a flat nine is at home, asked in each way: by keys, by instant, by a whole passage.

That a dominant bears a flat nine over its root where its ninth is open, and no other chord
does, is common practice.
"""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.hands.key_notes import key

from fillwright import ChordSymbol
from fillwright.rules import (
    MINOR_NINTH,
    RUB,
    Chords,
    HeardChord,
    MelodySpan,
    Passage,
    findings,
    flat_nine_homes,
)
from fillwright.tune import ChordSpan


def row(*chords: tuple[str, str]) -> list[ChordSpan]:
    """Chords one after another, with their lengths in quarters."""
    spans, onset = [], F(0)
    for text, length in chords:
        spans.append(ChordSpan(onset, F(length), ChordSymbol.parse(text)))
        onset += F(length)
    return spans


@pytest.mark.parametrize(("symbol", "at_home"), [
    ("C7", True), ("C7b9", True), ("C7alt", True), ("C7#9", True), ("C13b9", True),
    ("C7(13)", True), ("C7#5", True), ("C7sus4(b9)", True),
    ("C9", False), ("C13", False), ("C11", False), ("C9#5", False), ("C7sus4", False),
    ("C9sus", False), ("C", False), ("Cmaj7", False), ("Cm7", False), ("Cdim7", False)])
def test_which_chords_bear_a_flat_nine(symbol: str, at_home: bool) -> None:
    assert flat_nine_homes(ChordSymbol.parse(symbol)) == ((0,) if at_home else ())


@pytest.mark.parametrize(("chords", "clean"), [
    ([("C7", "4")], True), ([("C9", "4")], False), ([("C13", "4")], False),
    ([("Cmaj7", "4")], False), ([("G7", "4")], False),
    ([("Cmaj7", "1"), ("C7", "3")], False),  # a beat early is no push
    ([("Cmaj7", "1/2"), ("C7", "3")], True),  # an eighth is
    ([("C7", "1"), ("C9", "3")], True),
])
def test_c_e_and_d_flat(chords: list[tuple[str, str]], clean: bool) -> None:
    """C3 E4 D flat 5 struck at once and held, the D flat as a key of the voicing and as the
    melody."""
    keys = [key(0, 4, 48, 5, "left"), key(0, 4, 64, 1)]
    heard = Chords.of(row(*chords))
    inside = Passage((*keys, key(0, 4, 73, 5)), "large", 0.5, heard)
    assert (not findings(inside, [MINOR_NINTH])) == clean
    melody = Passage((*keys, key(0, 4, 73, 5, role="melody")), "large", 0.5, heard,
                     (MelodySpan(F(0), F(4), 73),))
    assert (not findings(melody, [RUB])) == clean


def test_a_push_has_to_sound_into_its_chord() -> None:
    heard = Chords.of(row(("Cmaj7", "4"), ("C7", "4")))
    for length, clean in (("1/4", False), ("1/2", False), ("3/4", True)):
        struck = (key("7/2", length, 48, 5, "left"), key("7/2", length, 73, 5))
        assert (not findings(Passage(struck, "large", 0.5, heard), [MINOR_NINTH])) == clean
    # only over its own root, and never a half step
    other = (key("7/2", 2, 52, 5, "left"), key("7/2", 2, 65, 5))
    assert findings(Passage(other, "large", 0.5, heard), [MINOR_NINTH])
    near = Passage((key(4, 2, 60, 1), key(4, 2, 61, 2, role="melody")), "large", 0.5, heard,
                   (MelodySpan(F(4), F(6), 61),))
    assert findings(near, [RUB])


def test_the_written_chord_is_not_heard_under_an_added_one() -> None:
    spans = [*row(("C7", "4")), ChordSpan(F(1), F(2), ChordSymbol.parse("Cmaj7"), added=True)]
    heard = Chords.of(spans)
    assert [(float(c.onset_quarter), float(c.end_quarter), str(c.symbol)) for c in heard.heard
            ] == [(0, 1, "C7"), (1, 3, "Cmaj7"), (3, 4, "C7")]
    assert heard.homes(F(0), F(1)) == (0,) and heard.homes(F(1), F(2)) == ()


SYMBOLS = st.sampled_from(["C7", "Db7", "Cmaj7", "F9", "Bm7b5", "E7b9", "G7sus4(b9)"])
KEYS = st.lists(st.tuples(st.sampled_from(["left", "right"]), st.integers(36, 84)),
                min_size=2, max_size=6, unique_by=lambda pair: pair[1])


@settings(max_examples=150, deadline=None)
@given(SYMBOLS, KEYS, st.integers(60, 90))
def test_what_a_search_keeps_is_no_finding(symbol: str, keys: list[tuple[str, int]],
                                         melody: int) -> None:
    chord = ChordSymbol.parse(symbol)
    homes = flat_nine_homes(chord)
    midis = [midi for _, midi in keys]
    struck = tuple(key(0, 2, midi, None, hand) for hand, midi in keys)
    heard = Chords((HeardChord(F(0), F(4), chord),))
    alone = Passage(struck, "large", 0.5, heard)
    assert MINOR_NINTH.among(midis, homes) == bool(findings(alone, [MINOR_NINTH]))
    under = Passage((*struck, key(0, 2, melody, None, role="melody")), "large", 0.5, heard,
                    (MelodySpan(F(0), F(2), melody),))
    assert RUB.among(midis, melody, homes) == bool(findings(under, [RUB]))
