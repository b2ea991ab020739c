"""The sentence that explains a texture by what is particular to it, true of the notes found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.search import Found
from fillwright.fills.devices.comp.strokes import Plan, Stroke
from fillwright.fills.devices.comp.textures import Texture
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.theory.pitch import Pitch

__all__ = ["beat_word", "degree_word", "joined", "note_names", "special_sentence"]

_SIZES = ("", "a second", "a third", "a fourth", "a fifth", "a sixth", "a seventh", "an octave",
          "a ninth", "a tenth", "an eleventh", "a twelfth", "more than a twelfth")
_TENTHS = (15, 16)


def degree_word(degree: str) -> str:
    """A degree with real accidentals: ``♭9``."""
    return degree.replace("b", "♭").replace("#", "♯")


def beat_word(context: Task, offset: Fraction) -> str:
    """The place in the bar as it is counted: ``"2&"``; eighths are numbered in compound
    meters."""
    beat = context.beat_at(offset)
    if context.meter.is_compound:
        eighth = 3 * (beat - 1) + 1
        return str(eighth.numerator // eighth.denominator)
    whole = beat.numerator // beat.denominator
    part = {Fraction(0): "", Fraction(1, 3): " trip", Fraction(2, 3): " let"}
    return f"{whole}{part.get(beat - whole, '&')}"


def note_names(pitches: Sequence[Pitch]) -> str:
    return " ".join(p.note_name.pretty for p in pitches)


def joined(words: Sequence[str]) -> str:
    """``"1, 2 and 3"``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def special_sentence(context: Task, texture: Texture, plan: Plan, found: Found) -> str:
    """What is particular to the texture; "" where nothing is."""
    for key, say in _SAYINGS.items():
        if key in (texture.motion, texture.place, texture.mode, texture.right):
            text = say(context, plan, found)
            if text:
                return text
    if texture.left == "tenth" and any(v.midis[-1] - v.midis[0] in _TENTHS for v in found.left):
        return "The left hand spans a tenth; roll it where it does not reach."
    return ""


def _rows(plan: Plan, found: Found) -> list[tuple[Stroke, Voicing]]:
    return list(zip(plan.right, found.right, strict=True))


def _inner(context: Task, plan: Plan, found: Found) -> str:
    for (one, a), (two, b) in pairwise(_rows(plan, found)):
        gone = [p for p in a.pitches if p.midi not in b.midis]
        come = [p for p in b.pitches if p.midi not in a.midis]
        if one.harmony == two.harmony and len(gone) == len(come) == 1:
            return (f"Only {gone[0].note_name.pretty} moves, to {come[0].note_name.pretty} on "
                    f"{beat_word(context, two.onset_quarter)}; the other notes stay down.")
    return ""


def _inversions(context: Task, plan: Plan, found: Found) -> str:
    bottoms = [v.pitches[0].note_name.pretty for v in found.right]
    return ("Drop 2: the second voice from the top lies an octave lower; the lowest goes "
            f"{' '.join(bottoms)}.")


def _register(context: Task, plan: Plan, found: Found) -> str:
    if len(found.right) < 2:
        return ""
    first, last = found.right[0].pitches[-1], found.right[-1].pitches[-1]
    word = "climbs" if last.midi > first.midi else "comes down"
    size = _SIZES[min(abs(first.staff_position - last.staff_position), len(_SIZES) - 1)]
    return f"The top {word} {size}, {first.note_name.pretty} to {last.note_name.pretty}."


def _bass(context: Task, plan: Plan, found: Found) -> str:
    row = [v.pitches[0].note_name.pretty for v in found.left]
    landing = context.landing_chord
    goal = "" if landing is None or not landing.is_chord else f" and on to {landing.pretty}"
    tenths = [v.pitches[0].note_name.pretty for v in found.left if v.kind == "tenth"]
    return (f"The bass goes {' '.join(row)}{goal}"
            + (f", with the tenth over {joined(list(dict.fromkeys(tenths)))}." if tenths
               else "."))


def _upper(context: Task, plan: Plan, found: Found) -> str:
    for stroke, voicing in _rows(plan, found):
        if voicing.kind == "upper structure":
            verb = "is" if _in_thirds(voicing.pitches) else "sounds like"
            return (f"{note_names(voicing.pitches)} {verb} a plain triad by itself; over "
                    f"{stroke.harmony.symbol.pretty} it is colour.")
    return ""


def _fourths(context: Task, plan: Plan, found: Found) -> str:
    chord = found.right[0]
    names = note_names(chord.pitches)
    if any(b - a == 6 for a, b in pairwise(chord.midis)):
        return f"{names} stand in fourths, one of them augmented."
    return f"{names} stand in fourths: an open sound."


def _octave(context: Task, plan: Plan, found: Found) -> str:
    top = found.right[0].pitches[-1]
    return f"{top.note_name.pretty} is doubled at the octave with the inner notes between."


def _echo(context: Task, plan: Plan, found: Found) -> str:
    tops = note_names([v.pitches[-1] for v in found.right])
    return f"The top line sings the melody's last notes again, {tops}, in their own rhythm."


def _on_top(context: Task, plan: Plan, found: Found) -> str:
    held, stroke = context.held, plan.right[0]
    degree = None if held is None else stroke.harmony.degree_of(held.pitch.pitch_class)
    if held is None or degree is None:
        return ""
    return (f"The held {held.pitch.note_name.pretty} is the chord's own top note, its "
            f"{degree_word(degree)}.")


def _in_thirds(pitches: Sequence[Pitch]) -> bool:
    """Are these the letters of a triad, in any inversion?"""
    letters = {p.staff_position % 7 for p in pitches}
    return any(letters == {low, (low + 2) % 7, (low + 4) % 7} for low in range(7))


_SAYINGS: MappingProxyType[str, Callable[[Task, Plan, Found], str]] = MappingProxyType({
    # a value of `Texture`'s motion, place, mode or right; the first that says something
    "inner": _inner, "inversions": _inversions, "rising": _register, "falling": _register,
    "bass": _bass, "upper": _upper, "fourths": _fourths, "octave": _octave, "echo": _echo,
    "melody on top": _on_top,
})
