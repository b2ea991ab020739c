"""From a texture and a rhythm to strokes of each hand.

A `Stroke` knows when it is struck, how long it lasts and over which chord; which keys it
takes is found later. The left hand always strikes the harmony under the held note first,
and again where the chord changes, unless a push has taken the change already.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from fillwright.fills.devices.comp.textures import Texture
from fillwright.fills.draft import HeldPlan
from fillwright.fills.finish import speak_quarter
from fillwright.fills.rhythm.patterns import Frame, Hit, Rhythm, frame_of, generate
from fillwright.fills.situation import Task
from fillwright.fills.voicing.forms import bass_degree, is_inversion
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["LAST_STEP", "Plan", "Setting", "Stroke", "bed_quarter", "held_end_quarter", "plan_of",
           "push_places", "rhythms_for", "same_sound", "setting_of"]

LEAST_CHANGE_SEC = 0.28
"""Chords that last less are not struck one by one (common practice: a quarter at 210)."""

LAST_STEP = "with a last step"
"""Name of a walk whose last bass note lies a half or whole step from the landing's bass."""

LEAST_STROKES_SEC = 0.15
"""The left hand does not strike roots closer together (common practice)."""


LEAST_STRIDE_SEC = 0.28
"""Nor does it go from a low root to a chord in less (common practice: a quarter at 210)."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One or more keys struck by one hand (or both, see `Plan.both`). Offsets count from the
    gap's onset.

    family   what the left hand plays, a key of `LEFT_KINDS`; "" for the right hand
    push     it takes a chord before its time; `over` says that this is the landing's chord
    alone    nothing else tells this chord: the stroke has to hold its third and seventh
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    family: str = ""
    push: bool = False
    over: bool = False
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """All strokes of a fill, in order of time by hand.

    both    the strokes of `right` take both hands
    """

    left: tuple[Stroke, ...]
    right: tuple[Stroke, ...]
    both: bool
    held: HeldPlan
    rhythm: Rhythm


@dataclass(frozen=True, slots=True)
class Setting:
    """What all plans of a gap share; offsets count from the gap's onset.

    bed        where the harmony under the held note is first struck
    changes    where the chord changes after that
    bar_lines  where bars begin after that
    held_end   where the held note stops sounding as written
    speak      where the right hand may leave the held note
    """

    context: Task
    frame: Frame
    bed: Fraction
    changes: tuple[Fraction, ...]
    bar_lines: tuple[Fraction, ...]
    held_end: Fraction
    speak: Fraction


def setting_of(context: Task) -> Setting:
    """Measure a gap once for all textures."""
    bed = bed_quarter(context)
    start = context.onset_quarter
    lines = tuple(bar.onset_quarter - start for bar in context.bars_inside()
                  if bar.onset_quarter > start + bed)
    return Setting(context, frame_of(context), bed, tuple(_change_offsets(context, bed)), lines,
                   held_end_quarter(context), speak_quarter(context))


def held_end_quarter(context: Task) -> Fraction:
    """Offset at which the held note stops sounding as written, at most the gap's end."""
    held = context.held
    if held is None:
        return Fraction(0)
    return min(held.end_quarter, context.end_quarter) - context.onset_quarter


def bed_quarter(context: Task) -> Fraction:
    """Offset at which the harmony under the held note is first struck.

    With the melody note; where that comes just before the bar line and only a scrap of the
    old chord is left, on the coming chord's own place; a beginner waits for the bar line
    whenever the melody came early.
    """
    start = context.onset_quarter
    beat = context.beat_quarter
    spans = context.spans
    if len(spans) > 1 and spans[0].duration_quarter < beat:
        return spans[1].onset_quarter - start
    if context.player.level.comp.waits_for_bar and context.beat_at(start).denominator != 1:
        bar = context.bar_at(start)
        if bar.end_quarter - start < beat and bar.end_quarter < context.end_quarter:
            return bar.end_quarter - start
    return Fraction(0)


def _change_offsets(context: Task, bed: Fraction) -> list[Fraction]:
    """Where the chord changes after the bed; chords too quick to strike are left out."""
    offsets = []
    last = bed
    for span in context.spans[1:]:
        offset = span.onset_quarter - context.onset_quarter
        quick = context.seconds(span.duration_quarter) < LEAST_CHANGE_SEC
        if offset > last and not quick and context.seconds(offset - last) >= LEAST_STROKES_SEC:
            offsets.append(offset)
            last = offset
    return offsets


def same_sound(one: Harmony, other: Harmony) -> bool:
    """Are these the same tones over the same bass (C and C6 are for a player)?"""
    def heard(harmony: Harmony) -> tuple[int, int, frozenset[int]]:
        root = harmony.root.pitch_class
        return ((harmony.symbol.bass or harmony.root).pitch_class, root,
                frozenset(degree_pitch_class(d) for d in harmony.tones))
    return heard(one) == heard(other)


def push_places(context: Task, held: str) -> tuple[Fraction, ...]:
    """Offsets of chord changes that may be taken early.

    The melody note that still sounds must be at home in the coming chord, and the coming
    chord must be another one than the chord that sounds already.
    """
    start = context.onset_quarter
    sounding = context.held.pitch.pitch_class if context.held is not None else None
    end = held_end_quarter(context)
    places = []
    for span in context.spans[1:]:
        offset = span.onset_quarter - start
        if (sounding is not None and held != "released" and offset <= end
                and not span.harmony.takes(sounding)):
            continue
        places.append(offset)
    landing = context.landing
    harmony = context.landing_harmony
    if (landing is not None and harmony is not None
            and not same_sound(context.spans[-1].harmony, harmony)
            and harmony.takes(landing.pitch.pitch_class)
            and (held == "released" or sounding is None
                 or end < context.duration_quarter or harmony.takes(sounding))):
        places.append(context.duration_quarter)
    return tuple(places)


def rhythms_for(setting: Setting, texture: Texture, limit: int = 12) -> tuple[Rhythm, ...]:
    """Ranked rhythms that suit a texture."""
    context, bed = setting.context, setting.bed
    length = context.duration_quarter
    beat = context.beat_quarter
    if texture.mode == "bass":
        return _walking_rhythms(setting)
    eighth = beat / (3 if context.meter.is_compound else 2)
    right = texture.mode in ("over", "both", "answer", "together")
    # the left hand alone does not stutter: a beat between its first stroke and the next
    first = bed + (eighth if right else beat)
    if right and texture.held != "finger" and context.held is not None:
        first = max(first, setting.speak)
    last = length - (beat if texture.held == "pedal" else eighth)
    if context.landing is None or (right and context.seconds(eighth) < 0.24):
        last = length - beat
    barred = setting.changes if texture.mode == "stride" else ()
    found = generate(setting.frame, first=first, last=last, barred=barred,
                     pushes=push_places(context, texture.held), limit=limit)
    least = 2 if texture.motion or texture.mode == "answer" or texture.place in (
        "rising", "falling") else 1
    found = tuple(r for r in found if len(r.hits) >= least)
    if texture.mode == "both":  # both hands do not strike everything together for long
        most = 2 if 2 * length < 3 * context.meter.length_quarter else 3
        found = tuple(r for r in found if len(r.hits) <= most)
    if setting.frame.style == "ballad":
        found = tuple(r for r in found if len({bed, *setting.changes, *r.onsets})
                      >= _least_strokes(length / beat))
    if texture.held == "pedal":
        found = tuple(r for r in found if all(h.duration_quarter >= beat for h in r.hits))
    if found:
        return found
    # nothing but the first stroke fits
    return (Rhythm((), "held", ()),) if texture.mode == "left" else ()


def _least_strokes(beats: Fraction) -> int:
    """How often something is struck in a ballad's gap, so that no chord stands alone."""
    return 1 if beats < 4 else 3 if beats < 7 else 4


def _walking_rhythms(setting: Setting) -> tuple[Rhythm, ...]:
    """Beats for a left hand that walks: in two, in two with a last step, in four."""
    context, bed = setting.context, setting.bed
    beat, length = context.beat_quarter, context.duration_quarter
    start = context.onset_quarter
    first = -((context.beat_at(start + bed) - 1) % 1) % 1 * beat + bed
    beats = []
    place = first + beat  # the first note has a beat of its own
    while place < length:
        beats.append(place)
        place += beat
    if not beats:
        return ()
    changes = setting.changes
    even = [b for b in beats if (context.beat_at(start + b) - 1) % 2 == 0 or b in changes]
    rows = {"in two": even, f"in two, {LAST_STEP}": [*even, beats[-1]], "walking": beats}
    if context.meter.length_quarter == 3:
        rows = {LAST_STEP: [*(b for b in beats if context.beat_at(start + b) == 1),
                            beats[-1]],
                "walking": beats}
    if context.is_fast or len(beats) < 2:
        rows.pop("walking", None)
    if context.landing_harmony is None:
        rows = {name: row for name, row in rows.items() if LAST_STEP not in name}
    found: list[Rhythm] = []
    for cost, (name, row) in enumerate(rows.items()):
        onsets = sorted(set(row))
        hits = tuple(Hit(a, b - a) for a, b in pairwise([*onsets, length]))
        if hits and all(r.hits != hits for r in found):
            found.append(Rhythm(hits, name, (("walk", cost),) if cost else ()))
    return tuple(found)


def _harmony(context: Task, hit: Hit) -> tuple[Harmony, bool]:
    """The chord of a hit, and whether that is the landing's."""
    onset = context.onset_quarter + hit.onset_quarter
    here = context.span_at(onset)
    if not hit.anticipates:
        return here.harmony, False
    for span in context.spans:
        if span.onset_quarter > onset:
            return span.harmony, False
    landing = context.landing_harmony
    return (here.harmony, False) if landing is None else (landing, True)


def plan_of(setting: Setting, texture: Texture, rhythm: Rhythm) -> Plan | None:
    """The strokes of a fill, or None where the texture makes no sense here."""
    context, bed, changes = setting.context, setting.bed, setting.changes
    length = context.duration_quarter
    start = context.onset_quarter
    hits = [(hit, *_harmony(context, hit)) for hit in rhythm.hits]
    pushed = {_next_change(context, hit): over for hit, _, over in hits if hit.anticipates}
    if texture.mode == "stride" and any(
            is_inversion(s.harmony) or (texture.left != "guides" and bass_degree(s.harmony))
            for s in context.spans):
        return None  # nobody would play the root of an inversion
    if texture.mode == "bass" and any(bass_degree(s.harmony) for s in context.spans):
        return None  # the printed bass stays
    if texture.mode == "stride" and all(over for _, _, over in hits):
        return None
    roots = {"stride": "root", "both": "root", "bass": f"{texture.left} root"}.get(
        texture.mode, texture.left)
    left: list[Stroke] = [Stroke(bed, length, context.span_at(start + bed).harmony, roots)]
    right: list[Stroke] = []
    for order, (hit, harmony, over) in enumerate(hits):
        stroke = Stroke(hit.onset_quarter, hit.end_quarter, harmony, "", hit.anticipates, over)
        lefts = texture.mode in ("left", "stride") or (texture.mode == "answer" and order % 2)
        if texture.mode == "bass":
            changed = hit.onset_quarter in changes
            left.append(replace(stroke, family=roots if changed else texture.left))
        elif (lefts and not over) or texture.mode in ("left", "stride"):
            rooted = (over and texture.mode == "stride"
                      and not context.player.level.comp.bare_landing)
            left.append(replace(stroke, family="shell" if rooted else texture.left))
        else:
            right.append(replace(stroke, end_quarter=_until_change(context, stroke)))
            if texture.mode == "together" or (over and texture.mode != "both"):
                left.append(replace(stroke, family=roots))
    if texture.mode == "bass":
        right = _kept_guides(setting)
    struck = {s.onset_quarter for s in left}
    for change in changes:
        if change in struck or (change in pushed and texture.mode == "left"):
            continue
        left.append(Stroke(change, length, context.span_at(start + change).harmony, roots))
    if texture.mode in ("over", "both", "answer"):
        for offset in setting.bar_lines:
            if all(abs(offset - s.onset_quarter) >= 2 * context.beat_quarter for s in left):
                left.append(Stroke(offset, length, context.span_at(start + offset).harmony,
                                   roots))
    left.sort(key=lambda s: s.onset_quarter)
    left = _telling(texture, left, right)
    if texture.mode == "stride" and left[0].family == "shell":
        return None  # no chord would follow the first root
    if texture.mode == "stride" and any(
            a.family != b.family
            and context.seconds(b.onset_quarter - a.onset_quarter) < LEAST_STRIDE_SEC
            for a, b in pairwise(left)):
        return None  # from a root to a chord the hand needs time
    if texture.mode == "answer" and any(
            b.onset_quarter - a.onset_quarter < context.beat_quarter
            and a.harmony == b.harmony for a, b in pairwise(left)):
        return None  # the left hand would stutter
    left = _lengths(context, texture, left, right)
    if texture.motion == "inner":
        right = [replace(s, end_quarter=right[i + 1].onset_quarter if i + 1 < len(right)
                         else length) for i, s in enumerate(right)]
    until = _until(setting, texture, right)
    if until is None:
        return None
    if texture.motion and not any(a.harmony == b.harmony for a, b in pairwise(right)):
        return None  # nothing moves over one chord
    return Plan(tuple(left), tuple(right), texture.mode == "both", until, rhythm)


def _until_change(context: Task, stroke: Stroke) -> Fraction:
    """Where a right-hand chord ends: at the latest where another chord than its own comes."""
    offsets = (span.onset_quarter - context.onset_quarter for span in context.spans
               if span.harmony != stroke.harmony)
    return min([stroke.end_quarter, *(o for o in offsets if o > stroke.onset_quarter)])


def _telling(texture: Texture, left: list[Stroke], right: list[Stroke]) -> list[Stroke]:
    """Where no other stroke tells a chord, the left hand plays a shell instead of a root."""
    chords = list(right)
    if texture.mode == "stride":
        chords += [s for s in left if s.family == texture.left]
    done: list[Stroke] = []
    for stroke in left:
        told = any(other.harmony == stroke.harmony and other is not stroke for other in chords)
        if texture.mode in ("left", "bass") or told or stroke.over:
            done.append(replace(stroke, alone=texture.mode == "left" and not stroke.over))
        elif stroke in chords:
            done.append(replace(stroke, alone=texture.mode == "stride"))
        else:
            done.append(replace(stroke, family="shell", alone=True))
    return done


def _kept_guides(setting: Setting) -> list[Stroke]:
    """Guide tones that the right hand lays under the held note, once for each chord."""
    context, bed, changes = setting.context, setting.bed, setting.changes
    beat, length = context.beat_quarter, min(setting.held_end, context.duration_quarter)
    strokes = []
    for at, stop in pairwise([bed, *changes, length]):
        onset = at
        if at == bed:
            whole = context.meter.is_compound or setting.frame.style == "ballad"
            onset = at + (beat if whole else beat / 2)
        if onset < stop <= length:
            harmony = context.span_at(context.onset_quarter + at).harmony
            strokes.append(Stroke(onset, stop, harmony))
    return strokes


def _next_change(context: Task, hit: Hit) -> Fraction:
    onset = context.onset_quarter + hit.onset_quarter
    return next((s.onset_quarter for s in context.spans if s.onset_quarter > onset),
                context.end_quarter) - context.onset_quarter


def _lengths(context: Task, texture: Texture, left: list[Stroke], right: list[Stroke]
             ) -> list[Stroke]:
    """The left hand rings until its next stroke, or until the other hand takes a new chord;
    a hit of the rhythm keeps its own length."""
    length = context.duration_quarter
    done: list[Stroke] = []
    for index, stroke in enumerate(left):
        stop = left[index + 1].onset_quarter if index + 1 < len(left) else length
        for other in right:
            if other.onset_quarter > stroke.onset_quarter and other.harmony != stroke.harmony:
                stop = min(stop, other.onset_quarter)
        if stroke.over:  # the push rings over the landing
            stop = length + context.beat_quarter / 2
        elif (texture.mode in ("left", "stride", "answer", "together")
              and stroke.end_quarter < length):
            stop = min(stop, stroke.end_quarter)
        done.append(replace(stroke, end_quarter=stop))
    return done


def _until(setting: Setting, texture: Texture, right: list[Stroke]) -> HeldPlan | None:
    """What becomes of the held note."""
    context = setting.context
    start = context.onset_quarter
    if context.held is None:
        return HeldPlan("released", start)
    end = setting.held_end
    if texture.held == "finger":
        return HeldPlan("finger", start + end)
    until = end
    if right and texture.held == "released":
        until = min(end, right[0].onset_quarter)
    if texture.held == "pedal":
        first = context.spans[1].onset_quarter - start if len(context.spans) > 1 else end
        until = min(end, first)
        if not right or right[0].onset_quarter >= until:
            return None  # the pedal would keep nothing
    if until < min(setting.speak, end):
        return None
    return HeldPlan(texture.held, start + until)
