"""What the rules say of a whole arrangement, ours or one brought in, and of one fill."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fillwright.arranging.from_paper import ReadArrangement
from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.rules import (
    AUDITED,
    OF_OWN_NOTES,
    Audit,
    FillSpan,
    MelodySpan,
    Passage,
    Rule,
    audit,
)
from fillwright.rules.chords import Chords, HeardChord
from fillwright.rules.melody import alone_quarter
from fillwright.theory.harmony import harmony_of
from fillwright.tune.model import ChordSpan, Chorus, Gap

__all__ = ["audit_arrangement", "audit_fill", "audit_read", "explain"]

_PLACE = {rule.name: place for place, rule in enumerate(OF_OWN_NOTES)}
_WORDS = {rule.name: (rule.why, rule.remedy) for rule in OF_OWN_NOTES}


def audit_arrangement(arrangement: Arrangement) -> Audit:
    """Run every rule over both hands.

    The melody note of a filled gap sounds as long as its fill says, every other one as long
    as its key is held.
    """
    chorus = arrangement.chorus
    opened = {arrangement.gaps[fill.gap - 1].onset_quarter: fill for fill in arrangement.fills}
    sounding = tuple(
        _held(chorus, opened[n.onset_quarter], n) if n.onset_quarter in opened else
        MelodySpan(n.onset_quarter, n.end_quarter, n.midi)
        for n in arrangement.notes if n.role == "melody")
    melody = tuple((n.onset_quarter, n.end_quarter - n.onset_quarter, n.midi)
                   for n in arrangement.notes if n.role == "melody")
    return audit(Passage(
        arrangement.notes, arrangement.options.hand, chorus.seconds_per_quarter,
        _heard(chorus, arrangement.chords), sounding, melody,
        tuple(_room(chorus, fill, arrangement.gaps[fill.gap - 1])
              for fill in arrangement.fills), chorus.meter.beat_quarter))


def audit_fill(fill: Fill, held: Sequence[HandNote], chorus: Chorus, gap: Gap, size: str,
               rules: Sequence[Rule] = AUDITED) -> Audit:
    """Run the rules over one fill.

    held   the melody note it begins under, as long as its key is down; () where none is
    """
    notes = tuple(sorted((*held, *fill.notes), key=lambda n: (n.onset_quarter, n.midi)))
    return audit(Passage(
        notes, size, chorus.seconds_per_quarter, _heard(chorus, fill.chords),
        tuple(_held(chorus, fill, note) for note in held), None, (_room(chorus, fill, gap),),
        chorus.bar_at(gap.onset_quarter).meter.beat_quarter, whole=False), rules)


def _held(chorus: Chorus, fill: Fill, note: HandNote) -> MelodySpan:
    beat = chorus.bar_at(note.onset_quarter).meter.beat_quarter
    return MelodySpan(note.onset_quarter, fill.held_end.until_quarter, note.midi,
                      alone_quarter(beat, chorus.seconds_per_quarter),
                      fill.held_end.by_pedal)


def _room(chorus: Chorus, fill: Fill, gap: Gap) -> FillSpan:
    end, last = gap.end_quarter, fill.chords[-1]
    rings = end + chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    return FillSpan(fill.gap, gap.onset_quarter,
                end if fill.shift is None else fill.shift.landing_quarter,
                max(rings, last.end_quarter) if last.added else rings)


def _heard(chorus: Chorus, spans: Sequence[ChordSpan]) -> Chords:
    """What is heard of written and added chords: the written ones as the chorus hears them, the
    added ones in the key of their place and with the chord that comes next, be it after the last
    of them."""
    chords = Chords.of(spans).heard
    found = []
    for chord, after in zip(chords, (*chords[1:], None), strict=True):
        harmony = chorus.harmony_at(chord.onset_quarter)
        if chord.added:
            coming = chorus.harmony_at(chord.end_quarter) if after is None else after
            harmony = harmony_of(chord.symbol, chorus.key if harmony is None else harmony.key,
                                 None if coming is None else coming.symbol)
        found.append(HeardChord(chord.onset_quarter, chord.end_quarter, chord.symbol, chord.added,
                                harmony))
    return Chords(tuple(found))


def audit_read(read: ReadArrangement, size: str, tempo: Fraction | None = None) -> Audit:
    """Run the rules over an arrangement read from a score.

    size    hand size
    tempo   felt beats a minute, as in `ReadArrangement.tempo_bpm`; None: as the score says

    What compares with a tune or its gaps is not asked: a score alone has none. The top line
    stands for the melody. Where fingers are not printed, the rule "fingers" asks whether any
    would do.
    """
    melody = tuple(MelodySpan(n.onset_quarter, n.end_quarter, n.midi) for n in read.notes
                   if n.role == "melody")
    return audit(Passage(read.notes, size, read.seconds_at(tempo or read.tempo_bpm),
                         Chords.of(read.chords), melody,
                         beat_quarter=read.bars[0].meter.beat_quarter))


def explain(audit: Audit, place_of: Callable[[Fraction], str]) -> list[str]:
    """One sentence for each finding, in the order of the score: where, what, why it matters
    and what to do about it.

    place_of   words for a place in quarter notes, such as "bar 3, beat 2"
    """
    ordered = sorted(audit.findings, key=lambda f: (f.onset_quarter, _PLACE[f.rule]))
    sentences = []
    for finding in ordered:
        why, remedy = _WORDS[finding.rule]
        place = place_of(finding.onset_quarter)
        sentences.append(f"{place[:1].upper()}{place[1:]}: {finding.message}; {why}: {remedy}.")
    return sentences
