"""Reharm: passing chords that are not on the chart, found by search, with their reasons.

The table of moves (`moves`) says which chords may lead from the chord that sounds to the
chord that comes; `plan` sets them in time and against the held note; `voice`
gives each a voicing along the lattice; here the plans become candidates and their drafts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.arrival import out_of_reach
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.devices.reharm.hands import STYLES
from fillwright.fills.devices.reharm.plan import CUT, ChordPlan, Event, plans, under_pedal
from fillwright.fills.devices.reharm.reasons import coloured, explained, reasons
from fillwright.fills.devices.reharm.told import told, well_spelt
from fillwright.fills.devices.reharm.touch import is_bare, strike, touches
from fillwright.fills.devices.reharm.voice import Voiced, voice_plan
from fillwright.fills.devices.reharm.whole import leads_on, sounds_whole
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.fills.offer import Candidate
from fillwright.fills.player import Player
from fillwright.fills.situation import Task
from fillwright.theory.chord import ChordSymbol

__all__ = ["PLANS", "REHARM", "Reharm"]

PLANS = 240
"""How many plans of a gap are weighed."""

_FAR = 100
"""A plan this much worse than the best (one in twenty thousand against it) is no option."""

_CUT_LAST = 1000
"""A plan that takes the melody note away comes after all that keep it, colours too."""


_HANGING = "guide tone left hanging"
"""The term of a draft that leaves a third or a seventh without its step."""

_BARE = "below the level"
"""The term of a draft in which the right hand rests, for a level that has two, or that is an
exercise: two bars of a ballad in blocks with one added chord."""


class Reharm:
    """Passing chords, as a family: every progression is a candidate once, for the same chords in
    other places are no other idea."""

    name = "reharm"
    far = patience = 1_000_000  # plans that are far from the best are no candidates at all

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        groups: dict[object, list[ChordPlan]] = {}
        found = plans(situation, PLANS)
        if found and not found[0].cuts:  # what keeps the melody note leaves no room for what cuts
            found = tuple(p for p in found if not p.cuts)
        most = _FAR + min((p.likelihood for p in found if p.cuts == found[0].cuts), default=0)
        for plan in found:  # those that keep the melody note come first
            group = groups.setdefault(plan.identity, [])
            if plan.likelihood <= most and (not group or group[0].cuts == plan.cuts):
                group.append(plan)
        for place, group in enumerate(_in_turn([g for g in groups.values() if g])):
            yield Candidate(place + _CUT_LAST * group[0].cuts, group[0].device,
                            partial(_drafts, situation, group),
                            last=group[0].cuts or group[0].only_colours)

    def related(self, task: Task) -> Iterator[Candidate]:
        """The same progression once more, in the ways there are to play it."""
        stated = task.stated
        if stated is not None and stated.cell.chords:
            for candidate in self.candidates(task, task.player, task.without):
                if candidate.device == stated.device:
                    yield replace(candidate, drafts=partial(_one_rhythm_each, candidate))

    def suits(self, fill: Fill, player: Player) -> bool:
        """Whether it keeps the melody note, leads every guide tone on and has work for the level's
        hands: what does not stands back."""
        return not any(term in (CUT, _HANGING, _BARE) for term, _ in fill.costs)

    def why_not(self, situation: Task, player: Player) -> str:
        beats = float(situation.duration_quarter / situation.beat_quarter)
        return f"no passing chord fits {beats:g} beats at this tempo under this note"


def _one_rhythm_each(candidate: Candidate, rotation: int) -> Iterator[Draft]:
    """The drafts of a candidate, of those of one rhythm the first."""
    seen: set[tuple[Fraction, ...]] = set()
    for turn in (rotation, rotation + 1):
        for draft in candidate.drafts(turn):
            if draft.idea.onsets not in seen:
                seen.add(draft.idea.onsets)
                yield draft


REHARM = Reharm()


def _in_turn(groups: list[list[ChordPlan]]) -> list[list[ChordPlan]]:
    """The progressions as they are offered: what the level likes best and what is done most in
    such a place take turns."""
    usual = sorted(groups, key=lambda g: (g[0].cuts, g[0].unusual, g[0].total))
    found: list[list[ChordPlan]] = []
    for pair in zip(groups, usual, strict=True):
        for group in pair:
            if group not in found:
                found.append(group)
    return found

_NEAR = 4
"""Plans of one progression that cost so little more are as good."""


def _varied(group: list[ChordPlan], rotation: int) -> list[ChordPlan]:
    """The rhythms of one progression to try, best first; now and then another of nearly
    equal cost comes first, so that the chords of a page do not all change alike."""
    best = group[0].total
    near = [p for p in group if p.total <= best + _NEAR][:3]
    if rotation >= 3 and len(near) > 1:
        near = near[rotation % len(near):] + near[:rotation % len(near)]
    return near + [p for p in group if p not in near][:2]


def _drafts(task: Task, group: list[ChordPlan], rotation: int) -> Iterator[Draft]:
    """A progression in the rhythms, styles and touches in which the hands can play it, first where
    every guide tone is led on; one that takes the melody note away, or in which the chord of the
    sheet only changes its colour, where nothing else is offered."""
    if rotation and (group[0].cuts or group[0].only_tints):
        return
    hanging, below = [], []
    for voiced, (notes, said) in _played(task, group, rotation):
        draft = _draft(task, voiced, notes, said)
        if not dict(voiced.costs).get("guide tones") or leads_on(task, voiced.plan, notes):
            if _below(task, voiced.plan, notes, said):
                below.append(replace(draft, costs=(*draft.costs, (_BARE, 1))))
            else:
                yield draft
        else:
            hanging.append(replace(draft, costs=(*draft.costs, (_HANGING, 1))))
    yield from (*below, *hanging)


def _below(task: Task, plan: ChordPlan, notes: Sequence[DraftNote], said: str) -> bool:
    """Whether the hands do less than their level has in them; `said` is what is said of the touch,
    nothing of blocks."""
    taste = task.player.level.reharm
    if taste.both_hands and all(note.hand == "left" for note in notes):
        return True
    return taste.touches and not said and is_bare(task, plan.events)


def _played(task: Task, group: list[ChordPlan], rotation: int
            ) -> Iterator[tuple[Voiced, tuple[tuple[DraftNote, ...], str]]]:
    """The ways to play a progression: what the hands strike, and what is said of the touch."""
    level = task.player.level
    first, second, *others = STYLES[level]
    swapped = rotation % 2 and level.reharm.turns_styles
    styles = (second, first, *others) if swapped else (first, second, *others)
    for plan, style in ((plan, style) for chosen in _varied(group, rotation)
                        for plan in _ways_to_keep(task, chosen, rotation) for style in styles):
        voiced = voice_plan(task, plan, style)
        if voiced is None:
            continue
        voiced = well_spelt(task, voiced)
        printed = told(task, voiced).voiced  # broken chords are called by their names
        # the first option of one gap is not struck like that of the next
        for touch in touches(task, voiced, rotation + task.rotation):
            struck = strike(task, printed if touch == "broken" else voiced, touch, rotation)
            if struck is not None and not _leaps_home(task, voiced.plan, struck[0]) and (
                    sounds_whole(task, voiced.plan, struck[0])):
                yield voiced, struck


def _sound(symbol: ChordSymbol, home: int) -> str:
    """A chord as the ear tells it, counted from a pitch class: root, quality and bass, whatever
    its colour."""
    root = -1 if symbol.root is None else (symbol.root.pitch_class - home) % 12
    low = root if symbol.lowest is None else (symbol.lowest.pitch_class - home) % 12
    return f"{root}{quality_of(symbol)}/{low}"


def _ways_to_keep(task: Task, plan: ChordPlan, rotation: int) -> tuple[ChordPlan, ...]:
    """A plan, and with the held note kept by the pedal until the chord changes.

    Where the note is let go at that change anyhow, the pedal frees the right hand before it,
    at no loss: the two ways take turns. Where the finger could hold it longer, the pedal is for
    hands that cannot.
    """
    pedalled = under_pedal(task, plan)
    if pedalled is None:
        return (plan,)
    return (pedalled, plan) if rotation % 2 and not pedalled.cuts else (plan, pedalled)


def _leaps_home(task: Task, plan: ChordPlan, notes: tuple[DraftNote, ...]) -> bool:
    """Whether the right hand cannot get from the last key it strikes to the landing in time."""
    right = [n for n in notes if n.hand == "right"]
    if not right:
        return False
    last = max(n.onset_quarter for n in right)
    keys = [n.midi for n in right if n.onset_quarter == last]
    if plan.held is not None and plan.held.kept == "finger" and task.held_midi is not None and (
            plan.held.until_quarter > last):
        keys.append(task.held_midi)  # the hand is spread up to it
    return out_of_reach(task, keys, last)


def _draft(task: Task, voiced: Voiced, notes: tuple[DraftNote, ...], said: str) -> Draft:
    named = told(task, voiced)
    voiced = named.voiced
    plan = voiced.plan
    held = plan.held or HeldEnd("released", task.end_quarter)
    chords = tuple(DraftChord(e.onset_quarter, e.end_quarter, named.printed(e), e.added,
                              _chord_reason(task, voiced, e)) for e in plan.events)
    why = (*reasons(task, voiced, said), *coloured(named.coloured, notes))
    return Draft("reharm", plan.device, notes, chords, why,
                 plan.costs + voiced.costs, _idea(task, voiced, chords, notes), held)


def _chord_reason(task: Task, voiced: Voiced, event: Event) -> str | None:
    if event.option is not None:
        return explained(task, voiced, event.option)
    return f"{event.harmony.symbol.pretty} comes back." if event.returns else None


def _idea(task: Task, voiced: Voiced, chords: Sequence[DraftChord],
          notes: tuple[DraftNote, ...]) -> Idea:
    """Distances from the held note, or from the first chord's root, so that an idea is the
    same in every key and octave. The same chords in the same rhythm are one idea in whatever
    register, hence no balance."""
    root = chords[0].harmony.root.pitch_class
    base = task.held_midi if task.held_midi is not None else 60 + root
    right = [n.midi for n in notes if n.hand == "right"] or [n.midi for n in notes]
    return Idea(tuple(sorted({n.onset_quarter - task.onset_quarter for n in notes})),
                tuple(hands.midis[-1] - base for hands in voiced.hands),
                " ".join(_sound(c.harmony.symbol, root) for c in chords if c.added),
                (min(right) + max(right)) // 2 - base, balance=0)
