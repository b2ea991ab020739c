"""The rhythms that suit a texture in a gap."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.inner import MovingVoice, line_fits, longest
from fillwright.fills.devices.comp.setting import CompSetting, is_strong, push_places
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.rhythm.grid import Hit, Rhythm, RhythmWindow
from fillwright.fills.rhythm.patterns import NAMES, generate
from fillwright.fills.rhythm.slow import BLOOM, LATE, UPBEAT, slow_rhythms
from fillwright.fills.rhythm.weighing import WEIGHTS

__all__ = ["RHYTHM_NAMES", "WALKING", "rhythms_for"]

LAST_STEP = "with a last step"
"""Name of a walk whose last bass note lies a half or whole step from the landing's bass."""

LATE_STEP = f"{LAST_STEP} off the beat"
"""The same where a slow beat has room for it in its second half."""

STRIDE = "low and high in turn"
"""Name of the stride's time."""

ECHO = "in its rhythm"
"""Name of the rhythm of an echo."""

ECHOED = (2, 4)
"""Least and greatest number of melody notes in an echo."""

ECHO_BEATS = 3
"""Felt beats from the first to the last of them, at most."""

RISING, RISING_FAST = "in eighths", "in sixteenths"
"""Names of a chord that rises through both hands."""

RISEN = 4
"""Keys of it after the first."""

LEAST_RISE_SEC = 0.16
"""The keys of a chord that rises come no faster (common practice)."""

HELD, IN_TWO, WALKING = "held", "in two", "walking"

STEPS = MappingProxyType({Fraction(1, 2): "two steps a beat", Fraction(1): "a step a beat",
                          Fraction(3, 2): "dotted steps", Fraction(2): "a step every two beats",
                          Fraction(3): "a step every three beats"})
"""Names of the time of a moving voice, by the felt beats from step to step."""

STEPS_COST = MappingProxyType({Fraction(1, 2): 2, Fraction(1): 1, Fraction(3, 2): 0,
                               Fraction(2): 0, Fraction(3): 2})
"""What it costs: a slow step is heard best, an even one that fills the bar is dull (design
choice)."""

_DOTTED = Fraction(3, 2)

PASSING = ("thirds", "diminished")
"""Motions in which a chord passes halfway between two strokes, the first of them on a beat."""

LONG_TAIL = 3
"""Cost of a felt beat that the last tone of a moving voice stands beyond two, or beyond its step
(design choice)."""

TURNED = 3
"""Cost of a moving voice that comes back to where it began: it had no goal (design choice)."""

RHYTHM_NAMES = (*NAMES, BLOOM, LATE, UPBEAT, STRIDE, ECHO, RISING, RISING_FAST, HELD, IN_TWO,
                WALKING, LAST_STEP, LATE_STEP, f"{IN_TWO}, {LAST_STEP}", *STEPS.values())
"""All that a rhythm of comping may be called."""

LEAST_LEAVE_SEC = 0.2
"""The right hand does not come from elsewhere to the landing in less (common practice) ..."""

LEAST_STAY_SEC = 0.14
"""... nor strike under the note it keeps."""

LATE_COST = 2
"""What it costs that the left hand waits for the off-beat outside a ballad (design choice)."""

TURNS = 4
"""Kinds of rhythm that take turns (design choice: what is hardly worse is not worse)."""

_COUNT = 16


def rhythms_for(setting: CompSetting, texture: Texture, wide: int = 1) -> tuple[Rhythm, ...]:
    """Ranked rhythms that suit a texture; so many times more than usual, where one is looked for
    among them."""
    if texture.time == "walk":
        return _walks(setting)
    if texture.time == "stride":
        return _stride(setting)
    if texture.time == "echo":
        return _echoes(setting)
    if texture.time == "harp":
        return _rising(setting, RISEN)
    if texture.line is not None:
        return _in_turn(setting, _steps(setting, texture.line))
    found = (_slow if setting.slow else _moving)(setting, texture, wide)
    if texture.hits:
        found = tuple(r for r in found if texture.hits[0] <= len(r.hits) <= texture.hits[1])
    if texture.motion == "thicken":
        found = tuple(r for r in found if r.returns)
    if texture.motion in PASSING:
        # what passes fills the rhythm up, whose own density and pull say nothing
        found = tuple(replace(r, costs=tuple(c for c in r.costs if c[0] not in ("density", "pull")))
                      for r in found if any(
                          b - a in (setting.beat, 2 * setting.beat)
                          and setting.task.beat_at(a).denominator == 1
                          for a, b in pairwise(r.onsets)))
    if texture.close:
        found = tuple(r for r in found if all(
            b - a <= setting.beat for a, b in pairwise((r.opening_quarter, *r.onsets))))
    if texture.mode == "both" and texture.motion != "locked":
        # both hands do not strike everything together for long
        most = 2 if 2 * setting.length < 3 * setting.task.meter.length_quarter else 3
        found = tuple(r for r in found if len(r.hits) <= most)
    if texture.held == "pedal":
        found = tuple(r for r in found
                      if all(h.duration_quarter >= setting.beat / 2 for h in r.hits))
    if found:
        return _in_turn(setting, found[:wide * _COUNT])
    # nothing but the first stroke fits
    return (Rhythm((), HELD, ()),) if texture.mode == "left" else ()


def _in_turn(setting: CompSetting, found: tuple[Rhythm, ...]) -> tuple[Rhythm, ...]:
    """Rhythms nearly as good take turns from gap to gap: the one whose turn it is has no
    surcharge, the next ones have a little."""
    names = list(dict.fromkeys(r.name for r in found))
    turned = [replace(r, costs=(*r.costs, ("turn", extra))) if extra else r for r in found
              for extra in [(names.index(r.name) + setting.task.rotation) % TURNS]]
    return tuple(sorted(turned, key=lambda r: r.cost))


def _limits(setting: CompSetting, texture: Texture, grain: Fraction) -> tuple[Fraction, Fraction]:
    """Between which offsets a texture's hits may begin.

    grain   the smallest step of the style
    """
    task, opening, beat = setting.task, setting.opening, setting.beat
    keeps = texture.held == "finger" and task.held is not None
    # the left hand alone does not stutter: a beat between its first stroke and the next
    first = opening + (grain if texture.right else beat)
    if texture.right and not keeps and task.held is not None:
        first = max(first, setting.speak if texture.held == "pedal" else setting.leave)
    last = setting.length - grain
    least = LEAST_STAY_SEC if keeps else LEAST_LEAVE_SEC
    if task.landing is None or (texture.right and task.seconds(grain) < least):
        last = setting.length - beat
    if texture.held == "pedal":
        last = min(last, setting.length - beat / 2)
    return first, last


def _many(texture: Texture, usual: int) -> int:
    """How many rhythms to look at: more where a texture wants a rare one."""
    rare = (texture.close or texture.motion in ("thicken", *PASSING) or texture.mode == "close")
    return 20 * usual if rare else usual


def _slow(setting: CompSetting, texture: Texture, wide: int) -> tuple[Rhythm, ...]:
    first, last = _limits(setting, texture, setting.beat / 3)
    keeps = texture.held == "finger" and setting.task.held is not None
    if texture.right and (keeps or setting.task.held is None):
        first = setting.opening  # the chord may ring from the melody note on
    if not texture.right:  # between a root and its chord half a slow beat is enough
        first = setting.opening + (setting.beat / 2 if texture.mode == "stride" else setting.beat)
    late = (setting.opening == 0 and setting.task.held is not None
            and texture.waits)
    found = slow_rhythms(setting.frame, first=first, last=last, late=late,
                         limit=_many(texture, 3 * wide * _COUNT))
    if texture.mode == "stride":  # where a chord begins its root is struck
        found = tuple(r for r in found if not {*r.onsets} & {*setting.changes})
    least = _least_strokes(setting.length / setting.beat)
    return tuple(r for r in found if (r.hits or not texture.right) and len(
        {max(setting.opening, r.opening_quarter), *setting.changes, *r.onsets}) >= least)


def _least_strokes(beats: Fraction) -> int:
    """How often something is struck in a ballad's gap, so that no chord stands alone."""
    return 1 if beats < 3 else 2 if beats < 4 else 3 if beats < 7 else 4


def _moving(setting: CompSetting, texture: Texture, wide: int) -> tuple[Rhythm, ...]:
    task, beat = setting.task, setting.beat
    eighth = beat / (3 if task.meter.is_compound else 2)
    first, last = _limits(setting, texture, eighth)
    if texture.place == "under" and texture.right and task.held is not None:
        first = setting.opening  # the chord may be struck with the melody note on top
    barred = setting.changes if texture.mode == "stride" else ()
    window = RhythmWindow(first, last, barred=(*barred, *_between_quick_beats(setting)),
                          pushes=push_places(setting, texture.held),
                          lands=bool(texture.right))
    found = generate(setting.frame, window, _many(texture, wide * _COUNT))
    if texture.mode == "left" and setting.length <= 2 * beat:
        held = Rhythm((), HELD, (("alone", WEIGHTS["alone"]),))
        found = tuple(sorted([*found, held], key=lambda r: r.cost))
    waits = (setting.opening == 0 and texture.waits and task.held is not None
             and not task.meter.is_compound and task.beat.denominator == 1
             and task.previous_harmony == task.spans[0].harmony
             and task.seconds(eighth) >= LEAST_STAY_SEC)
    if not waits:
        return found
    # the chord is there already: the left hand may answer the melody note on the off-beat
    late = [replace(r, costs=(*r.costs, ("late left hand", LATE_COST)), opening_quarter=eighth)
            for r in found if not r.hits or r.hits[0].onset_quarter >= eighth + beat]
    return tuple(sorted([*found, *late], key=lambda r: (r.cost, r.opening_quarter, r.onsets)))


def _between_quick_beats(setting: CompSetting) -> Iterator[Fraction]:
    """The eighths between the beats of a compound meter, where they are too quick to be struck."""
    if setting.in_beats:
        for place in setting.frame.places:
            if not place.on_beat:
                yield place.offset_quarter


def _beats_after(setting: CompSetting, place: Fraction) -> list[Fraction]:
    """Where felt beats begin from a place on, up to the landing."""
    start = -((setting.task.beat_at(place) - 1) % 1) % 1 * setting.beat + place
    beats = []
    while start < setting.length:
        beats.append(start)
        start += setting.beat
    return beats


def _stride(setting: CompSetting) -> tuple[Rhythm, ...]:
    """Two bars of a root on the strong beats and a chord on the others."""
    task = setting.task
    beats = _beats_after(setting, setting.opening)
    if (len(beats) < 4 or not beats or beats[0] != setting.opening or task.meter.is_compound
            or task.landing is None):
        return ()
    hits = tuple(Hit(b, setting.beat) for b in beats[1:])
    return (Rhythm(hits, STRIDE, ()),)


def _rising(setting: CompSetting, keys: int) -> tuple[Rhythm, ...]:
    """Key after key from a beat to a beat, so many after the first, in eighths or sixteenths; the
    last one has a beat to ring."""
    beat, opening = setting.beat, setting.opening
    end = min(setting.length, setting.task.span_at(opening).end_quarter)
    found: list[Rhythm] = []
    for name, part in ((RISING, 2), (RISING_FAST, 4)):
        onsets = [opening + beat / part * place for place in range(1, keys + 1)]
        if onsets[-1] + beat > end or any(setting.task.beat_at(place).denominator > 1
                                          for place in (opening, onsets[-1])):
            continue
        if setting.task.seconds(beat / part) >= LEAST_RISE_SEC:
            found.append(Rhythm(tuple(Hit(a, end - a) for a in onsets), name, ()))
    return tuple(found)


def _steps(setting: CompSetting, line: MovingVoice) -> tuple[Rhythm, ...]:
    """The steps of a moving voice over every chord that takes it and has the time, all equally
    long, the first with the chord; a chord that does not take it is struck where it comes."""
    found: list[Rhythm] = []
    least = _least_strokes(setting.length / setting.beat) if (
        setting.slow and not line.ends) else 0
    for step, name in STEPS.items():
        if (step < 1 and not setting.slow) or (step == _DOTTED and not (
                setting.swings and not setting.slow)):
            continue
        rows = _stepped(setting, line, step * setting.beat)
        for hits, turns in {row: back for back, row in reversed(rows) if len(row) >= least}.items():
            tail = (hits[-1].duration_quarter / setting.beat) - max(step, Fraction(2))
            cost = STEPS_COST[step] + LONG_TAIL * max(math.ceil(tail), 0) + TURNED * turns
            cost += _square(setting, hits) // 2
            found.append(Rhythm(hits, name, (("steps", cost),) if cost else ()))
    return tuple(sorted(found, key=lambda r: (r.cost, r.onsets)))


def _square(setting: CompSetting, hits: tuple[Hit, ...]) -> int:
    """What it costs that a gap of two beats has a stroke on each and nothing else."""
    return WEIGHTS["square"] * (setting.length == 2 * setting.beat and [
        setting.opening, *(h.onset_quarter for h in hits if h.onset_quarter > setting.opening)
    ] == [0, setting.beat])


def _stepped(setting: CompSetting, line: MovingVoice, step: Fraction
             ) -> list[tuple[bool, tuple[Hit, ...]]]:
    """The hits of a line's steps, and whether they turn back: once through, and, where it may turn
    back, to and fro; two tones there and back, since in turn and in turn again they are a
    see-saw."""
    task, tones = setting.task, len(line.degrees)
    starts = [setting.opening, *setting.changes]
    ends = [*setting.changes, setting.length]
    goal = task.landing_harmony
    after = [*(setting.harmony_at(start) for start in setting.changes), goal]
    rows: list[tuple[bool, tuple[Hit, ...]]] = []
    for turns in (0,) if line.once else (0, 1):
        count = min(tones + turns * 2 * (tones - 1), longest(line))
        onsets: list[Fraction] = []
        for start, end, following in zip(starts, ends, after, strict=True):
            fits = line_fits(line, setting.harmony_at(start), following)
            last = start + (count - 1) * step
            stays = fits and last + setting.beat <= end
            onsets += [start + place * step for place in range(count)] if stays else [start]
        if len(onsets) > len(starts):
            rows.append((turns > 0, tuple(
                Hit(a, b - a) for a, b in pairwise([*onsets, setting.length]))))
    return rows


def _echoes(setting: CompSetting) -> tuple[Rhythm, ...]:
    """The last notes of the melody once more, in their rhythm, where the chords take them."""
    task, beat = setting.task, setting.beat
    if task.held is None:
        return ()
    found: list[Rhythm] = []
    for count in range(ECHOED[1], ECHOED[0] - 1, -1):
        motif = task.phrase[-count:]
        if len(motif) < count or len({n.midi for n in motif}) < 2:
            continue
        start = motif[0].onset_quarter
        spaces = [n.onset_quarter - start for n in motif]
        if spaces[-1] > ECHO_BEATS * beat or task.seconds(
                min(b - a for a, b in pairwise(spaces))) < LEAST_STAY_SEC:
            continue
        later = -(-(setting.leave - start) // beat) * beat  # on the same part of the beat
        onsets = [start + later + space for space in spaces]
        if onsets[-1] > setting.length - beat or not all(
                setting.harmony_at(o).takes(n.pitch.pitch_class)
                for o, n in zip(onsets, motif, strict=True)):
            continue
        rings = max(beat, motif[-2].duration_quarter)
        ends = [*onsets[1:], setting.length if task.landing is None else min(
            onsets[-1] + rings, setting.length)]
        hits = tuple(Hit(a, b - a) for a, b in zip(onsets, ends, strict=True))
        found.append(Rhythm(hits, ECHO, (), tops=tuple(n.midi for n in motif)))
    return tuple(found)


def _walks(setting: CompSetting) -> tuple[Rhythm, ...]:
    """Beats for a left hand that walks: in two, in two with a last step, in four."""
    task = setting.task
    beats = _beats_after(setting, setting.opening + setting.beat)
    if task.landing is None:  # the end comes to rest on a strong beat, and rings
        strong = [b for b in beats if is_strong(task, b)
                  and b + 2 * setting.beat <= setting.length]
        beats = [b for b in beats if strong and b <= strong[-1]]
    if not beats:
        return ()
    changes = setting.changes
    even = [b for b in beats if b in changes or (
        (task.beat_at(b) - 1) % 2 == 0 and b - setting.opening >= 2 * setting.beat)]
    rows = {IN_TWO: even, f"{IN_TWO}, {LAST_STEP}": [*even, beats[-1]], WALKING: beats}
    if task.meter.length_quarter == 3:
        rows = {LAST_STEP: [*(b for b in beats if task.beat_at(b) == 1), beats[-1]],
                WALKING: beats}
    if task.is_fast or setting.length - setting.opening < 3 * setting.beat:
        rows.pop(WALKING, None)  # two strokes are no walk
    if setting.slow:
        rows[LATE_STEP] = [*even, beats[-1] + setting.beat / 2]
    if task.landing_harmony is None or setting.length - beats[-1] < setting.beat:
        rows = {name: row for name, row in rows.items() if LAST_STEP not in name}
    least = _least_strokes(setting.length / setting.beat) if setting.slow else 1
    found: list[Rhythm] = []
    for cost, (name, row) in enumerate(rows.items()):
        onsets = sorted(set(row))
        if 1 + len(onsets) < least:
            continue
        hits = tuple(Hit(a, b - a) for a, b in pairwise([*onsets, setting.length]))
        if hits and all(r.hits != hits for r in found):
            cost += _square(setting, hits)
            found.append(Rhythm(hits, name, (("walk", cost),) if cost else (),
                                last_step=LAST_STEP in name))
    return tuple(found)
