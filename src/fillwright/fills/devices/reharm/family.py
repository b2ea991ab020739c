"""Reharm: passing chords that are not on the chart, found by search, with their reasons.

The table of moves (`moves`) says which chords may lead from the chord that sounds to the
chord that comes; `plan` sets them in time and against the held note; `voice`
gives each a voicing along the lattice; here the plans become candidates and their drafts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.devices.reharm.hands import STYLES
from fillwright.fills.devices.reharm.plan import Event, Plan, plans, under_pedal
from fillwright.fills.devices.reharm.sound import as_played
from fillwright.fills.devices.reharm.touch import strike, touches
from fillwright.fills.devices.reharm.voice import Voiced, voice_plan
from fillwright.fills.devices.reharm.words import spoken_list
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.fills.offer import Candidate
from fillwright.fills.player import Player
from fillwright.fills.situation import Task
from fillwright.hands.jumps import JUMP_SECONDS, jump_ok
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony

__all__ = ["REHARM", "Reharm"]

_PLANS = 240
"""How many plans of a gap are weighed."""

_FAR = 80
"""A plan this much worse than the best (one in three thousand against it) is no option."""

_SHORT_BEATS = 2
"""In a gap no longer than this one progression is one idea, however it is struck."""

_LEAP_SECONDS, _LEAP_SEMITONES = 0.35, 12
"""In less than this time the right hand goes no farther than this to the landing."""


class Reharm:
    """Passing chords, as a family: every progression is a candidate, and once more where there
    is room to place its chords otherwise."""

    name = "reharm"
    far = patience = 1_000_000  # plans that are far from the best are no candidates at all

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        groups: dict[object, list[Plan]] = {}
        found = plans(situation, _PLANS)
        for plan in found:
            if plan.total <= found[0].total + _FAR:
                groups.setdefault(plan.identity, []).append(plan)
        beats = situation.duration_quarter / situation.beat_quarter
        for again in (False, True) if beats > _SHORT_BEATS else (False,):
            for group in groups.values():
                yield Candidate(group[0].total, group[0].device,
                                partial(_drafts, situation, group), last=again)

    def suits(self, fill: Fill, player: Player) -> bool:
        return True

    def why_not(self, situation: Task, player: Player) -> str:
        beats = float(situation.duration_quarter / situation.beat_quarter)
        return (f"no passing chord fits {beats:g} beats at "
                f"{situation.beats_per_minute:.0f} a minute under this note")


REHARM = Reharm()

_NEAR = 5
"""Plans of one progression that cost so little more are as good."""


def _varied(group: list[Plan], turn: int) -> list[Plan]:
    """The rhythms of one progression to try, best first; now and then another of nearly
    equal cost comes first, so that the chords of a page do not all change alike."""
    best = group[0].total
    near = [p for p in group if p.total <= best + _NEAR][:3]
    if turn >= 3 and len(near) > 1:
        near = near[turn % len(near):] + near[:turn % len(near)]
    return near + [p for p in group if p not in near][:2]


def _drafts(context: Task, group: list[Plan], turn: int) -> Iterator[Draft]:
    """A progression in the rhythms, styles and touches in which the hands can play it."""
    level = context.player.level
    first, second, *others = STYLES[level]
    swapped = turn % 2 and level.reharm.turns_styles
    styles = (second, first, *others) if swapped else (first, second, *others)
    for plan, style in ((plan, style) for chosen in _varied(group, turn)
                        for plan in _ways_to_keep(context, chosen, turn) for style in styles):
        voiced = voice_plan(context, plan, style)
        if voiced is None:
            continue
        for touch in touches(context, voiced, turn):
            struck = strike(context, voiced, touch, turn)
            if struck is not None and not _leaps_home(context, struck[0]):
                yield _draft(context, voiced, *struck)


def _sound(symbol: ChordSymbol, home: int) -> str:
    """A chord as the ear tells it, counted from a pitch class: root, quality and bass, whatever
    its colour."""
    root = -1 if symbol.root is None else (symbol.root.pitch_class - home) % 12
    low = root if symbol.lowest is None else (symbol.lowest.pitch_class - home) % 12
    return f"{root}{quality_of(symbol)}/{low}"


def _ways_to_keep(context: Task, plan: Plan, turn: int) -> tuple[Plan, ...]:
    """A plan, and with the held note kept by the pedal until the chord changes.

    Where the note is let go at that change anyhow, the pedal frees the right hand before it,
    at no loss: the two ways take turns. Where the finger could hold it longer, the pedal is for
    hands that cannot.
    """
    pedalled = under_pedal(context, plan)
    if pedalled is None:
        return (plan,)
    lost = plan.held is None or plan.held.until_quarter > plan.events[1].onset_quarter
    return (pedalled, plan) if turn % 2 and not lost else (plan, pedalled)


def _leaps_home(context: Task, notes: tuple[DraftNote, ...]) -> bool:
    """Whether the right hand cannot get from the last key it strikes to the landing in time."""
    right = [n for n in notes if n.hand == "right"]
    landing = context.landing_midi
    if landing is None or not right:
        return False
    last = max(n.onset_quarter for n in right)
    keys = [n.midi for n in right if n.onset_quarter == last]
    near = min(keys, key=lambda m: abs(m - landing))
    seconds = context.seconds(context.end_quarter - last)
    return seconds < _LEAP_SECONDS and (
        abs(near - landing) > _LEAP_SEMITONES or not jump_ok(
            keys, (landing,), seconds - JUMP_SECONDS["return_margin"], context.hand))


def _draft(context: Task, voiced: Voiced, notes: tuple[DraftNote, ...], said: str) -> Draft:
    plan = voiced.plan
    held = plan.held or HeldEnd("released", context.end_quarter)
    coloured = []
    for event, hands in zip(plan.events, voiced.hands, strict=True):
        if event.added:
            played, colours = as_played(event.harmony, hands.degrees)
            if colours:
                coloured.append((event, played, colours))
    chords = tuple(DraftChord(e.onset_quarter, e.end_quarter,
                              next((h for c, h, _ in coloured if c is e), e.harmony), e.added,
                              e.option.reason if e.option is not None else None)
                   for e in plan.events)
    reasons = _reasons(context, plan, said)
    if coloured:
        reasons = (*reasons, _coloured(coloured, notes))
    return Draft("reharm", plan.device, notes, chords, reasons,
                 plan.costs + voiced.costs, _idea(context, voiced, chords, notes), held)


def _coloured(coloured: list[tuple[Event, Harmony, tuple[str, ...]]],
              notes: tuple[DraftNote, ...]) -> str:
    """What the hands add to the plain dominants: ``"D7 is played with E♭, its flat ninth."``
    Notes are named as they are written."""
    said = []
    for event, _, colours in coloured:
        names = []
        for degree in colours:
            name = event.harmony.symbol.name_of(degree)
            written = next((n.pitch.note_name for n in notes
                            if n.onset_quarter < event.end_quarter
                            and n.end_quarter > event.onset_quarter
                            and n.midi % 12 == name.pitch_class), name)
            names.append(f"{written.pretty}, its {_spoken(degree)}")
        said.append(f"{event.harmony.symbol.pretty} is played with {' and '.join(names)}")
    return "; ".join(said) + "."


def _idea(context: Task, voiced: Voiced, chords: Sequence[DraftChord],
          notes: tuple[DraftNote, ...]) -> Idea:
    """Distances from the held note, or from the first chord's root, so that an idea is the
    same in every key and octave. The same chords in the same rhythm are one idea in whatever
    register, hence no balance."""
    root = chords[0].harmony.root.pitch_class
    base = context.held_midi if context.held_midi is not None else 60 + root
    right = [n.midi for n in notes if n.hand == "right"] or [n.midi for n in notes]
    return Idea(tuple(sorted({n.onset_quarter - context.onset_quarter for n in notes})),
                tuple(hands.midis[-1] - base for hands in voiced.hands),
                " ".join(_sound(c.harmony.symbol, root) for c in chords if c.added),
                (min(right) + max(right)) // 2 - base, balance=0)


def _reasons(context: Task, plan: Plan, touch: str) -> tuple[str, ...]:
    """What is said of the chords, of the held note and of the touch."""
    said = list(dict.fromkeys(option.reason for option in plan.options))
    note = context.held
    first, move = plan.events[0], plan.options[0].move
    if note is not None and first.added and not (move.delay or move.instead):
        said.append(f"{first.harmony.symbol.pretty} is struck in place of "
                    f"{context.spans[0].harmony.symbol.pretty}, to which "
                    f"{note.pitch.note_name.pretty} does not belong.")
    if plan.held is not None and note is not None:
        name = note.pitch.note_name.pretty
        if plan.held.kept == "finger":
            over = [e for e in plan.events
                    if e.added and e.onset_quarter < plan.held.until_quarter]
            if over:
                rows: dict[str, list[str]] = {}
                for event in over[:3]:
                    degree = _spoken(event.harmony.degree_of(note.pitch.pitch_class))
                    rows.setdefault(degree, []).append(event.harmony.symbol.pretty)
                degrees = [f"the {degree} of {spoken_list(chords)}"
                           for degree, chords in rows.items()]
                said.append(f"{name} stays under the finger: it is {', '.join(degrees)}.")
        elif plan.held.kept == "pedal":
            event = next(e for e in plan.events if e.onset_quarter == plan.held.until_quarter)
            said.append(f"The pedal keeps {name} until {event.harmony.symbol.pretty} comes, so "
                        "the right hand is free to play under it.")
        else:
            event = next(e for e in plan.events
                         if e.onset_quarter == plan.held.until_quarter)
            said.append(f"{name} is let go when {event.harmony.symbol.pretty} comes, which "
                        "does not take it.")
    if touch:
        said.append(touch)
    return tuple(said)


_ORDINALS = {"1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth",
             "6": "sixth", "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth"}


def _spoken(degree: str | None) -> str:
    """A degree in words: ``"b9"`` is the flat ninth.

    >>> _spoken("b3"), _spoken("#11"), _spoken("b7")
    ('minor third', 'sharp eleventh', 'seventh')
    """
    if degree is None:
        return "tone"
    plain = degree.lstrip("b#")
    word = _ORDINALS[plain]
    if degree in ("b7", "bb7"):
        return "seventh"
    if degree == "7":
        return "major seventh"
    if degree == "b3":
        return "minor third"
    return {"b": "flat ", "#": "sharp "}.get(degree[0], "") + word


