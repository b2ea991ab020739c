"""Reharm: passing chords that are not on the chart, found by search, with their reasons.

The table of moves (`moves`) says which chords may lead from the chord that sounds to the
chord that comes; `reharm_plan` sets them in time and against the held note; `reharm_voice`
gives each a voicing along the lattice; here the plans become drafts and, once audited,
fills, best first.
"""

from __future__ import annotations

from fillwright.fills.build import finish
from fillwright.fills.context import GapContext
from fillwright.fills.draft import Draft, DraftChord, DraftNote, HeldPlan
from fillwright.fills.model import Fill, Idea
from fillwright.fills.reharm_plan import Plan, plans
from fillwright.fills.reharm_voice import STYLES, Voiced, voice_plan
from fillwright.theory.pitch import Pitch, spell_plain

__all__ = ["propose_reharm"]

_PLANS_PER_OPTION = 40


def propose_reharm(context: GapContext, count: int) -> tuple[Fill, ...] | str:
    """At most `count` fills with passing chords, best first, or a sentence why there are none.

    Every chord progression is offered once before any is offered in a second rhythm or
    voicing.
    """
    if not context.spans:
        return "no chord sounds in this gap"
    found = plans(context, max(_PLANS_PER_OPTION * count, 200))
    taken: list[Fill] = []
    chords_taken: set[object] = set()
    for again in (False, True):
        for plan in found:
            if len(taken) == count:
                return tuple(taken)
            if (plan.identity in chords_taken) != again:
                continue
            fill = _first_fill(context, plan, taken)
            if fill is not None:
                taken.append(fill)
                chords_taken.add(plan.identity)
    if not taken:
        return _why_not(context)
    return tuple(taken)


def _why_not(context: GapContext) -> str:
    beats = float(context.gap.duration_quarter / context.beat_quarter)
    return (f"no passing chord fits {beats:g} beats at {context.beats_per_minute:.0f} a minute "
            "under this note")


def _first_fill(context: GapContext, plan: Plan, taken: list[Fill]) -> Fill | None:
    """The first style in which the hands can play the plan and that is a new idea."""
    voiced = [v for v in (voice_plan(context, plan, style) for style in STYLES[context.level])
              if v is not None]
    for candidate in voiced:
        draft = _draft(context, candidate)
        if any(draft.idea.differences(other.idea) < 2 for other in taken):
            continue
        fill = finish(context, draft)
        if isinstance(fill, Fill):
            return fill
    return None


def _draft(context: GapContext, voiced: Voiced) -> Draft:
    plan = voiced.plan
    notes: list[DraftNote] = []
    for event, hands in zip(plan.events, voiced.hands, strict=True):
        length = event.end_quarter - event.onset_quarter
        for pitch in hands.left_pitches:
            notes.append(DraftNote(event.onset_quarter, length, _readable(pitch), "left"))
        for pitch in hands.right_pitches:
            notes.append(DraftNote(event.onset_quarter, length, _readable(pitch), "right"))
    chords = tuple(DraftChord(e.onset_quarter, e.end_quarter, e.harmony, e.added,
                              e.option.reason if e.option is not None else None)
                   for e in plan.events)
    held = plan.held or HeldPlan("released", context.end_quarter)
    return Draft("reharm", plan.device, tuple(notes), chords, _reasons(context, plan),
                 plan.costs + voiced.costs, _idea(context, voiced, notes), held)


def _readable(pitch: Pitch) -> Pitch:
    """Without double accidentals: the diminished seventh of E flat is written C."""
    if abs(pitch.alter) < 2:
        return pitch
    return spell_plain(pitch.midi, sharps=pitch.alter > 0)


def _idea(context: GapContext, voiced: Voiced, notes: list[DraftNote]) -> Idea:
    plan = voiced.plan
    root = plan.events[0].harmony.root.pitch_class
    right = [n.midi for n in notes if n.hand == "right"] or [n.midi for n in notes]
    base = context.held_midi if context.held_midi is not None else 60 + root
    chords = " ".join(f"{(e.harmony.root.pitch_class - root) % 12}{e.harmony.symbol.kind}"
                      for e in plan.events if e.added)
    tops: list[int] = []
    for hands in voiced.hands:
        tops.append(hands.midis[-1] - base)
    return Idea(tuple(e.onset_quarter - context.onset_quarter for e in plan.events),
                tuple(tops), f"{plan.device}: {chords}: {voiced.style.name}",
                (min(right) + max(right)) // 2)


def _reasons(context: GapContext, plan: Plan) -> tuple[str, ...]:
    said = list(dict.fromkeys(option.reason for option in plan.options))
    note = context.gap.held
    if plan.held is not None and note is not None:
        name = note.pitch.note_name.pretty
        if plan.held.kept == "finger":
            over = [e for e in plan.events
                    if e.added and e.onset_quarter < plan.held.until_quarter]
            if over:
                degrees = [f"the {_spoken(e.harmony.degree_of(note.pitch.pitch_class))} of "
                           f"{e.harmony.symbol.pretty}" for e in over[:3]]
                said.append(f"{name} stays under the finger: it is "
                            + ", ".join(degrees) + ".")
        else:
            event = next(e for e in plan.events
                         if e.onset_quarter == plan.held.until_quarter)
            said.append(f"{name} is let go when {event.harmony.symbol.pretty} comes, which "
                        "does not bear it.")
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


