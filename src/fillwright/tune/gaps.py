"""Where the melody holds still long enough to play something.

A gap opens on a melody note whose distance to the next melody onset (held note and the
rests after it) is at least two felt beats of the meter it opens in, or on the rest at the
start of the form. The last note, up to the end of the last bar, is one too.
"""

from __future__ import annotations

from dataclasses import replace

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.tune.model import ChordSpan, Chorus, Gap, SoundingNote

__all__ = ["LEAST_BEATS", "find_gaps"]

LEAST_BEATS = 2
"""A gap has at least this many felt beats (common practice: the half note)."""


def find_gaps(chorus: Chorus) -> tuple[Gap, ...]:
    """All gaps of a chorus, in order, numbered from 1. Raises InputError for a tune."""
    if not isinstance(chorus, Chorus):
        raise InputError("gaps are found in a Chorus; unfold(tune) plays a tune out to one")
    gaps: list[Gap] = []
    melody = chorus.melody
    if melody and melody[0].onset_quarter > 0:
        _add(gaps, chorus, None, Fraction(0), melody[0])
    for index, note in enumerate(melody):
        landing = melody[index + 1] if index + 1 < len(melody) else None
        _add(gaps, chorus, note, note.onset_quarter, landing)
    return tuple(gaps)


def _add(gaps: list[Gap], chorus: Chorus, held: SoundingNote | None, onset: Fraction,
         landing: SoundingNote | None) -> None:
    end = chorus.length_quarter if landing is None else landing.onset_quarter
    bar = chorus.bar_at(onset)
    beats = (end - onset) / bar.meter.beat_quarter
    if beats < LEAST_BEATS:
        return
    spans, harmonies = [], []
    for index in range(chorus.chord_index_at(onset) or 0, len(chorus.chords)):
        if chorus.chords[index].onset_quarter >= end:
            break
        inside = _cut(chorus.chords[index], onset, end)
        if inside is not None:
            spans.append(inside)
            harmonies.append(chorus.harmonies[index])
    place = None if landing is None else chorus.chord_index_at(landing.onset_quarter)
    gaps.append(Gap(
        number=len(gaps) + 1,
        bar=bar.number,
        pass_number=bar.pass_number,
        beat=chorus.beat_in_bar(onset),
        onset_quarter=onset,
        duration_quarter=end - onset,
        beats=beats,
        seconds=float((end - onset) * 60 / chorus.quarters_per_minute),  # 0.9 is 0.9
        why=_why(bar.meter.beat_quarter, held, end, landing),
        held=held,
        chords=tuple(spans),
        harmonies=tuple(harmonies),
        landing=landing,
        landing_chord=None if place is None else chorus.chords[place].symbol,
        landing_harmony=None if place is None else chorus.harmonies[place],
    ))


def _cut(span: ChordSpan, onset: Fraction, end: Fraction) -> ChordSpan | None:
    start, stop = max(span.onset_quarter, onset), min(span.end_quarter, end)
    if start >= stop:
        return None
    return replace(span, onset_quarter=start, duration_quarter=stop - start)


def _why(beat_quarter: Fraction, held: SoundingNote | None, end: Fraction,
         landing: SoundingNote | None) -> tuple[str, ...]:
    reasons = []
    if held is None:
        reasons += ["rest", "pickup"]
    else:
        if held.duration_quarter >= LEAST_BEATS * beat_quarter:
            reasons.append("held")
        if held.tied:
            reasons.append("tied")
        if held.end_quarter < end:
            reasons.append("rest")
    if landing is None:
        reasons.append("ending")
    return tuple(reasons)
