"""Why not? What stands against notes of one's own in a gap, and the smallest change that mends it.

A change is one note moved by a few half steps, let go sooner or left out; where one change does
not do, up to three are made one after the other, each the best that there is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from fillwright.arranging.audit import explain
from fillwright.edition.desk import Desk
from fillwright.edition.own import judged, melody_key
from fillwright.edition.picks import Pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES, Fill
from fillwright.hands.model import HandNote
from fillwright.rules import Audit

__all__ = ["Mended", "WhyNot", "why_not"]

_STEPS = (1, -1, 2, -2, 3, -3)
_SHORTER, _GONE = 4, 5
"""What a note let go sooner and one left out count, where a half step counts 1: the sooner a
change keeps what was meant, the smaller it is."""
_MOST_CHANGES = 3
_SIGNS = {Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼",
          Fraction(3, 4): "¾"}


@dataclass(frozen=True, slots=True)
class Mended:
    """A change: the choice that it makes, a sentence for each note, how many findings are
    left."""

    pick: Pick
    sentences: tuple[str, ...]
    left: int


@dataclass(frozen=True, slots=True)
class WhyNot:
    """What stands against notes of one's own.

    rules       a sentence for each rule that is broken: where, what, why, what to do
    difficulty  what they ask of the hands, 0 to 100
    first       the program's first offer of their family, where it has one
    mended      the smallest change that mends them; None where nothing is broken, or nothing helps
    """

    rules: tuple[str, ...]
    difficulty: int
    first: Fill | None
    mended: Mended | None

    @property
    def cost(self) -> str:
        """What they cost against the first offer, in a sentence."""
        if self.first is None:
            return f"They ask {self.difficulty} of 100 of the hands; there is no offer beside them."
        by = self.difficulty - self.first.difficulty
        hands = ("as much of the hands as" if by == 0 else
                 f"{abs(by)} points {'more' if by > 0 else 'less'} of the hands than")
        broken = len(self.rules)
        rules = ("break no rule" if not broken else
                 f"break {'a rule' if broken == 1 else f'rules in {broken} places'} that it keeps")
        return (f"They ask {hands} the first offer, {self.first.device} ({self.difficulty} against "
                f"{self.first.difficulty} of 100), and {rules}.")

    def value(self) -> dict[str, Any]:
        """As JSON."""
        mended = self.mended
        return {"rules": [*self.rules], "cost": self.cost, "mended": mended and {
            "pick": mended.pick.value(), "sentences": [*mended.sentences], "left": mended.left}}

    def lines(self) -> list[str]:
        """What it costs, and what mends it."""
        if not self.rules:
            return [self.cost]
        if self.mended is None:
            return [self.cost, "No small change helps."]
        left = self.mended.left
        return [self.cost, "The smallest change that mends it: " + " ".join(self.mended.sentences)
                if not left else " ".join(self.mended.sentences) + (
                    f" Then {'one place is' if left == 1 else f'{left} places are'} left.")]


def why_not(desk: Desk, number: int, pick: Pick) -> WhyNot:
    """Judge a choice with notes of one's own. Raises InputError where it is none, or open."""
    fill, audit = _judged(desk, number, pick)
    chorus = desk.chorus

    def place(quarter: Fraction) -> str:
        return f"bar {chorus.bar_at(quarter).number}, {_beat(chorus.beat_in_bar(quarter))}"

    offers = [found[0] for family in sorted(FAMILIES, key=lambda name: name != fill.family)
              if not isinstance(found := desk.fills(number, family, 1), str) and found]
    return WhyNot(tuple(explain(audit, place)), fill.difficulty, offers[0] if offers else None,
                  _mended(desk, number, pick) if audit.findings else None)


def _beat(beat: Fraction) -> str:
    """As a player says it."""
    whole, rest = divmod(beat, 1)
    return f"the & of {whole}" if rest == Fraction(1, 2) and whole else f"beat {_counted(beat)}"


def _counted(beat: Fraction) -> str:
    whole, rest = divmod(beat, 1)
    return f"{whole}{_SIGNS.get(rest, '')}"


def _judged(desk: Desk, number: int, pick: Pick) -> tuple[Fill, Audit]:
    plain, own = desk.chosen(number, pick)
    fill = own or plain
    if fill is None:
        raise InputError("an open gap breaks no rule")
    return fill, judged(fill, desk.chorus, desk.gap(number), desk.options.hand)


def _mended(desk: Desk, number: int, pick: Pick) -> Mended | None:
    sentences: list[str] = []
    for _ in range(_MOST_CHANGES):
        found = _best_change(desk, number, pick)
        if found is None:
            break
        left, pick, sentence = found
        sentences.append(sentence)
        if not left:
            return Mended(pick, tuple(sentences), 0)
    if not sentences:
        return None
    return Mended(pick, tuple(sentences), len(_judged(desk, number, pick)[1].findings))


def _best_change(desk: Desk, number: int, pick: Pick) -> tuple[int, Pick, str] | None:
    """How many findings it leaves, the choice it makes, and its sentence; the smallest of those
    that leave the fewest, None where none is better than nothing."""
    fill, audit = _judged(desk, number, pick)
    keys = {midi for finding in audit.findings for midi in finding.midis}
    places = {finding.onset_quarter for finding in audit.findings}
    involved = [note for note in fill.notes if note.midi in keys or note.onset_quarter in places]
    best: tuple[int, int, Pick, str] | None = None
    for size, changed, sentence in sorted(
            (change for note in involved or fill.notes
             for change in _changes(desk, number, pick, note)), key=lambda change: change[0]):
        if best is not None and best[0] == 0 and size >= best[1]:
            break
        try:
            left = len(_judged(desk, number, changed)[1].findings)
        except InputError:  # no note is left, or no such key
            continue
        if left < len(audit.findings) and (best is None or left < best[0]):
            best = left, size, changed, sentence
    return None if best is None else (best[0], best[2], best[3])


def _changes(desk: Desk, number: int, pick: Pick, note: HandNote
             ) -> Iterator[tuple[int, Pick, str]]:
    """What can be done with one note, with the size of it."""
    name = f"{note.pitch.note_name.pretty}{note.pitch.octave}"
    where = f"{name} on {_beat(desk.chorus.beat_in_bar(note.onset_quarter))}"
    for by in _STEPS:
        steps = {1: "a half step", 2: "a whole step", 3: "three half steps"}[abs(by)]
        way = "up" if by > 0 else "down"
        yield abs(by), _moved(desk, number, pick, note, by), f"Move {where} {way} {steps}."
    shorter = note.duration_quarter / 2
    if shorter >= Fraction(1, 4):
        yield (_SHORTER, _held(desk, number, pick, note, shorter),
               f"Let {where} go after {_counted(shorter) if shorter >= 1 else _part(shorter)} "
               f"{'quarter' if shorter <= 1 else 'quarters'}.")
    yield _GONE, _moved(desk, number, pick, note, None), f"Leave out {where}."


def _part(length: Fraction) -> str:
    return _SIGNS.get(length, str(length))


def _moved(desk: Desk, number: int, pick: Pick, note: HandNote, by: int | None) -> Pick:
    index = _index(desk, number, pick, note)
    if index < 0:
        added = list(pick.added)
        old = added.pop(-1 - index)
        if by is not None:
            added.append(replace(old, above=old.above + by))
        return replace(pick, added=tuple(sorted(added)))
    moves = dict(pick.moves)
    moves[index] = None if by is None else (moves.get(index) or 0) + by
    return replace(pick, moves=tuple(sorted(moves.items())))


def _held(desk: Desk, number: int, pick: Pick, note: HandNote, length: Fraction) -> Pick:
    index = _index(desk, number, pick, note)
    if index < 0:
        added = list(pick.added)
        old = added.pop(-1 - index)
        return replace(pick, added=tuple(sorted([*added, replace(old, duration_quarter=length)])))
    return replace(pick, lengths=tuple(sorted({**dict(pick.lengths), index: length}.items())))


def _index(desk: Desk, number: int, pick: Pick, note: HandNote) -> int:
    """The fill's own note that a note is, moved or not; -1 and below: the added ones."""
    plain, _ = desk.chosen(number, replace(pick, moves=(), lengths=(), added=()))
    assert plain is not None
    moves = dict(pick.moves)
    for index, own in enumerate(plain.notes):
        by = moves.get(index, 0)
        if by is not None and (own.onset_quarter, own.midi + by) == (
                note.onset_quarter, note.midi):
            return index
    gap = desk.gap(number)
    wanted = (note.onset_quarter - gap.onset_quarter,
              note.midi - melody_key(desk.chorus, gap))
    return -1 - [(added.onset_quarter, added.above) for added in pick.added].index(wanted)
