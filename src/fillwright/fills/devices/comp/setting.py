"""A gap as comping measures it, once for all textures. Offsets count from the gap's onset."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.finish import speak_quarter
from fillwright.fills.player import Player
from fillwright.fills.rhythm.grid import Frame, frame_of
from fillwright.fills.situation import Task
from fillwright.fills.tempo import Tempo
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName

__all__ = ["CompSetting", "instant_of", "is_strong", "pedal_of", "push_places", "same_sound",
           "setting_of"]

LEAST_CHANGE_SEC = 0.28
"""Chords that last less are not struck one by one (common practice: a quarter at 210)."""

LEAST_STROKES_SEC = 0.15
"""The left hand does not strike roots closer together (common practice)."""


LEAST_THIRD_SEC = 0.17
"""An eighth of a compound meter lasts at least so long to have a chord (common practice: from about
118 on it is felt in its beats alone)."""

_FIFTH_BELOW, _FIFTH = 5, 7
"""Half steps up to the root a fifth below, and to the fifth."""

_EIGHTHS = 3
"""Parts of a beat, and of a triplet's, on which a chord may come with the melody note."""


@dataclass(frozen=True, slots=True)
class CompSetting:
    """What all plans of a gap share.

    opening    where the harmony under the held note is first struck
    changes    where the chord changes after that
    bar_lines  where bars begin after that
    held_end   where the held note stops sounding as written
    speak      where the right hand may play something else than the held note
    leave      where it may let the held note go: in a ballad not before half of it is heard
    """

    task: Task
    player: Player
    frame: Frame
    opening: Fraction
    changes: tuple[Fraction, ...]
    bar_lines: tuple[Fraction, ...]
    held_end: Fraction
    speak: Fraction
    leave: Fraction

    @property
    def length(self) -> Fraction:
        return self.task.duration_quarter

    @property
    def beat(self) -> Fraction:
        return self.task.beat_quarter

    @property
    def in_three(self) -> bool:
        return self.task.meter.length_quarter == 3 * self.beat

    @property
    def slow(self) -> bool:
        return self.frame.style == "ballad"

    @property
    def in_beats(self) -> bool:
        """Whether a compound meter is so quick that nothing is struck between its beats."""
        return (self.task.meter.is_compound
                and self.task.seconds(self.beat / 3) < LEAST_THIRD_SEC)

    def instant(self, offset: Fraction) -> Fraction:
        return instant_of(self.task, offset)

    @property
    def swings(self) -> bool:
        return _swings(self.task)

    def harmony_at(self, offset: Fraction) -> Harmony:
        return self.task.span_at(offset).harmony


def _swings(task: Task) -> bool:
    return task.feel == "swing" and not task.meter.is_compound


def instant_of(task: Task, offset: Fraction) -> Fraction:
    """Where a place is played: in swing an off-beat eighth is the third part of its beat."""
    off_beat = (task.beat_at(offset) % 1) * 2 == 1
    return offset + task.beat_quarter / 6 if off_beat and _swings(task) else offset


def is_strong(task: Task, offset: Fraction) -> bool:
    """Is it the first beat of a bar, or the third of four?"""
    beat = task.beat_at(offset)
    in_three = task.meter.length_quarter == 3 * task.beat_quarter
    return beat == 1 or (not in_three and beat.denominator == 1 and beat % 2 == 1)


def setting_of(task: Task) -> CompSetting:
    """Measure a gap."""
    player = task.player
    opening = _opening(task, player)
    lines = tuple(bar.onset_quarter for bar in task.bars_inside() if bar.onset_quarter > opening)
    frame, held_end, speak = frame_of(task), _held_end(task), speak_quarter(task)
    leave = max(speak, held_end / 2) if task.tempo is Tempo.BALLAD else speak
    return CompSetting(task, player, frame, opening, _changes(task, opening), lines, held_end,
                       speak, leave)


def _held_end(task: Task) -> Fraction:
    """Where the held note stops sounding as written, at most the gap's end."""
    return (Fraction(0) if task.held is None
            else min(task.held.end_quarter, task.end_quarter))


def _opening(task: Task, player: Player) -> Fraction:
    """Where the harmony under the held note is first struck.

    With the melody note; where that comes just before the bar line and only a scrap of the
    old chord is left, on the coming chord's own place; who waits for the bar line does so
    whenever the melody came early. Where it came on a sixteenth, the chord waits for the beat,
    that somebody marks it.
    """
    beat, spans = task.beat_quarter, task.spans
    if len(spans) > 1 and spans[0].duration_quarter < beat:
        return spans[1].onset_quarter
    if player.level.comp.waits_for_bar and task.beat.denominator != 1:
        bar = task.bar_at(Fraction(0))
        if bar.end_quarter < beat and bar.end_quarter < task.end_quarter:
            return bar.end_quarter
    next_beat = -(task.beat - 1) % 1 * beat
    if task.beat.denominator > _EIGHTHS and (
            next_beat + beat < min(task.end_quarter, spans[0].end_quarter)):
        return next_beat
    return Fraction(0)


def _changes(task: Task, opening: Fraction) -> tuple[Fraction, ...]:
    """Where the chord changes after the opening; chords too quick to strike are left out, but not
    one that goes on under the landing."""
    offsets: list[Fraction] = []
    last = opening
    for span in task.spans[1:]:
        offset = span.onset_quarter
        goes_on = (span is task.spans[-1] and task.landing_harmony is not None
                   and same_sound(span.harmony, task.landing_harmony))
        quick = not goes_on and task.seconds(span.duration_quarter) < LEAST_CHANGE_SEC
        if offset > last and not quick and task.seconds(offset - last) >= LEAST_STROKES_SEC:
            offsets.append(offset)
            last = offset
    return tuple(offsets)


def same_sound(one: Harmony, other: Harmony) -> bool:
    """Are these the same tones over the same bass (C and C6 are for a player)?"""
    def heard(harmony: Harmony) -> tuple[int, int, frozenset[int]]:
        root = harmony.root.pitch_class
        return ((harmony.symbol.bass or harmony.root).pitch_class, root,
                frozenset(degree_pitch_class(d) for d in harmony.tones))
    return heard(one) == heard(other)


def pedal_of(task: Task) -> NoteName | None:
    """The bass that may stay through all chords of the gap: the root of a dominant in it that
    goes home, or the tonic; None where neither is at home in all of them and root or fifth of
    the last one, or they have one root."""
    chords = [span.harmony for span in task.spans]
    if len({chord.root.pitch_class for chord in chords}) < 2:
        return None
    landing = task.landing_harmony
    after = [*chords[1:], *([] if landing is None else [landing])]
    names = [one.root for one, two in zip(chords, after, strict=False)
             if one.symbol.quality in ("dominant", "suspended")
             and (two.root.pitch_class - one.root.pitch_class) % 12 == _FIFTH_BELOW]
    names = [*names[::-1], chords[-1].key.tonic]
    last = chords[-1]
    return next((name for name in names
                 if all(chord.takes(name.pitch_class) for chord in chords)
                 and last.symbol.relative(name.pitch_class) in (0, _FIFTH)), None)


def push_places(setting: CompSetting, kept: str) -> tuple[Fraction, ...]:
    """Chord changes that may be taken early.

    kept   what becomes of the held note: "finger", "pedal" or "released"

    The melody note that still sounds must be at home in the coming chord, and the coming
    chord must be another one than the chord that sounds already.
    """
    task = setting.task
    sounding = task.held.pitch.pitch_class if task.held is not None else None
    keeps = kept != "released" and sounding is not None
    places = [span.onset_quarter for span in task.spans[1:]
              if not keeps or span.onset_quarter > setting.held_end
              or span.harmony.takes(sounding or 0)]
    landing, harmony = task.landing, task.landing_harmony
    if (landing is not None and harmony is not None
            and not same_sound(task.spans[-1].harmony, harmony)
            and harmony.takes(landing.pitch.pitch_class)
            and (not keeps or setting.held_end < setting.length
                 or harmony.takes(sounding or 0))):
        places.append(setting.length)
    return tuple(places)
