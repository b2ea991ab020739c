"""An answer that is played in one gap while the tune goes by."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import pytest

from fillwright import Chorus, Fill, Gap, InputError, find_gaps, propose, read_tune, unfold
from fillwright.demo import demo_path
from fillwright.swing import offbeat_place
from fillwright.take import PlayedAnswer, answer_played, strokes_of

ALL = tuple(range(1, 5))


@lru_cache(maxsize=1)
def sheet() -> tuple[Chorus, tuple[Gap, ...]]:
    chorus = unfold(read_tune(demo_path("lamp")))
    return chorus, find_gaps(chorus)


@lru_cache(maxsize=1)
def offers() -> tuple[Fill, ...]:
    return propose(*sheet(), numbers=ALL, count=3).fills


def placed(chorus: Chorus, onset: Fraction) -> float:
    """Where the click has it: an off-beat eighth is late in swing."""
    whole, rest = divmod(onset, 1)
    return float(whole) + (offbeat_place(float(chorus.quarters_per_minute)) if rest == Fraction(
        1, 2) else float(rest))


def row(chorus: Chorus, onset: Fraction, duration: Fraction, midi: int, late: float = 0.0
        ) -> list[object]:
    return [placed(chorus, onset) + late, float(duration), midi, 80]


def heard(fill: Fill, *, others: bool = True, melody: bool = False, late: float = 0.0,
          speed: float = 1.0) -> PlayedAnswer:
    """A fill as somebody plays it; `late` in quarters, every second stroke by so much."""
    (chorus, gaps), fills = sheet(), offers()
    rows = [row(chorus, n.onset_quarter, n.duration_quarter, n.midi, late * (place % 2))
            for place, n in enumerate(fill.notes)]
    if melody:
        rows += [row(chorus, n.onset_quarter, n.duration_quarter, n.midi) for n in chorus.melody]
    known = [one for one in fills if one.gap == fill.gap and (others or one is fill)]
    return answer_played(chorus, gaps, fill.gap, strokes_of(chorus, rows, speed), known, speed)


@pytest.mark.slow
@pytest.mark.parametrize("melody", [False, True])
def test_what_is_offered_is_heard_as_what_it_is(melody: bool) -> None:
    """With the melody played along or not, in good time or not, slow or not."""
    fills = offers()
    assert {fill.family for fill in fills} == {"comp", "reharm", "line"}
    wrong = []
    for fill in fills:
        for late, speed in ((0.0, 1.0), (0.08, 1.0), (0.05, 0.5)):
            got = heard(fill, melody=melody, late=late, speed=speed)
            if (got.answer, got.fill) != (fill.family, fill.id):
                wrong.append((fill.gap, fill.device, late, speed, got.answer, got.device))
    assert not wrong


@pytest.mark.slow
def test_what_is_not_offered_is_mostly_known_by_its_looks() -> None:
    """A student plays what the program did not think of: the fill itself is not among the
    offers, and those of its kind are."""
    (chorus, gaps), fills = sheet(), offers()
    right = 0
    for fill in fills:
        known = [one for one in fills if one.gap == fill.gap and one is not fill]
        rows = [row(chorus, n.onset_quarter, n.duration_quarter, n.midi) for n in fill.notes]
        right += answer_played(chorus, gaps, fill.gap, strokes_of(chorus, rows),
                               known).answer == fill.family
    assert right >= 0.8 * len(fills)


def test_the_melody_alone_or_nothing_is_no_answer() -> None:
    chorus, gaps = sheet()
    melody = strokes_of(chorus, [row(chorus, n.onset_quarter, n.duration_quarter, n.midi, 0.05)
                                 for n in chorus.melody])
    for number in ALL:
        assert answer_played(chorus, gaps, number, melody, ()) == PlayedAnswer("open")
        assert answer_played(chorus, gaps, number, (), ()) == PlayedAnswer("open")


def test_one_chord_is_an_answer_and_its_place_is_known() -> None:
    chorus, gaps = sheet()
    gap = gaps[0]
    onset = float(gap.onset_quarter) + 1
    found = answer_played(chorus, gaps, 1, strokes_of(chorus, [
        [onset, 0.4, key, 70] for key in (51, 55, 62)]), ())
    assert (found.answer, found.fill) == ("comp", None)
    assert found.begun_quarter == pytest.approx(onset)


def test_keys_slid_in_from_a_half_step_are_no_other_chord() -> None:
    """A and C sharp into B flat and D over G minor; with a bass of their own they are a chord."""
    chorus, gaps = sheet()
    onset = float(gaps[2].onset_quarter)

    def answer(*chords: tuple[int, ...]) -> str:
        return answer_played(chorus, gaps, 3, strokes_of(chorus, [
            [onset + 1 + place, 0.4, key, 70] for place, keys in enumerate(chords)
            for key in keys]), ()).answer

    assert answer((69, 73), (70, 74)) == "comp"
    assert answer((45, 69, 73), (55, 70, 74)) == "reharm"
    assert answer((69, 73), (67, 74)) == "reharm"


@pytest.mark.parametrize(("rows", "speed", "why"), [
    ([[0, 1, 60]], 1.0, "a stroke is"), ([[0, 1, 128, 60]], 1.0, "no key"),
    ([[0, 1, 60, 0]], 1.0, "no key"), ([[0, 1, True, 60]], 1.0, "no key"),
    ([[float("nan"), 1, 60, 60]], 1.0, "is a number"), ([[1e9, 1, 60, 60]], 1.0, "no place"),
    ([[0, -1, 60, 60]], 1.0, "no place"), (["x"], 1.0, "a stroke is"),
    ([[0, 1, 60, 60]] * 501, 1.0, "at most"), ([], 0, "a speed"), ([], "fast", "is a number")])
def test_what_is_no_stroke_is_refused(rows: list[object], speed: float, why: str) -> None:
    chorus, _ = sheet()
    with pytest.raises(InputError, match=why):
        strokes_of(chorus, rows, speed)
