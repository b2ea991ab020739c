"""Fingerings of whole parts against brute force, and against what any hand knows."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from tests.hands.key_notes import chord, line, played

from fillwright.hands import (
    HAND_SIZES,
    PartNote,
    all_fingerings,
    finger_part,
    finger_steadily,
    is_black,
    mirrored,
    plan_part,
)
from fillwright.hands.costs import pair_costs, position_costs, shape_costs
from fillwright.hands.reach import ruler
from fillwright.rules import FINGERS, JUMPS, REACH, Passage, findings

HANDS = st.sampled_from(("left", "right"))
SIZES = st.sampled_from(HAND_SIZES)
SLOW = 2.0  # seconds per quarter: jumps are no matter


@st.composite
def lines(draw: st.DrawFn, longest: int) -> list[PartNote]:
    midis: list[int] = [draw(st.integers(55, 75))]
    for step in draw(st.lists(st.integers(-9, 9), max_size=longest - 1)):
        midis.append(midis[-1] + step)
    return line(midis)


@st.composite
def mixed(draw: st.DrawFn, onsets: int = 3) -> list[PartNote]:
    """Chords, single keys, and keys held under later ones."""
    notes: list[PartNote] = []
    for place in range(draw(st.integers(1, onsets))):
        keys = draw(st.sets(st.integers(58, 70), min_size=1, max_size=3))
        for midi in sorted(keys):
            notes.append((Fraction(place), Fraction(draw(st.sampled_from((1, 1, 1, 2)))), midi))
    return notes


def right_handed(notes: list[PartNote], hand: str) -> list[PartNote]:
    return notes if hand == "right" else [(a, b, mirrored(midi)) for a, b, midi in notes]


def brute_force(notes: list[PartNote], hand: str, size: str) -> int | None:
    """The least cost over every fingering, summed from the tables of costs one by one.

    Every note is at least a quarter note from the next and lasts until it.
    """
    notes = right_handed(notes, hand)
    onsets = sorted({onset for onset, _, _ in notes})
    down: list[dict[int, bool]] = []  # per onset: key -> struck now
    until: dict[int, Fraction] = {}
    for onset in onsets:
        struck = {midi: length for start, length, midi in notes if start == onset}
        keys = {midi: False for midi, end in until.items() if end > onset}
        keys |= dict.fromkeys(struck, True)
        until = {midi: until[midi] for midi in keys if midi in until}
        until |= {midi: onset + length for midi, length in struck.items()}
        down.append(keys)
    if any(len(keys) > 5 for keys in down):
        return None
    choices = [[dict(zip(sorted(keys), option.fingers, strict=True))
                for option in all_fingerings(tuple(sorted(keys)), "right", size)
                if option.fingers != (1,) or hand == "right" or not stands_alone(down, place)]
               for place, keys in enumerate(down)]
    best: int | None = None
    for way in product(*choices):
        cost = price(way, down, size)
        if cost is not None and (best is None or cost < best):
            best = cost
    return best


def stands_alone(down: list[dict[int, bool]], place: int) -> bool:
    """Whether a single key of the left hand (in the mirror) is a bass note: below C3, and no
    other single key within a major third of it before or after."""
    single = [next(iter(keys)) if len(keys) == 1 else None for keys in down]
    midi = single[place]
    near = [single[i] for i in (place - 1, place + 1) if 0 <= i < len(down)]
    return midi is not None and mirrored(midi) < 48 and all(
        other is None or other == midi or abs(other - midi) > 4 for other in near)


def price(way: tuple[dict[int, int], ...], down: list[dict[int, bool]], size: str) -> int | None:
    total = 0
    for place, fingers in enumerate(way):
        keys = sorted(fingers)
        total += sum(shape_costs(tuple(fingers[midi] for midi in keys),
                                 tuple(map(ruler, keys)), tuple(map(is_black, keys)),
                                 size).values())
        if not place:
            continue
        before = way[place - 1]
        kept = [midi for midi, struck in down[place].items() if not struck]
        if any(before[midi] != fingers[midi] for midi in kept):
            return None
        pairs = [(one, two) for one in before if one not in kept
                 for two, struck in down[place].items() if struck]
        terms: dict[str, int] = {}
        for one, two in pairs:
            for term, cost in pair_costs(before[one], fingers[two], ruler(two) - ruler(one),
                                         is_black(one), is_black(two), size, len(pairs) == 1):
                terms[term] = terms.get(term, 0) + cost
        total += sum(cost // len(pairs) for cost in terms.values())
        if len(pairs) > 1 and set(before) == set(fingers) and not kept:
            total += sum(12 for midi in before if before[midi] != fingers[midi])
        if len(pairs) == 1:             # one key again, slowly
            total += sum(10 for one, two in pairs if one == two and before[one] != fingers[two])
        if kept:                        # a hand that is held does not turn
            total += sum(16 for one, two in pairs
                         if (fingers[two] - before[one]) * (two - one) < 0)
        if place > 1 and len(way[place - 2]) == len(before) == len(fingers) == 1:
            (one, first), = way[place - 2].items()
            (middle, second), = before.items()
            (two, third), = fingers.items()
            total += position_costs(first, second, third, ruler(two) - ruler(one),
                                    min(one, two) < middle < max(one, two), size)
    return total


@settings(max_examples=50, deadline=None)
@given(lines(4), HANDS, SIZES)
def test_lines_equal_brute_force(notes: list[PartNote], hand: str, size: str) -> None:
    plan = plan_part(notes, hand, size, SLOW)
    assert (None if plan is None else plan.cost) == brute_force(notes, hand, size)


@pytest.mark.slow
def test_a_line_of_six_equals_brute_force() -> None:
    notes = line((60, 63, 62, 67, 66, 58))
    plan = plan_part(notes, "right", "medium", SLOW)
    assert plan is not None and plan.cost == brute_force(notes, "right", "medium")


@settings(max_examples=60, deadline=None)
@given(mixed(), HANDS, SIZES)
@example([(Fraction(0), Fraction(1), 58), (Fraction(0), Fraction(1), 60),
          (Fraction(0), Fraction(2), 64), (Fraction(1), Fraction(1), 61),
          (Fraction(1), Fraction(1), 66), (Fraction(1), Fraction(1), 67)], "left", "small")
def test_mixed_parts_equal_brute_force(notes: list[PartNote], hand: str, size: str) -> None:
    plan = plan_part(notes, hand, size, SLOW)
    assert (None if plan is None else plan.cost) == brute_force(notes, hand, size)
    if plan is not None:
        assert sum(cost for _, cost in plan.costs) == plan.cost


@settings(max_examples=60, deadline=None)
@given(st.one_of(lines(9), mixed(5)), SIZES)
def test_the_left_hand_is_the_right_in_the_mirror(notes: list[PartNote], size: str) -> None:
    """But for the thumb, which it does not use on a bass note that stands alone."""
    left, right = plan_part(notes, "left", size, 0.5), plan_part(
        right_handed(notes, "left"), "right", size, 0.5)
    if right is None or not thumb_in_the_bass(notes, right.fingers):
        assert left == right
    else:
        assert left is None or left.cost >= right.cost


def thumb_in_the_bass(notes: list[PartNote], fingers: tuple[int, ...]) -> bool:
    """Whether the thumb strikes a key below C3 with nothing else down."""
    return any(finger == 1 and midi < 48 and not any(
        a <= onset < a + b and other != midi for a, b, other in notes)
        for (onset, _, midi), finger in zip(notes, fingers, strict=True))


def test_a_bass_note_alone_is_not_for_the_left_thumb() -> None:
    """Common practice: the hand turns its fifth finger down for it, and so it is with nothing
    but the bass. A low line, and the right hand in the mirror, use the thumb."""
    for midi in range(28, 48):
        for after in ((), chord((55, 59), Fraction(1), Fraction(1)), line((64,), Fraction(1),
                                                                          Fraction(3))):
            notes = [(Fraction(0), Fraction(1, 2), midi), *after]
            fingers = finger_part(notes, "left", "medium", 2.0)
            assert fingers is not None and fingers[0] != 1, midi
    assert finger_part(line((48,)), "left", "medium", 2.0) == (1,)
    assert finger_part(right_handed(line((40,)), "left"), "right", "medium", 2.0) == (1,)
    walk = finger_part(line((36, 38, 40, 41, 43)), "left", "medium", 0.5)
    assert walk == (5, 4, 3, 2, 1)


@settings(max_examples=80, deadline=None)
@given(st.one_of(lines(9), mixed(5)), HANDS, SIZES, st.sampled_from((0.25, 0.5, 1.0)))
def test_what_is_fingered_stands_up_to_the_checks(notes: list[PartNote], hand: str, size: str,
                                                  seconds: float) -> None:
    fingers = finger_part(notes, hand, size, seconds)
    if fingers is not None:
        keys = played(notes, fingers, hand)
        # A key struck again ends its earlier note, which the checks take at its word.
        if not any(a < c < a + b and midi == other
                   for a, b, midi in notes for c, _, other in notes):
            assert not findings(Passage(tuple(keys), size, 0.5), [FINGERS])
            assert not findings(Passage(tuple(keys), size, 0.5), [REACH])
        assert not findings(Passage(tuple(keys), size, seconds), [JUMPS])


@settings(max_examples=40, deadline=None)
@given(lines(8), HANDS)
@example(line((55, 57, 66, 65, 58, 56)), "left")
def test_a_line_within_reach_slides_on_one_finger_off_a_black_key_alone(
        notes: list[PartNote], hand: str) -> None:
    """Common practice: a finger may slip from a black key to the white one beside it. Beyond the
    octave there may be no better way: a ninth down to G in the left hand, then F sharp."""
    keys = [midi for _, _, midi in notes]
    assume(max(keys) - min(keys) <= 12)
    fingers = finger_part(notes, hand, "medium", 1.0)
    assert fingers is not None
    for (one, two), (first, second) in zip(pairwise(keys), pairwise(fingers), strict=True):
        slips = abs(one - two) == 1 and one % 12 in (1, 3, 6, 8, 10)
        assert first != second or one == two or slips


@settings(max_examples=40, deadline=None)
@given(mixed(4), HANDS, st.randoms(use_true_random=False))
def test_the_order_of_the_notes_is_no_matter(notes: list[PartNote], hand: str, random: object
                                             ) -> None:
    order = list(range(len(notes)))
    random.shuffle(order)  # type: ignore[attr-defined]
    plain = finger_part(notes, hand, "medium", 0.5)
    shuffled = finger_part([notes[index] for index in order], hand, "medium", 0.5)
    if plain is None or shuffled is None:
        assert plain is shuffled
    else:
        assert shuffled == tuple(plain[index] for index in order)


@settings(max_examples=40, deadline=None)
@given(lines(6), HANDS, st.data())
def test_fixed_fingers_are_kept(notes: list[PartNote], hand: str, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(notes) - 1))
    finger = data.draw(st.integers(1, 5))
    fixed = plan_part(notes, hand, "medium", 1.0, {index: finger})
    free = plan_part(notes, hand, "medium", 1.0)
    assert fixed is not None and free is not None
    assert fixed.fingers[index] == finger
    # A left thumb on a lone low note is nothing the hand does of itself, cheap as it may be.
    assert fixed.cost >= free.cost or (hand, finger) == ("left", 1)


# Common practice: the fingers every method gives for these scales, two octaves.
MAJOR = (0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21, 23, 24)


@pytest.mark.parametrize("tonic", [64, 69, 71], ids=["E", "A", "B"])
def test_familiar_scales(tonic: int) -> None:
    assert finger_part(line([tonic + step for step in MAJOR]), "right", "medium", 0.4
                       ) == (1, 2, 3, 1, 2, 3, 4, 1, 2, 3, 1, 2, 3, 4, 5)


def test_five_finger_positions() -> None:
    assert finger_part(line((60, 62, 64, 65, 67)), "right", "medium", 0.5) == (1, 2, 3, 4, 5)
    assert finger_part(line((60, 62, 64, 65, 67)), "left", "medium", 0.5) == (5, 4, 3, 2, 1)
    assert finger_part(line((60, 60, 60)), "right", "medium", 0.5) == (1, 1, 1)


def test_a_held_key_keeps_its_finger_and_bounds_the_rest() -> None:
    held = [(Fraction(0), Fraction(4), 76)]
    below = chord((64, 69), Fraction(1), Fraction(1, 2)) + chord((65, 71), Fraction(2),
                                                                 Fraction(1))
    fingers = finger_part(held + below, "right", "medium", 0.5)
    assert fingers is not None and fingers[0] in (4, 5)
    assert fingers[0] > max(fingers[1:])
    too_far = chord((59, 65), Fraction(2), Fraction(1))
    assert finger_part(held + too_far, "right", "medium", 0.5) is None
    released = [(Fraction(0), Fraction(2), 76)]
    assert finger_part(released + too_far, "right", "medium", 0.5) is not None


def test_no_time_to_jump() -> None:
    stride = [(Fraction(0), Fraction(1), 36), *chord((60, 64, 67), Fraction(1), Fraction(1))]
    assert finger_part(stride, "left", "medium", 0.6) is not None
    assert finger_part(stride, "left", "medium", 0.2) is None


def test_a_key_struck_again_keeps_its_finger_unless_it_is_drummed() -> None:
    """Down an octave over a C sharp that comes twice: half a second apart the thumb strikes both
    and the third finger passes over; an eighth of a second apart another finger takes
    the second."""
    down = line([68, 64, 61, 61, 58, 54, 53])
    slow, drummed = (finger_part(down, "right", "medium", seconds) for seconds in (1.0, 0.25))
    assert slow == (5, 2, 1, 1, 3, 2, 1)
    assert drummed == (5, 2, 1, 5, 3, 2, 1)


def test_a_rest_frees_the_hand() -> None:
    joined = [(Fraction(0), Fraction(1), 60), (Fraction(1), Fraction(1), 84)]
    apart = [(Fraction(0), Fraction(1, 2), 60), (Fraction(1), Fraction(1), 84)]
    one, two = (plan_part(notes, "right", "medium", 0.6) for notes in (joined, apart))
    assert one is not None and two is not None
    assert two.cost < one.cost


def test_more_keys_than_fingers_and_one_key_twice() -> None:
    assert finger_part(chord(range(60, 66), Fraction(0), Fraction(1)), "right", "large", 1) is None
    held = chord((60, 62, 64), Fraction(0), Fraction(2))
    assert finger_part(held + chord((65, 67, 69), Fraction(1), Fraction(1)), "right", "large", 1
                       ) is None
    assert finger_part(chord((60, 60), Fraction(0), Fraction(1)), "right", "large", 1) is None


def test_a_tenth_is_rolled_or_refused() -> None:
    tenth = chord((48, 64), Fraction(0), Fraction(1))
    assert finger_part(tenth, "left", "medium", 0.5) is None
    assert finger_part(tenth, "left", "medium", 0.5, rolled=(0, 1)) == (5, 1)
    assert finger_part(tenth, "left", "large", 0.5) == (5, 1)


def test_nothing_to_play_and_no_such_hand() -> None:
    assert finger_part([], "right", "medium", 0.5) == ()
    with pytest.raises(ValueError, match="not a hand"):
        finger_part(line((60,)), "third", "medium", 0.5)


def test_a_hand_that_is_held_does_not_turn() -> None:
    """Under an E flat that stays down the thumb does not pass the second finger: G, then C
    (common practice)."""
    held = (Fraction(0), Fraction(4), 75)
    part = [held, (Fraction(1), Fraction(1), 67), (Fraction(2), Fraction(1), 72)]
    for hand in ("right", "left"):
        moved = part if hand == "right" else [(a, b, 130 - m) for a, b, m in part]
        found = plan_part(moved, hand, "medium", 0.3)
        assert found is not None
        top, low, middle = found.fingers
        assert low < middle < top


def in_quarters(chords: list[tuple[int, ...]], apart: int = 1) -> list[PartNote]:
    return [(Fraction(apart * place), Fraction(1), midi)
            for place, keys in enumerate(chords) for midi in keys]


def test_a_chord_that_comes_again_keeps_its_fingers() -> None:
    """Also with another between; not where much later."""
    notes = in_quarters([(59, 62), (50, 59), (59, 62), (47,)])
    plain = finger_part(notes, "left", "medium", 0.5)
    steady = finger_steadily(notes, "left", "medium", 0.5)
    assert plain is not None and steady is not None
    assert plain[:2] != plain[4:6]
    assert steady[:2] == steady[4:6]
    assert steady[4:6] == (2, 1) and plain[2:4] == steady[2:4]
    slowly = in_quarters([(59, 62), (50, 59), (59, 62), (47,)], apart=5)
    assert finger_steadily(slowly, "left", "medium", 0.5) == finger_part(
        slowly, "left", "medium", 0.5)


def test_a_chord_changes_its_fingers_where_keeping_them_is_harder() -> None:
    notes = in_quarters([(61, 64), (57,), (61, 64), (45,)])
    steady = finger_steadily(notes, "left", "medium", 0.5)
    assert steady is not None and steady[:2] == (2, 1) and steady[3:5] == (5, 1)


def test_a_bound_seventh_is_for_the_outer_fingers() -> None:
    """Also where another key comes right before: 1-5, or 1-4, not 1-3 or 2-5."""
    for low in range(43, 56):
        for before in (-4, -3, -2, 2, 3, 4):
            fingers = finger_part(line([low + before, low, low + 10]), "left", "medium", SLOW)
            assert fingers is not None and fingers[1:] in ((5, 1), (4, 1)), (low, before)
