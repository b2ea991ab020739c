"""Why a comping fill works, said in plain words from what was found."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.passages import counted, degree_word, joined, note_names
from fillwright.fills.devices.comp.search import FoundHands
from fillwright.fills.devices.comp.strokes import PlannedStroke, StrokePlan
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.rhythm.patterns import (
    CELL,
    DOTTED,
    MIXED,
    OFF_BEATS,
    ONE_OFF,
    PAIR,
)
from fillwright.fills.situation import Task
from fillwright.fills.voicing.forms import adds_sixth
from fillwright.fills.voicing.voicings import Voicing
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch
from fillwright.theory.spoken import ordinal

__all__ = ["dotted_pair", "reasons_for", "rhythm_name"]

_MOST = 4


def reasons_for(task: Task, texture: Texture, plan: StrokePlan, found: FoundHands, special: str
                ) -> tuple[str, ...]:
    """One to four short sentences, all true of these notes.

    special   what the texture says of its own idea, "" where it has none
    """
    # (rank, sentence) in the order of printing; the lowest ranks stay
    said = [
        (0, _voicing_sentence(task, texture, plan, found)),
        (1, special),
        (3, _guide_sentence(task, plan, found)),
        (2, _push_sentence(task, plan, found) or _rhythm_sentence(task, texture, plan)),
        (4, _held_sentence(task, plan)),
    ]
    said = [(rank, text) for rank, text in said if text]
    kept = sorted(rank for rank, _ in said)[:_MOST]
    return tuple(text for rank, text in said if rank in kept)


def beat_word(task: Task, offset: Fraction) -> str:
    """The place in the bar as it is counted."""
    return counted(task.beat_at(offset), compound=task.meter.is_compound)


def _telling_stroke(texture: Texture, plan: StrokePlan, found: FoundHands) -> tuple[PlannedStroke,
                                                                                    Voicing, str]:
    """The stroke that shows the idea, and who plays it."""
    if plan.right and texture.mode != "bass":
        first = next(i for i, s in enumerate(plan.right) if not s.is_led)
        return plan.right[first], found.right[first], (
            "Both hands play" if plan.both else "The right hand plays")
    index = next((i for i, s in enumerate(plan.left) if s.family == texture.left
                  and (i > 0 or texture.mode == "left")), 0)
    if texture.mode in ("bass", "tenor"):
        index = 0
    return plan.left[index], found.left[index], "The left hand plays"


def _voicing_sentence(task: Task, texture: Texture, plan: StrokePlan, found: FoundHands) -> str:
    stroke, voicing, who = _telling_stroke(texture, plan, found)
    degrees = " ".join("bass" if d == "bass" else degree_word(d) for d in voicing.degrees)
    text = f"{who} {note_names(voicing.pitches)} ({degrees} of {stroke.harmony.symbol.pretty}"
    sung = stroke.harmony.is_sung_minor and stroke.harmony.third in voicing.degrees
    text += ", with the third that the tune sings)" if sung else ")"
    left_out = _left_out(task, texture, plan, found, stroke, voicing)
    return text + (f"; {left_out}." if left_out else ".")


def _left_out(task: Task, texture: Texture, plan: StrokePlan, found: FoundHands,
              stroke: PlannedStroke,
              voicing: Voicing) -> str:
    harmony = stroke.harmony
    present = {(m - harmony.root.pitch_class) % 12 for m in voicing.midis}
    sounds = stroke.onset_quarter < plan.held.until_quarter
    if "7" in harmony.tones and 11 not in present and 9 in present and (
            sounds and task.held_midi is not None
            and task.held_midi % 12 == harmony.root.pitch_class):
        return "the sixth stands in for the major seventh, which would rub with the melody"
    if 0 not in present and plan.left[0].pedal is not None:
        return ""  # another key is the bass, which is said by itself
    if 0 not in present:
        if any(s.harmony == harmony and any(m % 12 == harmony.root.pitch_class for m in v.midis)
               for s, v in zip(plan.right, found.right, strict=True)):
            return ""  # the right hand has it at another stroke
        struck = any(s.harmony == harmony and s.onset_quarter <= stroke.onset_quarter
                     and any(m % 12 == harmony.root.pitch_class for m in v.midis)
                     for s, v in zip(plan.left, found.left, strict=True))
        if struck:
            return f"the root is left out, the left hand has struck {harmony.root.pretty}"
        if any(s.harmony == harmony and s.onset_quarter > stroke.onset_quarter
               and (v.midis[0] - harmony.root.pitch_class) % 12 == 0
               for s, v in zip(plan.left, found.left, strict=True)):
            return f"the left hand follows with the root, {harmony.root.pretty}"
        if sounds and task.held_midi is not None and (
                task.held_midi % 12 == harmony.root.pitch_class):
            return "the melody has the root"
        return "the root is left to the ear"
    if "11" in harmony.symbol.degrees and "3" in harmony.tones and 4 in present:
        return "the eleventh is left out, it would rub with the third"
    third = harmony.third
    everywhere = present | {(m - harmony.root.pitch_class) % 12 for s, v in
                            zip(plan.left, found.left, strict=True)
                            if s.onset_quarter <= stroke.onset_quarter < s.end_quarter
                            for m in v.midis}
    if sounds and task.held_midi is not None:
        everywhere.add(harmony.symbol.relative(task.held_midi % 12))
    if (third is not None and degree_pitch_class(third) in present and 7 not in everywhere
            and harmony.symbol.seventh not in (None, "6") and "5" in harmony.tones):
        return "the fifth is left out, it tells nothing of the chord's kind"
    return ""


def _guide_sentence(task: Task, plan: StrokePlan, found: FoundHands) -> str:
    """Where third and seventh are, and where they go at the first change of chord."""
    rows = list(zip(plan.right or plan.left, found.right or found.left, strict=True))
    for (one, first), (two, second) in pairwise(rows):
        if one.harmony == two.harmony or _another_between(task, plan, one, two):
            continue
        targets = {two.harmony.symbol.name_of(d).pitch_class
                   for d in (two.harmony.third, two.harmony.seventh) if d is not None}
        kept = [p for p in second.pitches if p.midi in first.midis]
        steps = [(a, b) for a, b in _voices(first, second)
                 if 0 < abs(a.midi - b.midi) <= 2 and a.midi not in second.midis
                 and b.midi not in first.midis]
        parts = []
        at_home = [p for p in kept if two.harmony.is_tone(p.pitch_class)]
        if at_home:
            names = [_name_that_stays(first, p) for p in at_home]
            parts.append(f"{joined(names)} {'stays' if len(names) == 1 else 'stay'}")
        parts += [_colour_that_stays(one.harmony, two.harmony, first, p) for p in kept
                  if p not in at_home]
        if steps:
            a, b = min(steps, key=lambda pair: (pair[1].pitch_class not in targets,
                                                abs(pair[0].midi - pair[1].midi),
                                                pair[0].midi))
            what = _guide_word(two.harmony, b)
            size = "half " if abs(a.midi - b.midi) == 1 else ""
            parts.append(f"{a.note_name.pretty} moves by {size}step to "
                         f"{b.note_name.pretty}{what}")
        if parts:
            return (f"From {one.harmony.symbol.pretty} to {two.harmony.symbol.pretty} "
                    f"{joined(parts)}.")
    return _guides_of(task, plan, found)


def _another_between(task: Task, plan: StrokePlan, one: PlannedStroke, two: PlannedStroke
                     ) -> bool:
    """Does a third chord come between two strokes, whoever plays it?"""
    heard = [*((s.onset_quarter, s.harmony) for s in (*plan.left, *plan.right)),
             *((s.onset_quarter, s.harmony) for s in task.spans)]
    return any(one.onset_quarter < onset < two.onset_quarter
               and harmony not in (one.harmony, two.harmony) for onset, harmony in heard)


def _colour_that_stays(one: Harmony, two: Harmony, before: Voicing, pitch: Pitch) -> str:
    """What a key that is no tone of the next chord is over it."""
    degree = two.degree_of(pitch.pitch_class)
    name = _name_that_stays(before, pitch)
    same = one.root == two.root  # there it has been what it is
    return f"{name} stays as a colour" if degree is None or same else (
        f"{name} becomes its {degree_word(degree)}")


def _name_that_stays(before: Voicing, pitch: Pitch) -> str:
    """The name that the page has, where a key has another one in the next chord."""
    name = next(p for p in before.pitches if p.midi == pitch.midi).note_name
    return name.pretty if name == pitch.note_name else (
        f"{name.pretty} (now {pitch.note_name.pretty})")


def _voices(one: Voicing, two: Voicing) -> list[tuple[Pitch, Pitch]]:
    """Which key of a chord goes to which of the next, as the ear follows them: voice by voice,
    or the outer ones where their numbers differ."""
    if len(one.pitches) == len(two.pitches):
        return list(zip(one.pitches, two.pitches, strict=True))
    return [(one.pitches[0], two.pitches[0]), (one.pitches[-1], two.pitches[-1])]


def _guide_word(harmony: Harmony, pitch: Pitch) -> str:
    for degree in (harmony.third, harmony.seventh):
        if degree is not None and harmony.symbol.name_of(degree).pitch_class == (
                pitch.pitch_class):
            return f", its {ordinal(degree)}"
    return ""


def _guides_of(task: Task, plan: StrokePlan, found: FoundHands) -> str:
    """The guide tones of the first chord, by name."""
    harmony = task.spans[0].harmony
    if adds_sixth(harmony):
        return ""  # a triad is told by its fifth; the sixth is a colour
    classes = {m % 12 for s, v in (*zip(plan.left, found.left, strict=True),
                                   *zip(plan.right, found.right, strict=True))
               if s.harmony == harmony for m in v.midis}
    words = []
    for degree in (harmony.third, harmony.seventh):
        if degree is None:
            continue
        name = harmony.symbol.name_of(degree)
        word = ordinal(degree)
        if harmony.is_sung_minor and degree == harmony.third:
            word = "the tune's third"
        elif degree not in harmony.symbol.degrees:  # the sheet names a bare triad
            word = f"added {word}"
        held = task.held
        if name.pitch_class in classes:
            words.append(f"{name.pretty} ({word})")
        elif held is not None and held.pitch.pitch_class == name.pitch_class:
            words.append(f"{name.pretty} ({word}, in the melody)")
    if len(words) != 2:
        return ""
    return f"Guide tones of {harmony.symbol.pretty}: {joined(words)}."


def _is_heard_early(plan: StrokePlan, found: FoundHands, push: PlannedStroke) -> bool:
    """Does a push strike a key that the chord before it did not have?"""
    rows = (*zip(plan.left, found.left, strict=True), *zip(plan.right, found.right, strict=True))
    before = [(s, v) for s, v in rows if s.onset_quarter < push.onset_quarter]
    if not before:
        return True
    last = max(before, key=lambda row: row[0].onset_quarter)[0].harmony
    old = {m for s, v in before if s.harmony == last for m in v.midis}
    return any(m not in old for s, v in rows if s.onset_quarter == push.onset_quarter
               for m in v.midis)


def _push_sentence(task: Task, plan: StrokePlan, found: FoundHands) -> str:
    pushes = {s.onset_quarter: s for s in (*plan.left, *plan.right)
              if s.push and _is_heard_early(plan, found, s)}
    said = [f"the chord on {beat_word(task, onset)} takes {push.harmony.symbol.pretty}"
            + (", the landing's chord," if push.over else "")
            for onset, push in sorted(pushes.items())]
    if not said:
        return ""
    text = joined(said).removesuffix(",")
    kind = "a push" if len(said) == 1 else "pushes"
    comma = "," if said[-1].endswith(",") else ""
    return f"{text[0].upper()}{text[1:]}{comma} early: {kind}."


def _rhythm_sentence(task: Task, texture: Texture, plan: StrokePlan) -> str:
    """Where the hits are, when none of them is a push."""
    onsets = tuple(sorted({*plan.rhythm.onsets, *(
        s.onset_quarter for s in plan.right if s.is_led)})) if plan.rhythm.onsets else ()
    if not onsets or texture.time:
        return ""
    opening = plan.left[0].onset_quarter
    if plan.rhythm.opening_quarter:
        return (f"The left hand waits for {beat_word(task, opening)}, so that the melody note "
                "is heard alone first.")
    if onsets == (opening,):
        ends = {s.end_quarter for s in (*plan.left, *plan.right)}
        return "One chord is struck and rings." if len(ends) == 1 else ""
    dotted = dotted_pair(task, plan)
    if dotted is not None:
        return (f"The strokes on {beat_word(task, dotted[0])} and "
                f"{beat_word(task, dotted[1])} lie a dotted quarter apart.")
    words = _places(task, onsets)
    one = len(onsets) == 1
    if all((task.beat_at(task.onset_quarter + o)).denominator == 1 for o in onsets):
        return f"The hit{'' if one else 's'} on {words} fall{'s' if one else ''} on the beat."
    if all((task.beat_at(task.onset_quarter + o)).denominator > 1 for o in onsets):
        return (f"The hit{'' if one else 's'} on {words} fall{'s' if one else ''} between the "
                "beats.")
    return f"The hits on {words} mix beat and off-beat."


def dotted_pair(task: Task, plan: StrokePlan) -> tuple[Fraction, Fraction] | None:
    """Two strokes of one hand, the first on a beat, a dotted quarter apart with nothing struck
    between them; None where there are none: a figure of one hand is what is counted so."""
    if task.meter.is_compound:
        return None
    struck = sorted({s.onset_quarter for s in (*plan.left, *plan.right)})
    for hand in (plan.right, plan.left):
        own = {s.onset_quarter for s in hand}
        for a, b in pairwise(struck):
            if {a, b} <= own and 2 * (b - a) == 3 * task.beat_quarter and (
                    task.beat_at(a).denominator == 1):
                return a, b
    return None


def rhythm_name(task: Task, plan: StrokePlan) -> str:
    """What the rhythm of a fill is called: a dotted figure or a cell that comes back in another
    place only where one is heard."""
    name = plan.rhythm.name
    led = any(s.is_led for s in plan.right)  # struck besides the rhythm's own hits
    if led or name == ONE_OFF or (name == DOTTED and dotted_pair(task, plan) is None) or (
            name == CELL and not _cell_returns(task, plan)):
        return _by_strokes(task, plan)
    return name


def _cell_returns(task: Task, plan: StrokePlan) -> bool:
    """Is a cell of two hits heard that comes back half a beat off its place? One hand strikes all
    of it, and what the other adds does not make its two bars alike."""
    hits = {*plan.rhythm.onsets}
    own = next((hand for hand in (plan.right, plan.left)
                if hits <= {s.onset_quarter for s in hand}), None)
    bars: dict[int, set[Fraction]] = {}
    for onset in {s.onset_quarter for s in (*plan.left, *plan.right)}:
        bar = task.bar_count_at(task.onset_quarter + onset)
        bars.setdefault(bar, set()).add(task.beat_at(onset))
    rows = [bars[number] for number in sorted(bars)]
    return own is not None and all(a != b for a, b in pairwise(rows))


def _by_strokes(task: Task, plan: StrokePlan) -> str:
    """A rhythm by all that is struck, in whichever hand."""
    onsets = sorted({s.onset_quarter for s in (*plan.left, *plan.right)})
    off = [o for o in onsets if task.beat_at(o).denominator > 1]
    if len(off) < 2:
        return ONE_OFF if off and len(plan.rhythm.onsets) == 1 else MIXED
    if any(o > task.onset_quarter and o not in off for o in onsets):
        return MIXED
    return PAIR if len(off) == 2 and off[1] - off[0] == task.beat_quarter else OFF_BEATS


_BARS = ("the next bar", "the bar after that", "the fourth bar")


def _places(task: Task, onsets: Sequence[Fraction]) -> str:
    """The counts of some onsets, bar by bar: ``"2 and 4, then on 2 in the next bar,"``."""
    rows: dict[int, list[str]] = {}
    for onset in onsets:
        bar = task.bar_count_at(task.onset_quarter + onset)
        rows.setdefault(bar, []).append(beat_word(task, onset))
    (first, words), *rest = sorted(rows.items())
    text = joined(words)
    if not rest:
        return text
    for bar, words in rest:
        later = bar - first - 1
        text += f", then on {joined(words)} in {_BARS[min(later, len(_BARS) - 1)]}"
    return text + ","


_NUMBERED = ("first", "second", "third", "fourth", "fifth")


def _in_which_bar(task: Task, offset: Fraction) -> str:
    """The bar of a place, where the gap goes over more than one: a beat comes in each of them."""
    if len(task.bars_inside()) < 2:
        return ""
    first, bar = task.bar_count_at(task.onset_quarter), task.bar_count_at(offset)
    return f" of the {_NUMBERED[bar - first]} bar" if bar - first < len(_NUMBERED) else ""


def _held_sentence(task: Task, plan: StrokePlan) -> str:
    held = task.held
    if held is None:
        return ""
    name = held.pitch.note_name.pretty
    until = plan.held.until_quarter - task.onset_quarter
    where = beat_word(task, until) + _in_which_bar(task, until)
    if plan.held.kept == "finger":
        last = max(min(s.end_quarter, task.end_quarter) for s in (*plan.left, *plan.right))
        if until >= last:
            return f"The right hand keeps {name} down, everything else stays below it."
        return f"The right hand keeps {name} down until {where}, as it is written."
    if plan.held.kept == "pedal":
        if plan.held.until_quarter < min(held.end_quarter, task.end_quarter):
            return f"The pedal keeps {name} sounding until {where}."
        return f"The pedal keeps {name} sounding."
    if plan.held.until_quarter == held.end_quarter:
        return f"{name} is over on {where}, as it is written."
    return f"{name} has been heard when the right hand leaves it on {where}."
