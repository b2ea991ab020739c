"""The last time round, a turnaround gives way to the tonic (common practice)."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from tests.fills.builders import chorus_of, one_task

from fillwright import Chorus, find_gaps
from fillwright.fills import fills_of
from fillwright.fills.closing import closing_of

pytestmark = pytest.mark.slow

_BODY = [("C5", 1), ("D5", 1), ("Eb5", 1), ("F5", 1)]


def blues(last: list[tuple[str, int]], held: str = "C5", first: str = "Cm7", key: str = "Cm",
          bars: int = 8) -> Chorus:
    """Bars of quarters, then two bars of a held note over the chords of `last`."""
    melody: list[tuple[str | None, int]] = [*_BODY * (bars - 2), (held, 8)]
    return chorus_of("4/4", key, 120, melody, [(first, 4 * (bars - 2)), *last])


@pytest.mark.parametrize(("last", "held", "first", "key", "expected"), [
    # After the last tonic: all that leads away from it gives way.
    ([("Cm7", 4), ("Dm7b5", 2), ("G7(b9)", 2)], "C5", "Cm7", "Cm", ("28", "Cm6", "28 30")),
    ([("F6", 4), ("D7", 2), ("C13sus", 2)], "C5", "F6", "F", ("28", "F6", "28 30")),
    # No tonic: the dominant leads home from its middle.
    ([("Dm7b5", 4), ("G7", 4)], "C5", "Cm7", "Cm", ("30", "Cm6", "30")),
    # A held note foreign to the sixth chord takes the chord it belongs to.
    ([("Cm7", 4), ("G7", 4)], "Bb4", "Cm7", "Cm", ("28", "Cm7", "28")),
    # A blues ends on its seventh chord.
    ([("F7", 4), ("Gm7", 2), ("C7", 2)], "F5", "F7", "F", ("28", "F7", "28 30")),
])
def test_known_answers(last: list[tuple[str, int]], held: str, first: str, key: str,
                       expected: tuple[str, str, str]) -> None:
    chorus = blues(last, held, first, key)
    found = closing_of(chorus, find_gaps(chorus)[-1])
    assert found is not None
    onset, symbol, replaced = expected
    assert (found.onset_quarter, str(found.harmony.symbol)) == (F(onset), symbol)
    assert found.replaced == tuple(F(place) for place in replaced.split())


@pytest.mark.parametrize("last", [
    [("G7", 4), ("Cm6", 4)],                  # at home
    [("G7", 4), ("Am7", 4)],                  # at rest elsewhere: the sheet knows best
])
def test_what_ends_at_rest_is_left_alone(last: list[tuple[str, int]]) -> None:
    chorus = blues(last)
    assert closing_of(chorus, find_gaps(chorus)[-1]) is None


def test_an_exercise_of_a_few_bars_ends_as_it_is_written() -> None:
    chorus = blues([("Cm7", 4), ("G7", 4)], bars=4)
    assert closing_of(chorus, find_gaps(chorus)[-1]) is None


@pytest.mark.parametrize("family", ["comp", "reharm", "line"])
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_the_last_fill_comes_home(family: str, level: str) -> None:
    chorus = blues([("Cm7", 4), ("Dm7b5", 2), ("G7(b9)", 2)])
    task = one_task(chorus, len(find_gaps(chorus)), level)
    assert [chord.symbol for chord in task.written] == [
        span.symbol for span in find_gaps(chorus)[-1].chords]  # the sheet stays as it is
    fills = fills_of(task, family, 3)
    assert fills and not isinstance(fills, str)
    for fill in fills:
        last = fill.chords[-1]
        assert last.added and last.fill == fill.id and last.reason
        assert str(last.symbol).startswith("C") and last.end_quarter == 8
        # Every printed chord that does not sound has an added one in its place; the dominant
        # that does, on the way home, is the printed one.
        assert F(4) in {c.onset_quarter for c in fill.chords if c.added}
        assert F(6) in {c.onset_quarter for c in fill.chords}
        assert all(str(c.symbol) == "G7(b9)" for c in fill.chords if str(c.symbol)[0] == "G")
        sounding = [n for n in fill.notes if n.onset_quarter == max(
            m.onset_quarter for m in fill.notes)]
        classes = {n.midi % 12 for n in sounding}
        assert not classes & {1, 6, 11}, fill      # nothing of the dominant is left
