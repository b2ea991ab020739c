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

__all__ = ["CompSetting", "is_strong", "pedal_of", "push_places", "same_sound", "setting_of"]

LEAST_CHANGE_SEC = 0.28
"""Chords that last less are not struck one by one (common practice: a quarter at 210)."""

LEAST_STROKES_SEC = 0.15
"""The left hand does not strike roots closer together (common practice)."""


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

    context: Task
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
        return self.context.duration_quarter

    @property
    def beat(self) -> Fraction:
        return self.context.beat_quarter

    @property
    def in_three(self) -> bool:
        return self.context.meter.length_quarter == 3 * self.beat

    @property
    def slow(self) -> bool:
        return self.frame.style == "ballad"

    def instant(self, offset: Fraction) -> Fraction:
        """Where a place is played: in swing an off-beat eighth is the third part of its beat."""
        half = self.beat / 2
        off_beat = (self.context.beat_at(offset) % 1) * 2 == 1
        return offset + half / 3 if off_beat and self.swings else offset

    @property
    def swings(self) -> bool:
        return self.context.feel == "swing" and not self.context.meter.is_compound

    def harmony_at(self, offset: Fraction) -> Harmony:
        return self.context.span_at(offset).harmony


def is_strong(context: Task, offset: Fraction) -> bool:
    """Is it the first beat of a bar, or the third of four?"""
    beat = context.beat_at(offset)
    in_three = context.meter.length_quarter == 3 * context.beat_quarter
    return beat == 1 or (not in_three and beat.denominator == 1 and beat % 2 == 1)


def setting_of(context: Task) -> CompSetting:
    """Measure a gap."""
    player = context.player
    opening = _opening(context, player)
    lines = tuple(bar.onset_quarter for bar in context.bars_inside() if bar.onset_quarter > opening)
    frame, held_end, speak = frame_of(context), _held_end(context), speak_quarter(context)
    leave = max(speak, held_end / 2) if context.tempo is Tempo.BALLAD else speak
    return CompSetting(context, player, frame, opening, _changes(context, opening), lines, held_end,
                       speak, leave)


def _held_end(context: Task) -> Fraction:
    """Where the held note stops sounding as written, at most the gap's end."""
    return (Fraction(0) if context.held is None
            else min(context.held.end_quarter, context.end_quarter))


def _opening(context: Task, player: Player) -> Fraction:
    """Where the harmony under the held note is first struck.

    With the melody note; where that comes just before the bar line and only a scrap of the
    old chord is left, on the coming chord's own place; who waits for the bar line does so
    whenever the melody came early. Where it came on a sixteenth, the chord waits for the beat,
    that somebody marks it.
    """
    beat, spans = context.beat_quarter, context.spans
    if len(spans) > 1 and spans[0].duration_quarter < beat:
        return spans[1].onset_quarter
    if player.level.comp.waits_for_bar and context.beat.denominator != 1:
        bar = context.bar_at(Fraction(0))
        if bar.end_quarter < beat and bar.end_quarter < context.end_quarter:
            return bar.end_quarter
    next_beat = -(context.beat - 1) % 1 * beat
    if context.beat.denominator > _EIGHTHS and (
            next_beat + beat < min(context.end_quarter, spans[0].end_quarter)):
        return next_beat
    return Fraction(0)


def _changes(context: Task, opening: Fraction) -> tuple[Fraction, ...]:
    """Where the chord changes after the opening; chords too quick to strike are left out, but not
    one that goes on under the landing."""
    offsets: list[Fraction] = []
    last = opening
    for span in context.spans[1:]:
        offset = span.onset_quarter
        goes_on = (span is context.spans[-1] and context.landing_harmony is not None
                   and same_sound(span.harmony, context.landing_harmony))
        quick = not goes_on and context.seconds(span.duration_quarter) < LEAST_CHANGE_SEC
        if offset > last and not quick and context.seconds(offset - last) >= LEAST_STROKES_SEC:
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


def pedal_of(context: Task) -> NoteName | None:
    """The bass that may stay through all chords of the gap: the root of a dominant in it that
    goes home, or the tonic; None where neither is at home in all of them and root or fifth of
    the last one, or they have one root."""
    chords = [span.harmony for span in context.spans]
    if len({chord.root.pitch_class for chord in chords}) < 2:
        return None
    landing = context.landing_harmony
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
    context = setting.context
    sounding = context.held.pitch.pitch_class if context.held is not None else None
    keeps = kept != "released" and sounding is not None
    places = [span.onset_quarter for span in context.spans[1:]
              if not keeps or span.onset_quarter > setting.held_end
              or span.harmony.takes(sounding or 0)]
    landing, harmony = context.landing, context.landing_harmony
    if (landing is not None and harmony is not None
            and not same_sound(context.spans[-1].harmony, harmony)
            and harmony.takes(landing.pitch.pitch_class)
            and (not keeps or setting.held_end < setting.length
                 or harmony.takes(sounding or 0))):
        places.append(setting.length)
    return tuple(places)
