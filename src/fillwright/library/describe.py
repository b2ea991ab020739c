"""A sheet described: bytes in, facts out, nothing remembered and nothing looked up.

No fill is looked for here: what is told is read off the page and heard in its place.
"""

from __future__ import annotations

import hashlib

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Options
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.situation import Form, Situation
from fillwright.library.model import GapFacts, SheetFacts
from fillwright.library.numerals import function_of, row_of
from fillwright.tune.model import Chorus, Gap, Tune
from fillwright.tune.read import read_bytes

__all__ = ["content_of", "describe", "describe_tune", "fingerprint_of"]

_PHRASE_BARS = 4
"""A phrase has four bars (common practice): its last bar is its end."""


def content_of(data: bytes, number: int | None = None) -> str:
    """What tells this sheet from all others: the SHA-256 of its bytes, and the tune's number."""
    digest = hashlib.sha256(data).hexdigest()
    return digest if number is None else f"{digest}#{number}"


def describe(data: bytes, name: str = "", number: int | None = None) -> SheetFacts:
    """What a sheet has for a teacher.

    data     a file's bytes, `name` its name
    number   which tune of an ABC file that holds several

    Raises InputError as `read_tune` does, and for a sheet without notes or chord symbols.
    """
    return describe_tune(read_bytes(data, name, number=number), content_of(data, number))


def describe_tune(tune: Tune, content: str) -> SheetFacts:
    """The same of a tune that is read already. Raises InputError."""
    chorus, gaps = prepare(tune, Options())
    hearing = hear(chorus)
    first: dict[Situation, int] = {}
    facts = []
    for gap in gaps:
        situation = situation_of(hearing, gaps, gap.number)
        alike = first.setdefault(situation, gap.number)
        facts.append(_gap_facts(gap, situation, alike))
    return SheetFacts(
        content=content, fingerprint=fingerprint_of(chorus), title=tune.title or tune.source,
        key=str(chorus.key), tonic=chorus.key.tonic.pitch_class, mode=chorus.key.mode,
        meter=str(chorus.meter), bars=sum(not bar.is_pickup for bar in chorus.bars),
        tempo=float(chorus.tempo_bpm), tempo_marked=tune.tempo_marked, feel=chorus.feel,
        gaps=tuple(facts))


def fingerprint_of(chorus: Chorus) -> str:
    """A text that is the same for the same melody and chords in any key and octave.

    Pitches and roots count from the first melody note, chords by their class, times exactly: a
    key signature that is missing, a title, a tempo, a "maj7" written as a triangle change
    nothing.
    """
    zero = chorus.melody[0].midi
    notes = [f"{n.onset_quarter}:{n.duration_quarter}:{n.midi - zero}" for n in chorus.melody]
    chords, last = [], ""
    for span in chorus.chords:
        root = span.symbol.root
        chord = "-" if root is None else (
            f"{(root.pitch_class - zero) % 12}{quality_of(span.symbol)}")
        if chord != last:
            chords.append(f"{span.onset_quarter}:{chord}")
        last = chord
    text = "|".join([str(chorus.length_quarter), *notes, *chords])
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _gap_facts(gap: Gap, situation: Situation, alike: int) -> GapFacts:
    harmony = gap.harmonies[0] if gap.chords and (
        gap.chords[0].onset_quarter == gap.onset_quarter) else None
    held = gap.held
    degree, semitones, key_semitones = "", None, None
    if held is not None and harmony is not None:
        degree = harmony.degree_of(held.pitch.pitch_class) or _foreign(
            harmony.symbol.relative(held.pitch.pitch_class))
        semitones = harmony.symbol.relative(held.pitch.pitch_class)
        key_semitones = (held.midi - harmony.key.tonic.pitch_class) % 12
    return GapFacts(
        number=gap.number, bar=gap.bar, pass_number=gap.pass_number, beat=str(gap.beat),
        beats=str(gap.beats), seconds=round(gap.seconds, 3), why=gap.why,
        chords=_symbols(gap),
        functions=tuple("" if h is None else h.function for h in gap.harmonies),
        row=row_of(gap.harmonies),
        into="" if gap.landing_harmony is None else function_of(gap.landing_harmony),
        degree=degree, semitones=semitones, key_semitones=key_semitones,
        held="" if held is None else str(held.pitch),
        held_midi=None if held is None else held.midi,
        landing=(None if held is None or gap.landing is None
                 else gap.landing.midi - held.midi),
        place=_place(gap, situation.form), section=situation.form.section,
        time=situation.form.time, alike=alike)


def _symbols(gap: Gap) -> tuple[str, ...]:
    return tuple(str(span.symbol) for span in gap.chords)


_FOREIGN = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")


def _foreign(semitones: int) -> str:
    """A degree that is in no scale of its chord."""
    return _FOREIGN[semitones]


def _place(gap: Gap, form: Form) -> str:
    """A kind of place in the form, one of `PLACES`."""
    if "pickup" in gap.why:
        return "start"
    if "ending" in gap.why:
        return "end"
    leads = {"again": "into the repeat", "back": "back to earlier music",
             "bridge": "into new music", "top": "turnaround", "end": "last bars"}
    if form.leads:
        return leads[form.leads]
    at_end = form.bar % _PHRASE_BARS == _PHRASE_BARS - 1
    return "end of a phrase" if at_end else "inside a phrase"
