"""How a tune ends whose last bars lead back to its beginning.

The chords printed there are a turnaround: right when another chorus follows, wrong when
none does. The last time round they give way to the tonic (common practice). The sheet stays
as it is; the tonic is an added chord over it, with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.fills.situation import Closing
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import analyse
from fillwright.theory.pitch import NoteName
from fillwright.tune.extend import home_of
from fillwright.tune.model import ChordSpan, Chorus, Gap

__all__ = ["closing_of"]

_LEAST_BARS = 8
"""A shorter piece is an exercise, which ends as it is written."""

_RESTLESS = ("dominant", "suspended", "half-diminished", "diminished")


def closing_of(chorus: Chorus, gap: Gap) -> Closing | None:
    """The closing tonic of a last gap that ends away from home; None where there is none.

    What stands after the last tonic inside the gap gives way to it; without one there, the
    second half of the last chord does, so that the chord before it leads home.
    """
    if gap.landing is not None or len(chorus.bars) < _LEAST_BARS or not gap.chords:
        return None
    tonic, minor = home_of(chorus.chords[0].symbol, chorus.key)
    last = gap.chords[-1].symbol
    if last.root is None or last.root == tonic or last.quality not in _RESTLESS:
        return None
    homes = [place for place, span in enumerate(gap.chords)
             if span.symbol.root is not None and span.symbol.root == tonic]
    if homes:
        kept = homes[-1] + 1
        onset = gap.chords[kept].onset_quarter
    else:
        onset = _halfway(chorus, gap.chords[-1])
        kept = len(gap.chords)
    before = [span.symbol for span in gap.chords[:kept]]
    held = None if gap.held is None else gap.held.pitch.pitch_class
    own = before[-1] if homes else None
    for symbol in _endings(tonic, minor, own):
        harmony = analyse([*before, symbol], chorus.key)[-1]
        if harmony is not None and (held is None or harmony.takes(held)):
            return Closing(onset, harmony, (onset, *(
                span.onset_quarter for span in gap.chords if span.onset_quarter > onset)))
    return None


def _endings(tonic: NoteName, minor: bool, own: ChordSymbol | None) -> Sequence[ChordSymbol]:
    """Chords a tune may end on, best first; `own` is the tonic as the sheet has it there."""
    kind = "minor" if minor else "major"
    found = [ChordSymbol.of(tonic, f"{kind}-sixth"), ChordSymbol.of(tonic, kind)]
    if own is None:
        return found
    # The blues ends on its seventh chord.
    return [own, *found] if own.quality == "dominant" else [*found, own]


def _halfway(chorus: Chorus, span: ChordSpan) -> Fraction:
    """The beat in the middle of a chord, or its beginning where it is too short to share."""
    beat = chorus.bar_at(span.onset_quarter).meter.beat_quarter
    half = span.duration_quarter / 2 // beat * beat
    return span.onset_quarter + half
