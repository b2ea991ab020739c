"""Each rule finds what breaks its rule and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from tests.hands.key_notes import key

from fillwright import ChordSymbol, HandNote
from fillwright.hands.moments import moments
from fillwright.rules import (
    AUDITED,
    COUNTS,
    COVERED,
    FINGERS,
    HANDS,
    HOLE,
    JUMPS,
    MELODY,
    MINOR_NINTH,
    MUD,
    RANGE,
    REACH,
    RESTRIKES,
    ROLLS,
    RUB,
    Chords,
    FillSpan,
    Finding,
    HeardChord,
    MelodySpan,
    Passage,
    Rule,
    audit,
    findings,
)
from fillwright.tune import ChordSpan

Q = Fraction
NAMES = tuple(rule.name for rule in AUDITED)


def spans(*symbols: ChordSymbol) -> list[ChordSpan]:
    """Chords of four quarters each, one after another."""
    return [ChordSpan(Q(4 * place), Q(4), symbol) for place, symbol in enumerate(symbols)]


def broken(rule: Rule, notes: Sequence[HandNote], size: str = "medium", seconds: float = 0.5,
           chords: Sequence[ChordSpan] = (), sounding: Sequence[MelodySpan] = (),
           melody: Sequence[tuple[Fraction, Fraction, int]] | None = None, whole: bool = True
           ) -> tuple[Finding, ...]:
    return findings(Passage(
        tuple(notes), size, seconds, Chords.of(chords), tuple(sounding),
        None if melody is None else tuple(melody), whole=whole), [rule])


def places(findings: Sequence[Finding]) -> list[tuple[float, tuple[int, ...]]]:
    return [(float(finding.onset_quarter), finding.midis) for finding in findings]


def rubs(notes: Sequence[HandNote], sounding: Sequence[MelodySpan],
         chords: Sequence[ChordSpan] = ()) -> tuple[Finding, ...]:
    return broken(RUB, notes, chords=chords, sounding=sounding)


def sung(notes: Sequence[HandNote], melody: Sequence[tuple[Fraction, Fraction, int]],
         seconds: float) -> tuple[Finding, ...]:
    return broken(MELODY, notes, seconds=seconds, melody=melody)


def clean_bar() -> list[HandNote]:
    """A melody note on top of two comping hits over a shell, all playable."""
    return [
        key(0, "1/2", 76, 5, role="melody"),
        key(0, 4, 48, 5, "left"), key(0, 4, 58, 1, "left"),
        key("3/2", "1/2", 64, 1), key("3/2", "1/2", 69, 2), key("3/2", "1/2", 74, 5),
        key(3, "1/2", 64, 1), key(3, "1/2", 67, 2), key(3, "1/2", 74, 5),
        key(4, 2, 77, 5, role="melody"), key(4, 2, 53, 5, "left"), key(4, 2, 63, 1, "left"),
    ]


def test_moments_know_what_is_struck_and_what_is_down() -> None:
    found = moments([key(0, 2, 48, 5, "left"), key(1, 1, 64, 1), key(2, 1, 65, 1)])
    assert [(float(m.onset_quarter), [n.midi for n in m.struck], [n.midi for n in m.down])
            for m in found] == [(0, [48], [48]), (1, [64], [48, 64]), (2, [65], [65])]


def test_a_clean_bar_is_clean() -> None:
    melody = [(Q(0), Q(4), 76), (Q(4), Q(2), 77)]
    sounding = (MelodySpan(Q(0), Q(3, 2), 76, Q(1), True), MelodySpan(Q(4), Q(6), 77))
    chords = Chords.of(spans(ChordSymbol.of("C", "dominant"), ChordSymbol.of("F", "dominant")))
    added = Chords((*chords.heard, HeardChord(Q(8), Q(12), ChordSymbol.of("C", "major"), True)))
    result = audit(Passage(tuple(clean_bar()), "medium", 0.5, added, sounding, tuple(melody),
                           (FillSpan(1, Q(0), Q(6), Q(7)),)))
    assert result.clean, result.findings
    assert tuple(rule for rule, _ in result.checked) == NAMES
    assert all(count > 0 for _, count in result.checked)


def test_reach() -> None:
    tenth = [key(0, 1, 48, 5, "left"), key(0, 1, 64, 1, "left")]
    assert places(broken(REACH, tenth, "medium")) == [(0, (48, 64))]
    assert broken(REACH, tenth, "large") == ()


def test_reach_counts_keys_still_held() -> None:
    held = [key(0, 4, 76, 5, role="melody"), key(2, 1, 59, 1)]
    assert places(broken(REACH, held, "medium")) == [(2, (59, 76))]
    let_go = [key(0, 2, 76, 5, role="melody"), key(2, 1, 59, 1)]
    assert broken(REACH, let_go, "medium") == ()


def test_a_rolled_chord_may_exceed_the_reach_by_a_third() -> None:
    def rolled(top: int) -> list[HandNote]:
        return [key(0, 2, 48, 5, "left", rolled=True), key(0, 2, top, 1, "left", rolled=True)]
    assert broken(REACH, rolled(64), "medium") == ()
    assert places(broken(REACH, rolled(69), "medium")) == [(0, (48, 69))]
    held_on = [*rolled(64), key(1, 1, 55, 3, "left")]
    assert places(broken(REACH, held_on, "medium")) == [(1, (48, 64))]


@pytest.mark.parametrize(("low", "high", "hand", "message"), [
    ((60, 2), (64, 2), "right", "two keys at once"),
    ((60, 3), (64, 2), "right", "crossed"),
    ((48, 1), (58, 5), "left", "crossed"),
    ((60, 3), (67, 4), "right", "do not span"),
])
def test_fingers(low: tuple[int, int], high: tuple[int, int], hand: str, message: str) -> None:
    notes = [key(0, 1, *low, hand), key(0, 1, *high, hand)]
    found, = broken(FINGERS, notes, "medium")
    assert message in found.message and found.midis == (low[0], high[0])


def test_fingers_of_held_keys_and_unknown_fingers() -> None:
    assert len(broken(FINGERS, [key(0, 2, 60, 1), key(1, 1, 64, 1)], "medium")) == 1
    assert broken(FINGERS, [key(0, 1, 60, 1), key(1, 1, 64, 1)], "medium") == ()
    assert broken(FINGERS, [key(0, 2, 60, None), key(1, 1, 64, 2)], "medium") == ()
    # nothing fits below a thumb
    assert len(broken(FINGERS, [key(0, 2, 60, None), key(1, 1, 64, 1)], "medium")) == 1
    assert broken(FINGERS, [key(0, 1, 48, 1, "left"), key(0, 1, 60, 1)], "medium") == ()


def test_counts() -> None:
    six = [key(0, 1, 60 + place, None) for place in range(6)]
    assert places(broken(COUNTS, six)) == [(0, (60, 61, 62, 63, 64, 65))]
    assert broken(COUNTS, six[:5]) == ()


def test_rolls_need_time_and_are_few() -> None:
    def bar(at: int, rolled: bool) -> list[HandNote]:
        return [key(at, 1, 48, 5, "left", rolled=rolled), key(at, 1, 64, 1, "left", rolled=rolled)]
    few = [note for at in range(30) for note in bar(at, at == 3)]
    assert broken(ROLLS, few, "large", 0.5) == ()
    many = [note for at in range(20) for note in bar(at, at == 3)]
    assert places(broken(ROLLS, many, "large", 0.5)) == [(3, (48, 64))]
    assert broken(ROLLS, many, "large", 0.5, whole=False) == ()
    assert places(broken(ROLLS, many, "large", 0.15, whole=False)) == [(3, (48, 64))]
    half = [key(0, 1, 48, 5, "left", rolled=True), key(0, 1, 60, 1, "left")]
    assert "half a chord" in broken(ROLLS, half, "large", 0.5, whole=False)[0].message


def test_jumps() -> None:
    notes = [key(0, 1, 36, 5, "left"), key(1, 1, 72, 1, "left"), key(1, 1, 76, 1)]
    found, = broken(JUMPS, notes, "medium", 0.25)
    assert found.onset_quarter == 1 and found.midis == (36, 72)
    assert "C2 to C5" in found.message
    assert broken(JUMPS, notes, "medium", 0.5) == ()


def test_hands_on_one_key_and_crossed() -> None:
    one = [key(0, 2, 60, 1, "left"), key(1, 1, 60, 1)]
    assert places(broken(HANDS, one)) == [(1, (60,))]
    crossed = [key(0, 2, 64, 1, "left"), key(1, 1, 62, 1)]
    assert places(broken(HANDS, crossed)) == [(1, (64, 62))]
    after = [key(0, 1, 64, 1, "left"), key(1, 1, 62, 1)]
    assert broken(HANDS, after) == ()


def test_restrikes() -> None:
    assert places(broken(RESTRIKES, [key(0, 2, 60, 1), key(1, 1, 60, 1)])) == [(1, (60,))]
    assert broken(RESTRIKES, [key(0, 1, 60, 1), key(1, 1, 60, 1)]) == ()
    assert places(broken(RESTRIKES, [key(0, 1, 60, 1), key(0, 1, 60, 2)])) == [(0, (60,))]


def test_range() -> None:
    assert broken(RANGE, [key(0, 1, 21, 5, "left"), key(0, 1, 108, 5)]) == ()
    assert [finding.midis for finding in broken(RANGE, [key(0, 1, 20, 5, "left"),
                                                      key(0, 1, 109, 5)])] == [(20,), (109,)]


def test_mud_among_keys_down_together() -> None:
    assert places(broken(MUD, [key(0, 2, 36, 5, "left"), key(1, 1, 40, 3, "left")])) == [
        (1, (36, 40))]
    assert broken(MUD, [key(0, 1, 36, 5, "left"), key(1, 1, 40, 3, "left")]) == ()


def test_minor_ninths() -> None:
    notes = [key(0, 2, 52, 5, "left"), key(0, 2, 65, 1)]
    major = spans(ChordSymbol.of("C", "major-seventh"))
    assert places(broken(MINOR_NINTH, notes, chords=major)) == [(0, (52, 65))]
    flat_nine = spans(ChordSymbol.of("E", "dominant", "b9"))
    assert broken(MINOR_NINTH, notes, chords=flat_nine) == ()
    half_step = [key(0, 2, 64, 1), key(0, 2, 65, 2)]
    assert broken(MINOR_NINTH, half_step, chords=major) == ()


def test_a_line_passes_over_a_held_chord() -> None:
    passing = [key(0, 4, 48, 5, "left"), key(0, 4, 58, 1, "left"), key("1/2", "1/2", 71, 2)]
    assert broken(MINOR_NINTH, passing, chords=spans(ChordSymbol.of("C", "dominant"))) == ()
    with_it = [key(0, 4, 48, 5, "left"), key(0, 4, 58, 1, "left"), key(0, "1/2", 71, 2)]
    assert places(broken(MINOR_NINTH, with_it, chords=spans(ChordSymbol.of("C", "dominant")))) == [
        (0, (58, 71))]


def test_rubs_last_as_long_as_the_melody_sounds() -> None:
    notes = [key(0, 1, 72, 5, role="melody"), key(1, 1, 71, 2), key(3, 1, 59, 1, "left")]
    chords = spans(ChordSymbol.of("C", "major-seventh"))
    assert rubs(notes, [MelodySpan(Q(0), Q(1), 72)], chords) == ()
    assert places(rubs(notes, [MelodySpan(Q(0), Q(2), 72)], chords)) == [(1, (71, 72))]
    assert places(rubs(notes, [MelodySpan(Q(0), Q(4), 72)], chords)) == [
        (1, (71, 72)), (3, (59, 72))]


def test_a_melody_on_the_flat_nine_does_not_rub_the_root() -> None:
    notes = [key(0, 4, 43, 5, "left", role="base")]
    melody = [MelodySpan(Q(0), Q(4), 68)]
    assert rubs(notes, melody, spans(ChordSymbol.of("G", "dominant"))) == ()
    assert len(rubs(notes, melody, spans(ChordSymbol.of("G", "major-seventh")))) == 1
    # A dominant that comes within a quarter note is the one a push belongs to.
    coming = [ChordSpan(Q(0), Q(1, 2), ChordSymbol.of("D", "minor-seventh")),
              ChordSpan(Q(1, 2), Q(4), ChordSymbol.of("G", "dominant"))]
    assert rubs(notes, melody, coming) == ()


def test_a_key_held_into_a_melody_note_rubs_too() -> None:
    notes = [key(0, 2, 64, 1), key(1, 1, 65, 5, role="melody")]
    assert places(rubs(notes, [MelodySpan(Q(1), Q(2), 65)], ())) == [(1, (64, 65))]


def test_a_melody_passes_over_a_held_base() -> None:
    def held(role: str, onset: str) -> list[HandNote]:
        return [key(onset, 2, 54, 3, "left", role=role), key(1, "1/2", 67, 5, role="melody")]
    short, long = [MelodySpan(Q(1), Q(3, 2), 67)], [MelodySpan(Q(1), Q(2), 67)]
    assert rubs(held("base", "1/2"), short, ()) == ()
    assert len(rubs(held("base", "1/2"), long, ())) == 1
    assert len(rubs(held("base", "1"), short, ())) == 1
    assert len(rubs(held("fill", "1/2"), short, ())) == 1


def test_melody() -> None:
    notes = [key(0, 1, 72, 5, role="melody"), key(1, "1/16", 74, 5, role="melody"),
             key(2, 1, 76, 4, role="melody"), key(2, 1, 79, 5)]
    wanted = [(Q(0), Q(1), 72), (Q(1), Q(1), 74), (Q(2), Q(1), 76)]
    found = sung(notes, wanted, 0.5)
    assert [(float(f.onset_quarter), f.message.split()[-1]) for f in found] == [(1, "heard")]
    sounding = [MelodySpan(onset, onset + length, midi) for onset, length, midi in wanted]
    over = broken(COVERED, notes, sounding=sounding, melody=wanted)
    assert places(over) == [(2, (79, 76))]
    missing = sung(notes[:1], wanted, 0.5)
    assert [f.message for f in missing] == ["the melody's D5 is missing",
                                            "the melody's E5 is missing"]
    assert [f.message for f in sung(notes[:1], [], 0.5)] == ["C5 is not in the melody"]


def test_a_short_melody_note_may_be_as_short_as_written() -> None:
    notes = [key(0, "1/8", 72, 5, role="melody")]
    assert sung(notes, [(Q(0), Q(1, 8), 72)], 0.4) == ()


def test_a_wide_hole_between_chords() -> None:
    low = [key(0, 1, 43, 5, "left"), key(0, 1, 53, 1, "left")]
    assert len(broken(HOLE, [*low, key(0, 1, 79, 1), key(0, 1, 84, 5)])) == 1
    assert broken(HOLE, [*low, key(0, 1, 76, 1), key(0, 1, 84, 5)]) == ()
    assert broken(HOLE, [*low, key(0, 1, 84, 5)]) == ()


def test_an_audit_names_every_rule_that_is_broken() -> None:
    notes = [
        key(0, 4, 36, 5, "left"), key(0, 4, 40, 4, "left"), key(0, 4, 53, 1, "left"),
        key(0, 4, 72, 5, role="melody"), key(1, 2, 52, 1), key(1, 2, 71, 1),
        key(2, 1, 71, 2), key("17/8", 1, 110, 5), key(2, 1, 52, 2, "left"),
    ]
    result = audit(Passage(
        tuple(notes), "medium", 0.5, Chords.of(spans(ChordSymbol.of("C", "major-seventh"))),
        (MelodySpan(Q(0), Q(4), 72),), ((Q(0), Q(4), 72), (Q(4), Q(4), 74))))
    assert {finding.rule for finding in result.findings} == {
        "reach", "fingers", "jumps", "hands", "restrikes", "range", "mud", "minor ninths",
        "rubs", "melody", "covered"}
    assert not result.clean
    assert [finding.rule for finding in result.findings] == sorted(
        (finding.rule for finding in result.findings), key=NAMES.index)
    assert result.of("range") == tuple(f for f in result.findings if f.rule == "range")


def test_an_audit_of_a_fill_leaves_the_melody_aside() -> None:
    result = audit(Passage(tuple(clean_bar()), "small", 0.5, whole=False))
    assert "melody" not in dict(result.checked)
    assert audit(Passage((), "small", 0.5)).clean
