"""Strokes whose keys follow from their neighbours': slides into a chord, thirds and diminished
chords that pass.

A led stroke is put into the plan before anything is searched; the chords around it are found
without it, and then its keys are plain.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.comp.rights import scrapes
from fillwright.fills.devices.comp.setting import CompSetting
from fillwright.fills.devices.comp.strokes import PlannedStroke
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.voicing.forms import compatible
from fillwright.fills.voicing.voicings import Voicing, half_step_off
from fillwright.rules.sound import MINOR_NINTH, RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, easy_name, spelled

__all__ = ["LED", "with_led"]

_FOUR = 4
_DIMINISHED = ("9", "11", "b13", "7")

Under = Callable[[PlannedStroke], tuple[tuple[Pitch, ...], int]]
"""The left hand's notes under a stroke, and the held note, -1 where it does not sound."""


def _sliding(setting: CompSetting, texture: Texture,
             right: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """The strokes, a short one before the last that has room for it: it slides in from a half
    step away."""
    if setting.in_beats:
        return list(right)
    grain = setting.beat / (3 if setting.slow or setting.task.meter.is_compound else 2)
    first = setting.opening if texture.held == "finger" else setting.leave
    for place in range(len(right) - 1, -1, -1):
        goal = right[place]
        start = goal.onset_quarter - grain
        before = right[place - 1].onset_quarter if place else first - setting.beat
        if setting.slow and setting.task.beat_at(goal.onset_quarter).denominator != 1:
            continue  # a triplet leads to a beat
        if setting.task.beat_at(start).denominator == 1:
            continue  # what is foreign to the chord stands on no beat
        if (goal.push or start <= setting.opening or start in setting.changes or start < first
                or start - before < min(setting.beat / 2, grain)
                or setting.instant(start) <= setting.instant(setting.opening)
                or setting.harmony_at(start) != goal.harmony):
            continue
        slide = replace(goal, onset_quarter=start, end_quarter=goal.onset_quarter, slides=True)
        earlier = [replace(s, end_quarter=min(s.end_quarter, start)) for s in right[:place]]
        return [*earlier, slide, *right[place:]]
    return list(right)


def _passing(setting: CompSetting, texture: Texture,
             right: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """The strokes, and between two of them over one chord one that steps from the first to the
    second, halfway, where half a beat or a beat is free on each side."""
    grains = (setting.beat / 2, setting.beat)
    for place, (one, two) in enumerate(pairwise(right)):
        step = (two.onset_quarter - one.onset_quarter) / 2
        if one.harmony != two.harmony or two.push or step not in grains:
            continue
        middle = one.onset_quarter + step
        beats = [setting.task.beat_at(place).denominator == 1
                 for place in (one.onset_quarter, middle)]
        if beats[1] and not beats[0]:
            continue  # what only passes stands on no beat between two off-beats
        passing = replace(one, onset_quarter=middle, end_quarter=two.onset_quarter, passes=True)
        return [*right[:place], replace(one, end_quarter=middle), passing, *right[place + 1:]]
    return list(right)


LED: MappingProxyType[str,
                      Callable[[CompSetting, Texture, Sequence[PlannedStroke]],
                               list[PlannedStroke]]] = (
    MappingProxyType({"slide": _sliding, "thirds": _passing, "diminished": _passing}))
"""A texture's motion: what puts the led strokes among the others."""


def with_led(right: Sequence[PlannedStroke], found: Sequence[Voicing], under: Under
             ) -> tuple[Voicing, ...] | None:
    """The voicings of all strokes; None where a led one would rub or finds no step.

    found   those of the strokes that are not led
    """
    done: list[Voicing] = []
    rest = list(found)
    for stroke in right:
        if not stroke.is_led:
            done.append(rest.pop(0))
            continue
        beside, held = under(stroke)
        keys = tuple(p.midi for p in beside)
        choices = ([half_step_off(rest[0], way, beside) for way in (-1, 1)] if stroke.slides
                   else _steps_between(stroke.harmony, done[-1], rest[0]))
        led = next((v for v in choices if _is_clear(v, keys, held, stroke.harmony)), None)
        if led is None:
            return None
        done.append(led)
    return tuple(done)


def _is_clear(voicing: Voicing, keys: tuple[int, ...], held: int, harmony: Harmony) -> bool:
    """Does nothing rub with the left hand's keys or the held note, or scrape along that, and lies
    it between them?"""
    midis = voicing.midis
    if midis[0] <= max(keys, default=0) or any(
            MINOR_NINTH.breaks(k, m) or m - k == 1 for k in keys for m in midis):
        return False
    return held < 0 or not any(
        RUB.breaks(m, held) or m >= held or scrapes(harmony, m % 12, held - m) for m in midis)


def _steps_between(harmony: Harmony, one: Voicing, two: Voicing) -> list[Voicing]:
    """The tones of the chord's scale between the keys of two shapes a third apart, voice by
    voice; between chords of four keys those of the diminished chord a half step below the root.
    None where a voice has none."""
    own = [d for d in harmony.tensions if d not in harmony.scale.degrees]  # the tune's
    in_scale = [d for d in harmony.scale.degrees if all(compatible((d, x)) for x in own)]
    degrees_between = in_scale if len(one.midis) < _FOUR else _DIMINISHED
    scale = {degree_pitch_class(d): d for d in degrees_between}
    pitches, degrees = [], []
    for low, high in zip(one.midis, two.midis, strict=True):
        between = [key for key in range(min(low, high) + 1, max(low, high))
                   if harmony.symbol.relative(key % 12) in scale]
        if len(between) != 1:
            return []
        degree = scale[harmony.symbol.relative(between[0] % 12)]
        pitches.append(spelled(easy_name(harmony.symbol.name_of(degree)), between[0]))
        degrees.append(degree)
    return [Voicing("passing", tuple(degrees), tuple(pitches), one.left)]
