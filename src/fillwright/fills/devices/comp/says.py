"""The sentence that explains a texture by what is particular to it, true of the notes found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType

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
        if key in (texture.motion, texture.place, texture.mode, texture.right) or (
                key == "line" and texture.line is not None):
            text = say(context, plan, found)
            if text:
                return text
    if texture.left == "tenth" and any(v.midis[-1] - v.midis[0] in _TENTHS for v in found.left):
        return "The left hand spans a tenth; roll it where it does not reach."
    return ""


def _rows(plan: Plan, found: Found) -> list[tuple[Stroke, Voicing]]:
    return list(zip(plan.right, found.right, strict=True))


def _line(context: Task, plan: Plan, found: Found) -> str:
    """The moving voice, by its degrees."""
    moving = [(s, v.pitches[0]) for s, v in _rows(plan, found) if s.degree]
    first = moving[0][0]
    row = [(s.degree, p) for s, p in moving if s.harmony == first.harmony]
    names = joined([f"{p.note_name.pretty} ({degree_word(d)})" for d, p in row])
    return (f"One voice moves over {first.harmony.symbol.pretty}: {names}; everything else "
            "stays where it is.")


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


def _planed(context: Task, plan: Plan, found: Found) -> str:
    rows = " to ".join(note_names(v.pitches) for v in found.right)
    return f"The whole shape moves in parallel, {rows}."


def _slide(context: Task, plan: Plan, found: Found) -> str:
    for (one, a), (_, b) in pairwise(_rows(plan, found)):
        if one.slides:
            way = "up" if a.midis[0] < b.midis[0] else "down"
            return (f"{note_names(a.pitches)} slide {way} a half step into "
                    f"{note_names(b.pitches)}.")
    return ""


def _thicken(context: Task, plan: Plan, found: Found) -> str:
    first, again = (beat_word(context, plan.right[i].onset_quarter) for i in (0, 2))
    return f"The two hits from {first} on come back from {again} on, thicker and off their place."


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


def _broken(context: Task, plan: Plan, found: Found) -> str:
    keys = [p.note_name.pretty for p in found.left[0].pitches]
    tenth = " up to the tenth" if found.left[0].midis[-1] - found.left[0].midis[0] in (
        _TENTHS) else ""
    return f"The left hand breaks its chord{tenth}: {joined(keys)}, one after another."


def _stride(context: Task, plan: Plan, found: Found) -> str:
    roots = [beat_word(context, s.onset_quarter) for s, v in zip(plan.left, found.left,
                                                                 strict=True)
             if len(v.pitches) == 1]
    places = joined(list(dict.fromkeys(roots)))
    low = "a low root" if all(v.degrees == ("1",) for v in found.left if len(v.pitches) == 1) else (
        "low root and fifth in turn")
    return f"Stride: {low} on {places}, a chord in the middle on the other beats."


def _bell(context: Task, plan: Plan, found: Found) -> str:
    stroke, voicing = plan.right[0], found.right[0]
    return (f"{voicing.pitches[0].note_name.pretty}, the {degree_word(voicing.degrees[0])} of "
            f"{stroke.harmony.symbol.pretty}, rings above the held note like a bell.")


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
    "line": _line, "inner": _inner, "inversions": _inversions, "planed": _planed,
    "slide": _slide, "thicken": _thicken, "rising": _register, "falling": _register,
    "bass": _bass, "upper": _upper, "fourths": _fourths, "octave": _octave, "echo": _echo,
    "break": _broken, "time": _stride, "bell": _bell, "melody on top": _on_top,
})
