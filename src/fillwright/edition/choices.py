"""Choices that are more than a fill for a gap: keep what the program chose, another one for one
gap, the same wherever a phrase comes, or varied there.

Each takes decisions and gives new ones, so that a page, a program and the command line decide
the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.arranging.assemble import wishes_of
from fillwright.arranging.choose import ranked
from fillwright.arranging.model import OPEN, Chosen
from fillwright.arranging.story import alike
from fillwright.arranging.user_picks import PICK_SEARCH
from fillwright.edition.decisions import Decisions, Pick
from fillwright.edition.desk import Desk
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES, Fill
from fillwright.fills.relation import Relation, cell_of, relation_of

__all__ = ["HOWS", "all_chosen_again", "chosen_again", "everywhere", "locked", "rest_kept"]

HOWS = ("same", "varied")
"""What may be asked for where a phrase comes again."""


def rest_kept(desk: Desk, decisions: Decisions) -> Decisions:
    """With what the program chooses now for the other gaps: it stays when one is decided."""
    return decisions.keeping(desk.chorus_of(decisions).kept)


def all_chosen_again(decisions: Decisions) -> Decisions:
    """The program chooses anew for the gaps that are not decided."""
    return replace(decisions, rest=None)


def locked(desk: Desk, decisions: Decisions, number: int) -> Decisions:
    """What the program chose for a gap becomes the teacher's own choice. Raises InputError."""
    desk.gap(number)
    if dict(decisions.picks).get(number) is not None:
        return decisions
    kept = rest_kept(desk, decisions)
    assert kept.rest is not None
    return kept.with_pick(number, Pick(dict(kept.rest.fills)[number]))


def chosen_again(desk: Desk, decisions: Decisions, number: int) -> Decisions:
    """Another fill of the program's for one gap, and all others as they are.

    Again and again, it goes through all that there is, from the one that fits best. Raises
    InputError where there is nothing else.
    """
    kept = rest_kept(desk, decisions)
    assert kept.rest is not None
    before = dict(kept.rest.fills).get(number, OPEN)
    others = _around(desk, kept, number)
    row = [fill.id for fill in _ranked(desk, decisions, _fills(desk, number), others)]
    if not set(row) - {before}:
        raise InputError(f"there is nothing else for gap {number}")
    place = row.index(before) + 1 if before in row else 0
    return _with_kept(kept, number, row[place % len(row)]).with_pick(number, None)


def everywhere(desk: Desk, decisions: Decisions, number: int, how: str
               ) -> tuple[Decisions, tuple[int, ...]]:
    """The choice for a gap taken to every place where its phrase comes: note for note ("same"),
    or with its idea changed ("varied").

    Returns the decisions, and the numbers of the gaps where there is no such fill. Raises
    InputError where the gap has no choice, or its phrase comes once.
    """
    if how not in HOWS:
        raise InputError(f"where a phrase comes again it is {' or '.join(HOWS)}")
    desk.gap(number)
    group = alike(desk.story.returns).get(number, ())
    if not group:
        raise InputError(f"the phrase of gap {number} comes only once")
    if dict(decisions.picks).get(number) is None:
        decisions = locked(desk, decisions, number)
    pick = dict(decisions.picks)[number]
    decisions = rest_kept(desk, decisions)
    if pick.fill == OPEN:
        for other in group:
            decisions = decisions.with_pick(other, pick)
        return decisions, ()
    if pick.own is not None:
        return _played_everywhere(desk, decisions, pick, group, how)
    model = desk.picked(number, pick.fill)
    assert model is not None
    missing = []
    for other in group:
        if other == number:
            continue
        found = (_copy if how == "same" else _variation)(desk, decisions, model, other)
        if found is None:
            missing.append(other)
        else:
            decisions = decisions.with_pick(other, replace(pick, fill=found.id) if how == "same"
                                            else Pick(found.id))
    return decisions, tuple(missing)


def _played_everywhere(desk: Desk, decisions: Decisions, pick: Pick, group: Sequence[int],
                       how: str) -> tuple[Decisions, tuple[int, ...]]:
    """A fill of the user's own, note for note."""
    if how != "same":
        raise InputError("what you played is not varied by the program; it can be the same there")
    missing = []
    for other in group:
        try:
            desk.chosen(other, pick)
        except InputError:
            missing.append(other)
        else:
            decisions = decisions.with_pick(other, pick)
    return decisions, tuple(missing)


def _fills(desk: Desk, number: int) -> list[Fill]:
    """All that is offered for a gap, a longer list than is shown."""
    found: list[Fill] = []
    for family in FAMILIES:
        fills = desk.fills(number, family, PICK_SEARCH)
        found += () if isinstance(fills, str) else fills
    return found


def _ranked(desk: Desk, decisions: Decisions, fills: list[Fill],
            others: dict[int, Fill | None]) -> list[Fill]:
    """Fills of one gap, best first among the others."""
    if not fills:
        return []
    wishes = wishes_of(replace(desk.options, mix=decisions.options.mix))
    return ranked(desk.story, fills, others, wishes)


def _around(desk: Desk, decisions: Decisions, number: int) -> dict[int, Fill | None]:
    """What stands in all other gaps."""
    decided, _ = desk.decided(decisions)
    return {gap: fill for gap, fill in {**decided.kept, **decided.picked}.items()
            if gap != number}


def _with_kept(decisions: Decisions, number: int, fill: str) -> Decisions:
    rest = decisions.rest or Chosen(())
    fills = tuple(sorted({**dict(rest.fills), number: fill}.items()))
    return replace(decisions, rest=replace(rest, fills=fills))


def _relation(desk: Desk, model: Fill, fill: Fill) -> Relation | None:
    return relation_of(*(cell_of(one, desk.gap(one.gap).onset_quarter)
                         for one in (model, fill)))


def _copy(desk: Desk, decisions: Decisions, model: Fill, number: int) -> Fill | None:
    """The same notes at another place, in the same order."""
    same = [fill for fill in _fills(desk, number) if fill.family == model.family
            and _relation(desk, model, fill) is Relation.COPY]
    at, there = desk.gap(model.gap).onset_quarter, desk.gap(number).onset_quarter
    keys = [(n.onset_quarter - at, n.midi, n.hand) for n in model.notes]
    exact = (fill for fill in same if keys == [
        (n.onset_quarter - there, n.midi, n.hand) for n in fill.notes])
    return next(exact, same[0] if same else None)


def _variation(desk: Desk, decisions: Decisions, model: Fill, number: int) -> Fill | None:
    """The idea changed: the change that fits best."""
    varied = [fill for fill in _fills(desk, number)
              if _relation(desk, model, fill) not in (None, Relation.COPY)]
    best = _ranked(desk, decisions, varied, _around(desk, decisions, number))
    return best[0] if best else None
