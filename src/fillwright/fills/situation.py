"""Everything a family needs to know about one gap and one player."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from fillwright.fills.closing import Closing, closing_of
from fillwright.fills.player import Player, player_of
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import ChordSpan, Chorus, Gap, Meter, SoundingNote

__all__ = ["LEAST_SECONDS", "GapContext", "Span", "make_context"]

LEAST_SECONDS = 0.9
"""A gap shorter than this is left open (design choice: no time to leave and come back)."""

_ANTICIPATION = Fraction(3, 4)
"""A chord this short (in felt beats) at a gap's start is heard as the coming one, if the
melody note fits it: the melody came early (common practice)."""


@dataclass(frozen=True, slots=True)
class Span:
    """A written chord inside the gap as it is heard there."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony

    @property
    def duration_quarter(self) -> Fraction:
        return self.end_quarter - self.onset_quarter


@dataclass(frozen=True, slots=True)
class GapContext:
    """One gap, one level, one hand.

    spans        the harmonies to play, without holes; an anticipated melody note already
                 stands over the coming chord
    written      the chords as printed, cut to the gap
    phrase       melody notes before the gap, back to the gap or rest before, the held note
                 last; () at the start
    following    melody notes from the landing to the next gap or the end, landing first
    following_gap_quarter  onset of the next gap, or None
    meter        that of the bar the gap opens in
    closing      the tonic that stands in `spans` for a last turnaround, or None
    beat_quarter, seconds_per_quarter, beats_per_minute   its felt beat and the tempo
    """

    chorus: Chorus
    gap: Gap
    level: str
    hand: str
    without: frozenset[str]
    spans: tuple[Span, ...]
    phrase: tuple[SoundingNote, ...]
    following: tuple[SoundingNote, ...]
    following_gap_quarter: Fraction | None
    previous_harmony: Harmony | None
    meter: Meter
    closing: Closing | None = None
    beat_quarter: Fraction = field(init=False)
    seconds_per_quarter: float = field(init=False)
    beats_per_minute: float = field(init=False)

    def __post_init__(self) -> None:
        beat, seconds = self.meter.beat_quarter, self.chorus.seconds_per_quarter
        object.__setattr__(self, "beat_quarter", beat)
        object.__setattr__(self, "seconds_per_quarter", seconds)
        object.__setattr__(self, "beats_per_minute", 60.0 / (seconds * float(beat)))

    @property
    def onset_quarter(self) -> Fraction:
        return self.gap.onset_quarter

    @property
    def end_quarter(self) -> Fraction:
        return self.gap.end_quarter

    @property
    def feel(self) -> str:
        return self.chorus.feel

    @property
    def player(self) -> Player:
        """The level and the hand as values."""
        return player_of(self.level, self.hand)

    @property
    def is_ballad(self) -> bool:
        """Slow enough that chords are sustained and double time is natural."""
        return self.beats_per_minute < 90

    @property
    def is_fast(self) -> bool:
        return self.beats_per_minute > 200

    @property
    def written(self) -> tuple[ChordSpan, ...]:
        return self.gap.chords

    @property
    def held_midi(self) -> int | None:
        return None if self.gap.held is None else self.gap.held.midi

    @property
    def landing_midi(self) -> int | None:
        return None if self.gap.landing is None else self.gap.landing.midi

    @property
    def turn(self) -> int:
        """A number that differs from gap to gap, so that ideas nearly as good take turns.

        The held note's degree in the key and the place in the bar decide: they are the same
        in every key, and where a phrase comes again.
        """
        tonic = self.chorus.key.tonic.pitch_class
        degree = 0 if self.held_midi is None else (self.held_midi - tonic) % 12
        return 5 * degree + int(2 * self.gap.beat)

    def seconds(self, quarters: Fraction) -> float:
        return float(quarters) * self.seconds_per_quarter

    def span_at(self, onset_quarter: Fraction) -> Span:
        """The harmony at a place in the gap; places outside go to the nearest span."""
        found = self.spans[0]
        for span in self.spans:
            if span.onset_quarter <= onset_quarter:
                found = span
        return found

    def beat_at(self, onset_quarter: Fraction) -> Fraction:
        """The place in its bar in felt beats, 1 = downbeat."""
        return self.chorus.beat_in_bar(onset_quarter)


def make_context(chorus: Chorus, gaps: tuple[Gap, ...], number: int, *, level: str, hand: str,
                 without: frozenset[str] = frozenset()) -> GapContext:
    """The context of gap `number` (from 1). `spans` is empty where there is no chord."""
    gap = gaps[number - 1]
    meter = chorus.bar_at(gap.onset_quarter).meter
    phrase_start = Fraction(0)
    if number >= 2:
        phrase_start = gaps[number - 2].end_quarter
    next_gap = gaps[number].onset_quarter if number < len(gaps) else None
    phrase = tuple(n for n in chorus.melody
                   if phrase_start <= n.onset_quarter <= gap.onset_quarter
                   and n.onset_quarter < gap.end_quarter)
    stop = chorus.length_quarter if next_gap is None else next_gap
    following = tuple(n for n in chorus.melody if gap.end_quarter <= n.onset_quarter <= stop)
    before = chorus.chord_index_at(gap.onset_quarter - Fraction(1, 64))
    closing = closing_of(chorus, gap)
    return GapContext(
        chorus=chorus, gap=gap, level=level, hand=hand, without=without,
        spans=_effective_spans(gap, meter.beat_quarter, closing),
        phrase=phrase, following=following, following_gap_quarter=next_gap,
        previous_harmony=None if before is None else chorus.harmonies[before],
        meter=meter,
        closing=closing,
    )


def _effective_spans(gap: Gap, beat_quarter: Fraction, closing: Closing | None
                     ) -> tuple[Span, ...]:
    """Join equal neighbours, drop N.C., let the closing tonic stand for what it replaces, and
    give an anticipated melody its coming chord."""
    spans: list[Span] = []
    heard = [(chord.onset_quarter, chord.end_quarter, harmony)
             for chord, harmony in zip(gap.chords, gap.harmonies, strict=True)]
    if closing is not None:
        home = closing.onset_quarter
        heard = [(onset, min(end, home), harmony) for onset, end, harmony in heard
                 if onset < home]
        heard.append((home, gap.end_quarter, closing.harmony))
    for onset, end, harmony in heard:
        if harmony is None:
            continue
        if spans and spans[-1].harmony.symbol == harmony.symbol:
            spans[-1] = Span(spans[-1].onset_quarter, end, spans[-1].harmony)
            continue
        if spans:  # close the hole an N.C. leaves
            spans[-1] = Span(spans[-1].onset_quarter, onset, spans[-1].harmony)
        spans.append(Span(onset, end, harmony))
    if not spans:
        return ()
    spans[-1] = Span(spans[-1].onset_quarter, gap.end_quarter, spans[-1].harmony)
    first = spans[0]
    if (len(spans) > 1 and first.onset_quarter == gap.onset_quarter
            and first.duration_quarter < _ANTICIPATION * beat_quarter and gap.held is not None
            and spans[1].harmony.takes(gap.held.pitch.pitch_class)):
        spans[0:2] = [Span(first.onset_quarter, spans[1].end_quarter, spans[1].harmony)]
    if spans[0].onset_quarter > gap.onset_quarter:
        spans[0] = Span(gap.onset_quarter, spans[0].end_quarter, spans[0].harmony)
    return tuple(spans)
