"""Why a line works, said from its notes."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction

from fillwright.fills.counts import count_marks
from fillwright.fills.devices.line.costs import CHROMATIC, TONE
from fillwright.fills.devices.line.figures import least_moves
from fillwright.fills.devices.line.frame import Cell
from fillwright.fills.devices.line.left import LeftHand
from fillwright.fills.devices.line.shift import delay_name
from fillwright.fills.model import Shift
from fillwright.fills.situation import Task
from fillwright.theory.pitch import Pitch

__all__ = ["degree_name", "reasons_of"]

_ORDINALS = {"1": "root", "b3": "minor third", "3": "third", "4": "fourth", "5": "fifth",
             "b5": "flat fifth", "#5": "raised fifth", "6": "sixth", "bb7": "diminished seventh",
             "b7": "seventh", "7": "major seventh", "9": "ninth", "b9": "flat ninth",
             "#9": "sharp ninth", "11": "eleventh", "#11": "sharp eleventh",
             "13": "thirteenth", "b13": "flat thirteenth", "2": "second"}


_FIGURE_WORDS = {
    "broken chord with steps back": "a broken chord and a step back",
    "leap filled by steps": "a leap that steps begin to fill",
    "scale broken by a skip": "two steps of the scale and a skip",
    "note between its neighbours": "a note between its two neighbours",
    "one, two, three, five": "root, second, third and fifth",
    "two steps and a skip": "two steps and a skip",
    "intervals that open out": "intervals that open out",
    "skip and a leap turned back": "a skip, a step and a leap that is turned back",
    "peak and drop": "a skip, two steps back and a drop that is turned back",
}


_ALTERED = {1: "b9", 3: "#9", 6: "#11", 8: "b13"}


def degree_name(context: Task, span: int, pitch: Pitch, altered: bool = False) -> str:
    """What a note is in a chord: ``"third of Cmaj7"``, or its name where it is foreign."""
    harmony = context.spans[span].harmony
    degree = harmony.degree_of(pitch.pitch_class)
    if degree is None and altered:
        degree = _ALTERED.get(harmony.symbol.relative(pitch.pitch_class))
    if degree is None:
        return f"chromatic {pitch.note_name.pretty} over {harmony.symbol.pretty}"
    return f"{_ORDINALS.get(degree, degree)} of {harmony.symbol.pretty}"


def place_name(context: Task, onset: Fraction) -> str:
    """How a place is counted: ``"2"``, ``"3&"``."""
    beat = context.beat_at(onset)
    whole = int(beat)
    if beat == whole:
        return str(whole)
    marks = count_marks(context.bars, onset, onset + Fraction(1, 96), [onset])
    word = marks[0][1] if marks else "&"
    if context.meter.is_compound and word != "&":
        return word
    triplet = {"trip": "the second triplet of ", "let": "the third triplet of "}.get(word)
    return f"{triplet}{whole}" if triplet else f"{whole}{word}"


def reasons_of(context: Task, cell: Cell, pitches: Sequence[Pitch], left: LeftHand,
               landing: Pitch | None) -> tuple[str, ...]:
    """One to four sentences, each of them true of the notes."""
    found = [_idea(context, cell, pitches) if cell.shift is None
             else _shift(context, cell.shift, pitches, landing)]
    change = _change(context, cell, pitches)
    if change is not None:
        found.append(change)
    found.append(_ending(context, cell, pitches, landing))
    found.append(_left(context, cell, left))
    return tuple(s for s in found if s)


def _idea(context: Task, cell: Cell, pitches: Sequence[Pitch]) -> str:
    slots = cell.problem.slots
    start = place_name(context, cell.phrase.onsets[0])
    names = [p.note_name.pretty for p in pitches]
    device = cell.device
    if device == "chord tones up high, arpeggiated":
        tones = sum(s.kinds[p.midi % 12] == TONE for s, p in zip(slots, pitches, strict=True))
        what = "only chord tones" if tones == len(pitches) else "chord tones and tensions"
        return f"It speaks on {start} and plays {what}: {_listed(context, cell, pitches)}."
    if device == "arpeggio up and down":
        rises = pitches[1].midi > pitches[0].midi
        far = (max if rises else min)(range(len(pitches)), key=lambda i: pitches[i].midi)
        return (f"The chord is broken {'up' if rises else 'down'} to {names[far]} and "
                f"{'down' if rises else 'up'} again, from {start}: {' '.join(names)}.")
    if device == "arpeggio up, scale down":
        peak = max(range(len(pitches)), key=lambda i: (pitches[i].midi, -i))
        return (f"It climbs through {' '.join(names[:peak + 1])} by thirds and fourths from "
                f"{start} and comes down the scale from {names[peak]}.")
    if device == "scale run":
        scales = [f"{h.symbol.pretty} ({h.scale.name})" for h in
                  (context.spans[span].harmony for span in dict.fromkeys(s.span for s in slots))]
        return (f"From {start} it runs {cell.note} the scale of {', then '.join(scales)}: "
                f"{' '.join(names)}.")
    if device == "enclosure of a target" or device == "approach from a half step":
        return _target(context, cell, pitches)
    if device == "upper-structure arpeggio":
        return f"The notes spell a {cell.note.replace('; ', ', then a ')}."
    if device == "triad pairs, arpeggiated":
        return (f"Two triads a whole step apart in turn, {' '.join(names[:3])} and "
                f"{' '.join(names[3:6])}.")
    if cell.palette:
        what = (f"It keeps to the {cell.note} of the chord" if device == "pentatonic" else
                f"The notes are those of the {context.key.tonic.pretty} blues scale")
        if pitches[-1].pitch_class in cell.palette[slots[-1].span]:
            return f"{what}: {' '.join(names)}."
        leaves = "ends it" if context.landing is None else "leads out of it"
        return f"{what}: {' '.join(names[:-1])}; {names[-1]} {leaves}."
    if device == "altered colours":
        spans = {s.span for s in slots
                 if context.spans[s.span].harmony.symbol.quality == "dominant"}
        return ("Over the dominant it takes the altered colours: "
                f"{_listed(context, cell, pitches, spans)}.")
    if cell.double:
        body = " with a fifth inside" if cell.double == "fifth" else ""
        return (f"Octaves{body} high up, {' '.join(names)}: the rhythm carries it, "
                f"from {start} on.")
    if device == "repeated-note rhythm":
        return (f"{names[0]}, the {degree_name(context, slots[0].span, pitches[0])}, is struck "
                f"again and again: the rhythm from {start} on is what moves.")
    if cell.answer:
        source = cell.note
        return f"It answers the phrase just heard: {source}."
    if cell.later:
        cut = cell.later
        return (f"{' '.join(names[:cut])} comes again as {' '.join(names[cut:2 * cut])}: "
                f"a cell of {cut} notes, {cell.note}.")
    if cell.figure is not None:
        size = least_moves(cell.figure) + 1
        return (f"From {start} it opens with {_FIGURE_WORDS[device]}, "
                f"{' '.join(names[:size])}"
                + (f", and goes on {' '.join(names[size:])}." if names[size:] else "."))
    if device == "short reply":
        return f"A short reply on {start}: {_listed(context, cell, pitches)}."
    return f"A pickup from {start}, {' '.join(names)}, runs straight into the landing note."


def _shift(context: Task, shift: Shift, pitches: Sequence[Pitch], landing: Pitch | None
           ) -> str:
    name = "" if landing is None else f" {landing.note_name.pretty}"
    line = " ".join(p.note_name.pretty for p in pitches)
    place = place_name(context, shift.landing_quarter)
    late = shift.landing_quarter - context.end_quarter
    if late < 0:
        return (f"{line} runs into a landing that is pushed: the melody's{name} comes an eighth "
                f"early, on {place}, and the left hand stays on time.")
    return (f"{line} runs on past the melody's own place: the landing{name} comes "
            f"{delay_name(late, context.beat_quarter)} late, on {place}, the melody after it "
            f"is squeezed by a third and is back in place on "
            f"{place_name(context, shift.back_quarter)}; the left hand stays on time.")


def _listed(context: Task, cell: Cell, pitches: Sequence[Pitch],
            spans: Collection[int] | None = None) -> str:
    """The notes by chord, ``"E G over Cmaj7, F over G7"``; `spans` None for all chords."""
    parts: list[str] = []
    slots = cell.problem.slots
    for span in dict.fromkeys(s.span for s in slots if spans is None or s.span in spans):
        own = [p for s, p in zip(slots, pitches, strict=True) if s.span == span]
        names = " ".join(p.note_name.pretty for p in own)
        parts.append(f"{names} over {context.spans[span].harmony.symbol.pretty}")
    return ", ".join(parts)


def _target(context: Task, cell: Cell, pitches: Sequence[Pitch]) -> str:
    names = [p.note_name.pretty for p in pitches]
    start = place_name(context, cell.phrase.onsets[0])
    if cell.note == "landing":
        if cell.device == "enclosure of a target":
            return (f"From {start} the line heads for the landing note, with {names[-2]} and "
                    f"{names[-1]} on either side of it.")
        return (f"From {start} the line goes by way of {names[-2]} to {names[-1]}, a half step "
                "from the landing note.")
    target = int(cell.note)
    place = place_name(context, cell.phrase.onsets[target])
    what = degree_name(context, cell.problem.slots[target].span, pitches[target])
    if cell.device == "enclosure of a target":
        return (f"{names[target - 2]} and {names[target - 1]} lie on either side of "
                f"{names[target]}, the {what}, on {place}.")
    return (f"{names[target - 1]} leads by a half step into {names[target]}, the {what}, "
            f"on {place}.")


def _change(context: Task, cell: Cell, pitches: Sequence[Pitch]) -> str | None:
    """What leads where at the first change of chord inside the line."""
    slots = cell.problem.slots
    altered = cell.device == "altered colours"
    for index in range(1, len(slots)):
        before, here = pitches[index - 1], pitches[index]
        slot = slots[index]
        if not slot.change or slot.kinds[here.midi % 12] != TONE:
            continue
        early = slot.onset_quarter < context.spans[slot.span].onset_quarter
        if 0 < abs(before.midi - here.midi) <= 2:
            how = "a half step" if abs(before.midi - here.midi) == 1 else "a step"
            ahead = ("an eighth" if context.spans[slot.span].onset_quarter
                     - slot.onset_quarter == Fraction(1, 2) else "just")
            when = (f" {ahead} ahead of {context.spans[slot.span].harmony.symbol.pretty}"
                    if early else " at the change")
            goal = degree_name(context, slot.span, here, altered)
            source = degree_name(context, slots[index - 1].span, before, altered)
            if slots[index - 1].kinds[before.midi % 12] == CHROMATIC:
                return (f"{before.note_name.pretty} moves {how} to "
                        f"{here.note_name.pretty}, the {goal},{when}.")
            return (f"{before.note_name.pretty}, the {source}, moves {how} to "
                    f"{here.note_name.pretty}, the {goal},{when}.")
    return None


def _ending(context: Task, cell: Cell, pitches: Sequence[Pitch], landing: Pitch | None
            ) -> str:
    last = pitches[-1]
    midi = last.midi - (12 if cell.double else 0)
    name = last.note_name.pretty
    what = degree_name(context, cell.problem.slots[-1].span, last,
                       cell.device == "altered colours")
    if landing is None:
        place = place_name(context, cell.phrase.onsets[-1])
        return f"It comes to rest on {name}, the {what}, on {place}."
    target = landing.note_name.pretty
    if cell.problem.air:
        beats = cell.phrase.air / context.beat_quarter
        air = {Fraction(1, 2): "half a beat", Fraction(1): "a beat"}.get(
            beats, f"{float(beats):.3g} beats")
        return (f"It stops on {name}, the {what}, and leaves {air} of air before the melody "
                f"comes back on {target}.")
    away = abs(midi - landing.midi)
    how = "a half step" if away == 1 else "a step"
    side = "below" if midi < landing.midi else "above"
    if cell.device == "enclosure of a target" and cell.note == "landing":
        return f"The last note, {name}, is {how} {side} the landing note {target}."
    return f"Its last note, {name}, leads {how} {'up' if side == 'below' else 'down'} to the " \
           f"landing note {target}."


def _left(context: Task, cell: Cell, left: LeftHand) -> str:
    again = [s for s in left.strikes if s.again]
    kinds = list(dict.fromkeys(v.kind for v in left.voicings))
    body = f"Left hand below: {', then '.join(kinds[:2])}"
    if again:
        places = ", ".join(dict.fromkeys(place_name(context, s.onset_quarter)
                                         for s in again[:4]))
        line = set(cell.phrase.onsets)
        if not any(s.onset_quarter in line for s in again):
            return f"{body}; it answers on {places}, between the notes of the line."
        return f"{body}; it strikes again on {places}."
    return f"{body}, held under the line."
