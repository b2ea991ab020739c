"""Why not? What stands against own notes, and the smallest change that mends them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.edition.test_edition import DESK, EVERY

from fillwright import InputError
from fillwright.edition import Pick, findings_of, read_pick, why_not

pytestmark = pytest.mark.slow


def left_of(number: int, pick: Pick) -> list[dict[str, object]]:
    plain, own = DESK.chosen(number, pick)
    fill = own or plain
    assert fill is not None
    return findings_of(fill, DESK.chorus, DESK.gap(number), "medium")


def test_one_note_that_rubs_is_moved_by_a_step() -> None:
    """The top key of the right hand a half step below the melody note that is held."""
    number, fill = next((number, fill) for number, fill in EVERY if fill.held_end.kept == "finger"
                        and any(note.hand == "right" for note in fill.notes))
    held = DESK.gap(number).held
    assert held is not None
    top = max((i for i, note in enumerate(fill.notes) if note.hand == "right"),
              key=lambda i: fill.notes[i].midi)
    pick = Pick(fill.id, ((top, held.midi - 1 - fill.notes[top].midi),))
    assert left_of(number, pick)
    found = why_not(DESK, number, pick)
    assert found.rules and all(rule.endswith(".") for rule in found.rules)
    assert found.first is not None and found.first.family == fill.family
    assert "first offer" in found.cost and "that it keeps" in found.cost
    assert found.mended is not None and found.mended.left == len(left_of(number, found.mended.pick))
    assert found.mended.left < len(found.rules)
    assert read_pick(found.mended.pick.value()) == found.mended.pick
    if len(found.mended.sentences) == 1 and not found.mended.left:
        # no smaller step of the same note would do
        by = dict(found.mended.pick.moves).get(top)
        for smaller in range(1, abs((by or 0) - pick.moves[0][1])):  # type: ignore[operator]
            for way in (1, -1):
                moved = replace(pick, moves=((top, pick.moves[0][1] + way * smaller),))  # type: ignore[operator]
                assert left_of(number, moved)


def test_an_added_key_out_of_reach_is_let_go() -> None:
    number, fill = next((n, f) for n, f in EVERY if any(x.hand == "left" for x in f.notes))
    note = next(x for x in fill.notes if x.hand == "left")
    gap = DESK.gap(number)
    anchor = (gap.held or gap.landing)
    assert anchor is not None
    above = note.midi - 20 - (anchor.midi - 12 * DESK.chorus.melody_octave)
    pick = read_pick({"fill": fill.id, "added": [
        [str(note.onset_quarter - gap.onset_quarter), above, "1/2", "left"]]})
    found = why_not(DESK, number, pick)
    assert found.rules and found.mended is not None and found.mended.left == 0
    assert found.mended.sentences == (found.mended.sentences[0],)
    assert found.mended.sentences[0].startswith("Leave out")


def test_nothing_stands_against_an_offer() -> None:
    number, fill = EVERY[0]
    found = why_not(DESK, number, Pick(fill.id))
    assert found.rules == () and found.mended is None and "break no rule" in found.cost
    with pytest.raises(InputError, match="open gap"):
        why_not(DESK, number, Pick("open"))
