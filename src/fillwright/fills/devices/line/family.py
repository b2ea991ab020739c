"""Lines: the right hand improvises through the gap and leads into the landing.

Rhythms and pitches are drawn from what real solos cost (`learnt`, `rhythms`, `walk`), asked
for by seeds (`seeds`); what is found is judged (`judging`) and named by what is heard in it
(`devices`). `left` puts a voicing under it. Octaves with a rhythm, thirds and sixths come
beside the lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from heapq import merge
from itertools import chain
from operator import attrgetter

from fillwright.exact import Fraction
from fillwright.fills.devices.line.again import lines_again
from fillwright.fills.devices.line.doubles import doubles_of
from fillwright.fills.devices.line.found import Drawn, dealt, lines_of, setting_of, sound_of
from fillwright.fills.devices.line.left import left_hand
from fillwright.fills.devices.line.manners import manners_of
from fillwright.fills.devices.line.octaves import octaves_of
from fillwright.fills.devices.line.reasons import reasons_of, says_tenors, with_pitches
from fillwright.fills.devices.line.rhythms import hardest
from fillwright.fills.devices.line.spelling import both_hands, spell_line
from fillwright.fills.devices.line.tenor import Above
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.idea import Apart
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.fills.offer import Candidate
from fillwright.fills.player import Player
from fillwright.fills.situation import Task
from fillwright.theory.pitch import spelled

__all__ = ["LINE", "LineFamily"]

_APART = Apart(Fraction(1, 3), Fraction(3))
"""Two lines differ in rhythm where at least a third of all their onsets is not common, in
contour where they lie three semitones apart on average."""

_OCTAVE = 12


class LineFamily:
    """The family of lines."""

    name = "line"
    far = 40
    patience = 24

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        """The lines of a gap, the cheapest first."""
        task = situation
        others = sorted(dealt(task, chain(octaves_of(task), doubles_of(task))), key=_rank)
        for line in merge(lines_of(task), others, key=_rank):
            if line.device not in without:
                idea = _idea(task, line)
                yield Candidate(line.total, line.device, partial(_drafts, task, line, idea), idea)

    def related(self, task: Task) -> Iterator[Candidate]:
        """Lines in the stated rhythm or in that rhythm moved; of a line also its shape."""
        for line in lines_again(task):
            if line.device not in task.without:
                idea = _idea(task, line)
                yield Candidate(line.total, line.device, partial(_drafts, task, line, idea), idea)

    def suits(self, fill: Fill, player: Player) -> bool:
        return player.level.difficulty[0] <= fill.difficulty <= hardest(player.level)

    def why_not(self, situation: Task, player: Player) -> str:
        return "no line fits the hand, the chord and the landing here"


LINE = LineFamily()

_rank = attrgetter("rank")


def _idea(task: Task, line: Drawn) -> Idea:
    """What two lines are compared by."""
    midis, held = line.midis, task.held_midi
    anchor = held if held is not None else task.spans[0].harmony.root.pitch_class + 60
    return Idea(line.rhythm.onsets, tuple(m - anchor for m in midis), line.device,
                (min(midis) + max(midis)) // 2, apart=_APART)


def _drafts(task: Task, line: Drawn, idea: Idea, turn: int) -> Iterator[Draft]:
    """The ways to play a line, by what the left hand does under it, built when asked for."""
    for manner in manners_of(task, turn + len(line.midis)):
        draft = _draft(task, line, idea, manner)
        if draft is not None:
            yield draft


def _draft(task: Task, line: Drawn, idea: Idea, manner: str) -> Draft | None:
    room, rhythm, shift = line.room, line.rhythm, line.shift
    landing = task.landing
    harmonies = [s.harmony for s in room.spans]
    pitches = spell_line(line.midis, line.slots, harmonies,
                         None if landing is None else landing.pitch,
                         [n.pitch for n in task.phrase], task.key)
    notes = [DraftNote(onset, end - onset, pitch, "right")
             for onset, end, pitch in zip(rhythm.onsets, rhythm.ends, pitches, strict=True)]
    if line.below:
        under = spell_line(line.below, line.slots, harmonies, None, pitches, task.key)
        notes += [DraftNote(n.onset_quarter, n.duration_quarter, (
            spelled(n.pitch.note_name, pitch.midi) if n.midi - pitch.midi == _OCTAVE else pitch),
            "right") for n, pitch in zip(notes, under, strict=True)]
    above = [Above(n.onset_quarter, n.end_quarter, n.midi) for n in notes]
    until = Fraction(0)
    if task.held is not None:
        until = min(rhythm.onsets[0], max(task.held.end_quarter, task.beat_quarter))
        above.append(Above(Fraction(0), until, task.held.midi))
    if shift is not None and landing is not None:
        # the left hand under (or just before) the shifted landing has to bear its note
        above.append(Above(min(shift.landing_quarter, task.end_quarter),
                           shift.landing_quarter + task.beat_quarter, landing.midi))
    left = left_hand(task, room.spans, above, room.landing_quarter, manner)
    if left is None:
        return None
    notes, low = _of_one_spelling(task, line, notes, left.notes)
    pitches = tuple(n.pitch for n in notes[:len(pitches)])
    renamed = {a.pitch: b.pitch for a, b in zip(left.notes, low, strict=True)}
    tenors = [(renamed[one], renamed[two]) for one, two in left.tenors]
    named = (*pitches, landing.pitch) if landing is not None else pitches
    sounding = with_pitches(sound_of(
        room, setting_of(room, rhythm, line.slots), line.midis), named)
    costs = dict(line.costs)
    for term, cost in left.costs:
        if cost:
            costs[term] = costs.get(term, 0) + cost
    return Draft(
        family="line", device=line.device,
        notes=tuple(sorted((*low, *notes), key=lambda n: (n.onset_quarter, n.midi))),
        chords=tuple(DraftChord(s.onset_quarter, s.end_quarter, s.harmony) for s in task.spans),
        reasons=(*reasons_of(task, sounding, line.found, shift), *says_tenors(tenors)),
        costs=tuple(sorted(costs.items())), idea=idea,
        held=HeldEnd("released", until), shift=shift)


def _of_one_spelling(task: Task, line: Drawn, right: Sequence[DraftNote],
                     left: Sequence[DraftNote]) -> tuple[list[DraftNote], list[DraftNote]]:
    """The notes of both hands (the line's in order, then what is struck under it), one name to a
    key over each chord."""
    spans = line.room.spans
    over = [slot.span for slot in line.slots] * (2 if line.below else 1)
    under = [max((i for i, s in enumerate(spans) if s.onset_quarter <= n.onset_quarter), default=0)
             for n in left]
    pitches = both_hands([(i, n.pitch) for i, n in zip(over, right, strict=True)],
                         [(i, n.pitch) for i, n in zip(under, left, strict=True)],
                         [s.harmony for s in spans],
                         None if task.held is None else task.held.pitch)
    over_, under_ = ([replace(n, pitch=p) for n, p in zip(notes, row, strict=True)]
                     for notes, row in zip((right, left), pitches, strict=True))
    return over_, under_
