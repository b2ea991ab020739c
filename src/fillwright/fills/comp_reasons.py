"""Why a comping fill works, said in plain words from what was found."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction

from fillwright.fills.comp_plan import Plan, Stroke
from fillwright.fills.comp_search import Found
from fillwright.fills.comp_textures import Texture
from fillwright.fills.context import GapContext
from fillwright.fills.voicing import Voicing
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch

__all__ = ["beat_word", "degree_word", "reasons_for"]

_WORDS = {"1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth",
          "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth"}


def degree_word(degree: str) -> str:
    """A degree with real accidentals: ``♭9``."""
    return degree.replace("b", "♭").replace("#", "♯")


def beat_word(context: GapContext, offset: Fraction) -> str:
    """The place in the bar as it is counted: ``"2&"``."""
    beat = context.beat_at(context.onset_quarter + offset)
    whole = beat.numerator // beat.denominator
    if context.meter.is_compound:
        eighth = 3 * (beat - 1) + 1
        return str(eighth.numerator // eighth.denominator)
    return str(whole) if beat == whole else f"{whole}&"


def _names(pitches: Sequence[Pitch]) -> str:
    return " ".join(p.note_name.pretty for p in pitches)


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def reasons_for(context: GapContext, texture: Texture, plan: Plan, found: Found
                ) -> tuple[str, ...]:
    """One to four short sentences, all true of these notes."""
    sentences = [_voicing_sentence(context, texture, plan, found)]
    leading = _leading_sentence(context, plan, found)
    if leading:
        sentences.append(leading)
    push = _push_sentence(context, plan)
    if push:
        sentences.append(push)
    held = _held_sentence(context, plan)
    if held:
        sentences.append(held)
    return tuple(sentences[:4])


def _spelled_out(harmony: Harmony, voicing: Voicing) -> str:
    degrees = " ".join("bass" if d == "bass" else degree_word(d) for d in voicing.degrees)
    return f"{_names(voicing.pitches)} ({degrees} of {harmony.symbol.pretty})"


def _voicing_sentence(context: GapContext, texture: Texture, plan: Plan, found: Found) -> str:
    if plan.right:
        stroke, voicing = plan.right[0], found.right[0]
        who = "Both hands play" if plan.both else "The right hand plays"
    else:
        index = next((i for i, s in enumerate(plan.left)
                      if s.family == texture.left and i > 0), 0)
        stroke, voicing = plan.left[index], found.left[index]
        who = "The left hand plays"
    text = f"{who} {_spelled_out(stroke.harmony, voicing)}"
    left_out = _left_out(plan, found, stroke, voicing)
    return text + (f"; {left_out}." if left_out else ".")


def _left_out(plan: Plan, found: Found, stroke: Stroke, voicing: Voicing) -> str:
    harmony = stroke.harmony
    present = {degree_pitch_class(d) for d in voicing.degrees if d != "bass"}
    if 0 not in present:
        low = next((v for s, v in zip(plan.left, found.left, strict=True)
                    if s.harmony == harmony and s.onset_quarter <= stroke.onset_quarter
                    and v.midis[0] % 12 == harmony.root.pitch_class), None)
        if low is not None:
            return f"the root is left out, the left hand has struck {harmony.root.pretty}"
        return "the root is left out"
    fifth = next((d for d in ("5",) if d in harmony.tones), None)
    if fifth is not None and 7 not in present:
        return "the fifth is left out, third and seventh tell the chord"
    return ""


def _leading_sentence(context: GapContext, plan: Plan, found: Found) -> str:
    """What the guide tones do at the first change of chord."""
    both = [(s, v) for s, v in zip(plan.right or plan.left, found.right or found.left,
                                   strict=True)]
    for (one, first), (two, second) in itertools.pairwise(both):
        if one.harmony == two.harmony:
            continue
        kept = sorted(set(first.midis) & set(second.midis))
        steps = [(a, b) for a in first.pitches for b in second.pitches
                 if 0 < abs(a.midi - b.midi) <= 2 and a.midi not in second.midis
                 and b.midi not in first.midis]
        parts = []
        if kept:
            names = [p.note_name.pretty for p in first.pitches if p.midi in kept]
            parts.append(f"{_and(names)} {'stays' if len(names) == 1 else 'stay'}")
        if steps:
            a, b = min(steps, key=lambda pair: (abs(pair[0].midi - pair[1].midi),
                                                pair[0].midi))
            parts.append(f"{a.note_name.pretty} moves by "
                         f"{'half ' if abs(a.midi - b.midi) == 1 else ''}step to "
                         f"{b.note_name.pretty}")
        if parts:
            return (f"From {one.harmony.symbol.pretty} to {two.harmony.symbol.pretty} "
                    f"{_and(parts)}.")
    return ""


def _push_sentence(context: GapContext, plan: Plan) -> str:
    for stroke in (*plan.right, *plan.left):
        if stroke.push:
            where = beat_word(context, stroke.onset_quarter)
            target = " of the landing" if stroke.over else ""
            return (f"The chord on {where} takes {stroke.harmony.symbol.pretty}{target} early: "
                    "a push.")
    return ""


def _held_sentence(context: GapContext, plan: Plan) -> str:
    held = context.gap.held
    if held is None:
        return ""
    name = held.pitch.note_name.pretty
    if plan.held.kept == "finger":
        return f"The right hand keeps {name} down, everything else stays below it."
    if plan.held.kept == "pedal":
        return f"The pedal keeps {name} sounding."
    where = beat_word(context, plan.held.until_quarter - context.onset_quarter)
    return f"{name} has been heard when the right hand leaves it on {where}."
