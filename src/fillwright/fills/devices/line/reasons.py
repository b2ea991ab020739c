"""Why a line works: each sentence is said by what was heard in its notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.counts import SMALLEST, count_marks
from fillwright.fills.devices.line.naming import Found, LineDevice, by_step, pretty
from fillwright.fills.devices.line.shift import says_shifted
from fillwright.fills.devices.line.sounding import Line, quarters
from fillwright.fills.model import Shift
from fillwright.fills.situation import Task
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch
from fillwright.theory.spoken import spoken_degree

__all__ = ["degree_name", "reasons_of", "says_tenors", "with_pitches"]

_MOST = 3
"""Sentences about what is heard in a line: more is a lecture."""


def reasons_of(task: Task, line: Line, found: Sequence[tuple[LineDevice, Found]],
               shift: Shift | None) -> tuple[str, ...]:
    """What is heard, the worthiest first, and how the line ends.

    line   with its pitches spelled
    """
    sentences = [] if shift is None else [_shift(task, shift, line)]
    told: set[int] = set()
    for device, where in found:
        new = set(where.notes) - told
        if len(sentences) < _MOST and 2 * len(new) > len(where.notes):
            sentences.append(device.sentence(line, where))
            told |= set(where.notes)
    if line.count not in told or line.count == len(line.pitches):
        sentences.append(_ending(task, line))
    return (*sentences, *_says_sung_third(task))


def _says_sung_third(task: Task) -> Iterator[str]:
    """What is said of chords whose third is the tune's minor one and not the sheet's."""
    for harmony in dict.fromkeys(s.harmony for s in task.spans if s.harmony.is_sung_minor):
        symbol = harmony.symbol
        yield (f"The tune sings {symbol.name_of('b3').pretty} over {symbol.pretty}, so its third "
               "is minor here.")


def degree_name(harmony: Harmony, pitch: Pitch) -> str:
    """What a note is in a chord: ``"third of Cmaj7"``, or its name where it is foreign."""
    degree = harmony.degree_of(pitch.pitch_class)
    if degree is None:
        return f"chromatic {pretty(pitch)} over {harmony.symbol.pretty}"
    return f"{spoken_degree(degree)} of {harmony.symbol.pretty}"


def place_name(task: Task, onset: Fraction) -> str:
    """How a place is counted: ``"2"``, ``"3&"``."""
    beat = task.beat_at(onset)
    whole = int(beat)
    if beat == whole:
        return str(whole)
    marks = count_marks(task.bars, onset, onset + SMALLEST, [onset])
    word = marks[0][1] if marks else "&"
    if task.meter.is_compound and word != "&":
        return word
    triplet = {"trip": "the second triplet of ", "let": "the third triplet of "}.get(word)
    return f"{triplet}{whole}" if triplet else f"{whole}{word}"


def _shift(task: Task, shift: Shift, line: Line) -> str:
    return says_shifted(line.pitches[-1], shift.landing_quarter - task.end_quarter,
                        task.beat_quarter, place_name(task, shift.landing_quarter),
                        place_name(task, shift.back_quarter))


def _ending(task: Task, line: Line) -> str:
    last = line.count - 1
    name = pretty(line.pitches[last])
    what = degree_name(line.harmonies[last], line.pitches[last])
    if len(line.pitches) == line.count:
        place = place_name(task, quarters(line.onsets[last]))
        return f"It comes to rest on {name}, the {what}, on {place}."
    target = pretty(line.pitches[-1])
    if line.leads:
        away = line.moves[last]
        how = by_step(line.pitches[last], line.pitches[-1]) if abs(away) <= 2 else ""
        return f"Its last note, {name}, leads {how}{'up' if away > 0 else 'down'} to the " \
               f"landing note {target}."
    beats = Fraction(line.onsets[-1] - line.setting.ends[last], line.setting.beat)
    air = {Fraction(1, 2): "half a beat", Fraction(1): "a beat"}.get(
        beats, f"{float(beats):.3g} beats")
    return (f"It stops on {name}, the {what}, and leaves {air} of air before the melody "
            f"comes back on {target}.")


def says_tenors(tenors: Sequence[tuple[Pitch, Pitch]]) -> tuple[str, ...]:
    """What is said of a left hand whose tenors move from pitch to pitch."""
    if not tenors:
        return ()
    moves = " and ".join(f"{pretty(one)} to {pretty(two)}" for one, two in tenors)
    return (f"Under it the left hand's tenor moves, {moves}.",)


def with_pitches(line: Line, pitches: tuple[Pitch, ...]) -> Line:
    """The same line, spelled; the landing last."""
    return replace(line, pitches=pitches)
