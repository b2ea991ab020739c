"""What is heard of a whole chorus once, and each gap of it as a situation.

One hearing for every family: the local keys, whether the tune is one of plain triads, its form
and habits, and what the melody makes of a chord. A D7 printed under a held E flat is heard as
D7 with a flat nine, whatever its scale would be; a plain dominant on its way home may be
altered; a song whose sheet says F, B flat, C takes the sixth and the ninth for colour, no more
(common practice).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

from fillwright.exact import Fraction
from fillwright.fills.closing import closing_of
from fillwright.fills.form import FormSection, form_at, form_sections
from fillwright.fills.situation import (
    Closing,
    Form,
    GridBar,
    Habits,
    Printed,
    Situation,
    Span,
    printed_chord,
)
from fillwright.fills.tempo import pace_of
from fillwright.theory.chord import ChordSymbol, degree_number, degree_pitch_class, sort_degrees
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import ChordSpan, Chorus, Gap, SoundingNote

__all__ = ["Hearing", "habits_of", "hear", "is_plain", "may_be_altered", "situation_of"]

PLAIN_SHARE = 50
"""Percent of a tune's chords that are triads or sixths from which on it is plain (design
choice)."""
_TRIAD = frozenset(("1", "b3", "3", "5", "6"))
_PLAIN_COLOURS = ("9", "13")  # the thirteenth of a seventh chord is its sixth

_ANTICIPATION = Fraction(3, 4)
"""What a chord printed earlier has left at a gap's start, if it is this short (in felt beats), is
heard as the coming chord where the melody note fits that: the melody came early (common
practice). A chord printed with the note itself is meant."""

_AFTER_BARS = 2
"""How many bars past the landing a family sees, with the melody in them: a late landing is back
within a bar. Of the chords it sees the next changes, however long they take."""

_CHANGES = 4
"""How many changes of chord before the gap and from the landing on are kept."""

_QUARRELS = (("b9", ("9",)), ("#9", ("9",)), ("b13", ("13", "5")))
"""An alteration and the degrees of the melody that forbid it."""

_FOURTH, _FIFTH = 5, 7  # half steps

_SUNG = {1: ("b9", "9"), 3: ("#9", "9"), 8: ("b13", "13")}
"""Semitones of a held note above a dominant's root: what it makes of the chord, and the
natural colour that gives way to it."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """A chorus as it is heard, once for all its gaps.

    harmonies       of `chorus.chords`, with the colours that the tune bears
    plain, blues    most of its chords are plain triads or sixths (`is_plain`); it is a blues
    form, habits    its sections; what stands next to what in its chords
    bar_onsets, chord_onsets, melody_onsets   of the chorus, in quarters, in order: what a gap
                    is cut out by
    """

    chorus: Chorus
    harmonies: tuple[Harmony | None, ...]
    plain: bool
    blues: bool
    form: tuple[FormSection, ...]
    habits: Habits
    bar_onsets: tuple[Fraction, ...]
    chord_onsets: tuple[Fraction, ...]
    melody_onsets: tuple[Fraction, ...]


def is_plain(chords: Iterable[ChordSpan]) -> bool:
    """Are most of the chords plain triads or sixths?"""
    rows = [span.symbol.degrees for span in chords if span.symbol.is_chord]
    plain = sum(_TRIAD.issuperset(degrees) for degrees in rows)
    return 100 * plain > PLAIN_SHARE * len(rows)


def habits_of(row: Iterable[Harmony | None]) -> Habits:
    """What stands next to what in a row of chords; a chord struck again goes on."""
    heard = [harmony for harmony in row if harmony is not None]
    joined: list[tuple[int, str]] = []
    for harmony in heard:
        chord = printed_chord(harmony)
        if not joined or joined[-1] != chord:
            joined.append(chord)
    pairs = Counter((a[1], (b[0] - a[0]) % 12, b[1])
                    for a, b in pairwise(joined))
    padded = [None, *joined, None]
    fives = Counter(zip(padded, joined, joined[1:], joined[2:], [*padded[4:], None], strict=False))
    return Habits(tuple(sorted(pairs.items())), tuple(fives.items()), _dominant_triads(heard))


def _dominant_triads(row: Sequence[Harmony]) -> frozenset[int]:
    """Roots on which a V, or what falls a fifth to the next chord and is no tonic, is printed as a
    triad, and nothing as a dominant seventh."""
    sevenths = {h.root.pitch_class for h in row if h.symbol.quality == "dominant"}
    found = set()
    for harmony, following in zip_longest(row, row[1:]):
        root, symbol = harmony.root.pitch_class, harmony.symbol
        degree = (root - harmony.key.tonic.pitch_class) % 12
        falls = following is not None and (following.root.pitch_class - root) % 12 == _FOURTH
        if set(symbol.degrees) == {"1", "3", "5"} and (degree == _FIFTH or (degree and falls)):
            found.add(root)
    return frozenset(found - sevenths)


def hear(chorus: Chorus) -> Hearing:
    """Listen to a chorus once."""
    plain = is_plain(chorus.chords)
    harmonies = _as_the_tune_has_it(chorus)
    if plain:
        harmonies = tuple(None if h is None else _plain(h) for h in harmonies)
    return Hearing(chorus, harmonies, plain, not plain and _bears_blues(chorus),
                   form_sections(chorus), habits_of(chorus.harmonies),
                   tuple(bar.onset_quarter for bar in chorus.bars),
                   tuple(span.onset_quarter for span in chorus.chords),
                   tuple(note.onset_quarter for note in chorus.melody))


def _as_the_tune_has_it(chorus: Chorus) -> tuple[Harmony | None, ...]:
    """The dominants of a chorus with what the tune and the chord before make of them: the raised
    fifth that the tune holds, no minor seventh besides the major one that it sings, and no major
    ninth and thirteenth right after their minor tonic, which are that key's major sixth and third
    (common practice)."""
    onsets = [note.onset_quarter for note in chorus.melody]
    found: list[Harmony | None] = []
    here: Harmony | None = None
    before: Harmony | None = None
    for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
        if harmony is not None and here is not None and harmony.root != here.root:
            before = here
        here = harmony or here
        if harmony is None or harmony.third != "3" or "b7" not in harmony.tones:
            found.append(harmony)
            continue
        beat = chorus.bar_at(span.onset_quarter).meter.beat_quarter
        first = max(bisect_right(onsets, span.onset_quarter) - 1, 0)
        sung = [n for n in chorus.melody[first:bisect_left(onsets, span.end_quarter)]
                if n.end_quarter > span.onset_quarter]
        harmony = _with_raised_fifth(harmony, [n for n in sung if n.duration_quarter >= beat])
        harmony = _out_of_minor(harmony, before, {n.pitch.pitch_class for n in sung})
        found.append(_without_added_seventh(harmony, [
            n for n in sung if n.duration_quarter >= beat / 2]))
    return tuple(found)


def _without_added_seventh(harmony: Harmony, sung: Sequence[SoundingNote]) -> Harmony:
    """A bare triad to which a player would add the minor seventh, with the sixth in its place where
    the tune sings the major seventh over it: the other one would give away what comes."""
    relative = {harmony.symbol.relative(n.pitch.pitch_class) for n in sung}
    if (harmony.symbol.seventh is not None or degree_pitch_class("7") not in relative
            or degree_pitch_class("b7") in relative):
        return harmony
    return replace(harmony, tones=tuple("6" if d == "b7" else d for d in harmony.tones),
                   tensions=tuple(d for d in harmony.tensions if d not in ("13", "b13")))


def _with_raised_fifth(harmony: Harmony, held: Sequence[SoundingNote]) -> Harmony:
    """A dominant whose fifth the tune raises, by the name the tune gives it."""
    relative = {harmony.symbol.relative(n.pitch.pitch_class): n.pitch for n in held}
    raised = relative.get(degree_pitch_class("#5"))
    if (raised is None or "5" not in harmony.tones or degree_pitch_class("5") in relative
            or not {"13", "b13"}.isdisjoint(harmony.symbol.degrees)):
        return harmony
    fifth = raised.note_name == harmony.symbol.name_of("#5")
    tensions = [d for d in harmony.tensions if d not in ("13", "b13")]
    return replace(
        harmony, tensions=sort_degrees(tensions if fifth else [*tensions, "b13"]),
        tones=tuple("#5" if d == "5" else d for d in harmony.tones if fifth or d != "5"))


def _out_of_minor(harmony: Harmony, before: Harmony | None, sung: set[int]) -> Harmony:
    """A dominant without the colours of major where it comes from its own minor tonic."""
    if (before is None or before.third != "b3"
            or (before.root.pitch_class - harmony.root.pitch_class) % 12 != _FOURTH):
        return harmony
    symbol = harmony.symbol
    kept = tuple(d for d in harmony.tensions if d not in ("9", "13") or d in symbol.degrees
                 or symbol.name_of(d).pitch_class in sung)
    return harmony if kept == harmony.tensions else replace(harmony, tensions=kept)


def _bears_blues(chorus: Chorus) -> bool:
    """Whether a tune bears blues notes: a minor key, or a dominant seventh on the first degree
    among its chords (common practice)."""
    tonic = chorus.key.tonic.pitch_class
    return chorus.key.mode == "minor" or any(
        h is not None and h.symbol.quality == "dominant"
        and h.root.pitch_class == tonic for h in chorus.harmonies)


def _plain(harmony: Harmony) -> Harmony:
    named = harmony.symbol.degrees
    return replace(harmony, tensions=tuple(d for d in harmony.tensions
                                           if d in _PLAIN_COLOURS or d in named))


def situation_of(hearing: Hearing, gaps: Sequence[Gap], number: int,
                 same_each_time: bool = False) -> Situation:
    """Gap `number` (from 1) as it is heard. `spans` is empty where there is no chord.

    same_each_time   music that comes again is heard as it was the first time
    """
    chorus, gap = hearing.chorus, gaps[number - 1]
    zero = gap.onset_quarter
    meter = chorus.bar_at(zero).meter
    phrase_start = gaps[number - 2].end_quarter if number >= 2 else Fraction(0)
    next_gap = gaps[number].onset_quarter if number < len(gaps) else None
    horizon = gap.end_quarter + _AFTER_BARS * meter.length_quarter
    stop = min(horizon, chorus.length_quarter if next_gap is None else next_gap)
    phrase = _notes(hearing, phrase_start, zero)
    harmonies = hearing.harmonies
    here = _index_before(hearing.chord_onsets, zero)
    just_before = bisect_left(hearing.chord_onsets, zero) - 1
    closing = closing_of(chorus, gap)
    if closing is not None:
        closing = replace(closing, onset_quarter=closing.onset_quarter - zero,
                          harmony=_plain(closing.harmony) if hearing.plain else closing.harmony,
                          replaced=tuple(place - zero for place in closing.replaced))
    written = _written(hearing, gap)
    landing = None if gap.landing is None else _moved(gap.landing, -zero)
    at_landing = (None if landing is None
                  else _index_before(hearing.chord_onsets, gap.end_quarter))
    landing_harmony = None if at_landing is None else harmonies[at_landing]
    held = None if gap.held is None else _moved(gap.held, -zero)
    spans = _effective_spans(written, gap.duration_quarter, meter.beat_quarter, held, closing)
    goes_on = bool(spans) and gap.landing_chord == spans[-1].harmony.symbol
    played = _as_sung(_coloured(spans, hearing.plain, held, landing_harmony, written, phrase),
                      written, phrase if landing is None or not goes_on else (*phrase, landing),
                      meter.beat_quarter)
    return Situation(
        duration_quarter=gap.duration_quarter, why=gap.why,
        bars=_grid(hearing, min([zero, *(zero + n.onset_quarter for n in phrase)]), horizon, zero),
        quarters_per_minute=pace_of(chorus.quarters_per_minute / meter.beat_quarter, meter)
        * meter.beat_quarter, feel=chorus.feel, key=chorus.key,
        plain=hearing.plain, blues=hearing.blues,
        spans=played,
        written=written,
        before=() if here is None else _changes(hearing, here, zero, backwards=True),
        after=() if at_landing is None else _changes(hearing, at_landing, zero),
        previous_harmony=None if just_before < 0 else harmonies[just_before],
        phrase=phrase, held=held, landing=landing, landing_chord=gap.landing_chord,
        landing_harmony=None if landing_harmony is None or landing is None else (
            landing_harmony.with_minor_third
            if goes_on and played[-1].harmony.is_sung_minor and landing_harmony.third == "3"
            else _denied(landing_harmony, {landing.pitch.pitch_class})),
        following=_notes(hearing, gap.end_quarter, stop, zero),
        following_gap_quarter=None if next_gap is None else next_gap - zero,
        closing=closing, form=_form(hearing, gaps, gap, same_each_time),
        habits=hearing.habits)


def _form(hearing: Hearing, gaps: Sequence[Gap], gap: Gap, same_each_time: bool) -> Form:
    """Where in the form a gap lies, and which of those that offer the same to play it is."""
    form = form_at(hearing.form, gap.onset_quarter, gap.end_quarter)
    places: dict[object, None] = {}
    turn = 0
    for other in gaps:
        if not _offers_the_same(gap, other):
            continue
        if same_each_time:
            there = form_at(hearing.form, other.onset_quarter, other.end_quarter)
            place: object = there.section, there.bar, other.beat
        else:
            place = other.number
        places.setdefault(place)
        if other is gap:
            turn = list(places).index(place)
    return replace(form, time=0 if same_each_time else form.time, turn=turn, turns=len(places))


def _offers_the_same(one: Gap, other: Gap) -> bool:
    """Whether two gaps are as long, over the same chords, from the same note to the same."""
    return one is other or (
        one.duration_quarter == other.duration_quarter
        and _midi(one.held) == _midi(other.held) and _midi(one.landing) == _midi(other.landing)
        and _changes_in(one) == _changes_in(other))


def _changes_in(gap: Gap) -> list[tuple[Fraction, ChordSymbol]]:
    """The chords of a gap, each with how far before its end it begins; the first, that the melody
    is early over, gives way to the next."""
    beat = gap.duration_quarter / gap.beats
    found = [(gap.end_quarter - span.onset_quarter, span.symbol) for span in gap.chords]
    if len(found) > 1 and gap.chords[0].duration_quarter < _ANTICIPATION * beat:
        del found[0]
    return [(gap.duration_quarter, found[0][1]), *found[1:]] if found else []


def _midi(note: SoundingNote | None) -> int | None:
    return None if note is None else note.midi


def _index_before(onsets: Sequence[Fraction], place: Fraction) -> int | None:
    """The last of some onsets that is not after a place."""
    index = bisect_right(onsets, place) - 1
    return index if index >= 0 else None


def _moved(note: SoundingNote, by: Fraction) -> SoundingNote:
    return SoundingNote(note.onset_quarter + by, note.duration_quarter, note.pitch, note.tied)


def _notes(hearing: Hearing, start: Fraction, stop: Fraction, zero: Fraction | None = None
           ) -> tuple[SoundingNote, ...]:
    """The melody from one place to another, both included, counted from the latter or `zero`."""
    first = bisect_left(hearing.melody_onsets, start)
    last = bisect_right(hearing.melody_onsets, stop)
    by = -(stop if zero is None else zero)
    return tuple(_moved(note, by) for note in hearing.chorus.melody[first:last])


def _grid(hearing: Hearing, start: Fraction, stop: Fraction, zero: Fraction
          ) -> tuple[GridBar, ...]:
    first = max(bisect_right(hearing.bar_onsets, start) - 1, 0)
    last = bisect_right(hearing.bar_onsets, stop)
    return tuple(GridBar(bar.onset_quarter - zero, bar.length_quarter, bar.meter, bar.key,
                         bar.is_pickup) for bar in hearing.chorus.bars[first:last])


def _written(hearing: Hearing, gap: Gap) -> tuple[Printed, ...]:
    """The chords printed in a gap, counted from its onset."""
    zero = gap.onset_quarter
    first = _index_before(hearing.chord_onsets, zero) or 0
    found = []
    for place in range(first, len(hearing.harmonies)):
        span, harmony = hearing.chorus.chords[place], hearing.harmonies[place]
        if span.onset_quarter >= gap.end_quarter:
            break
        start, end = max(span.onset_quarter, zero), min(span.end_quarter, gap.end_quarter)
        if start < end:
            found.append(Printed(start - zero, end - zero, span.symbol, harmony,
                                 span.onset_quarter - zero))
    return tuple(found)


def _changes(hearing: Hearing, index: int, zero: Fraction, *, backwards: bool = False
             ) -> tuple[Printed, ...]:
    """Real changes of chord, in order: from the chord `index` on, or before it."""
    chords, harmonies = hearing.chorus.chords, hearing.harmonies
    found: list[Printed] = []
    places = range(index, -1, -1) if backwards else range(index, len(chords))
    wanted = _CHANGES + backwards  # the chord at the gap itself is dropped in the end
    for place in places:
        span, harmony = chords[place], harmonies[place]
        if backwards and harmony is None and place != index:
            continue
        start, end = span.onset_quarter - zero, span.end_quarter - zero
        if found and found[-1].symbol == span.symbol:
            old = found[-1]
            start, end = min(start, old.onset_quarter), max(end, old.end_quarter)
            found[-1] = Printed(start, end, old.symbol, old.harmony, start)
        elif len(found) == wanted:
            break
        else:
            found.append(Printed(start, end, span.symbol, harmony, start))
    return tuple(reversed(found[1:])) if backwards else tuple(found)


def _effective_spans(written: Sequence[Printed], end_quarter: Fraction, beat_quarter: Fraction,
                     held: SoundingNote | None, closing: Closing | None) -> list[Span]:
    """Join equal neighbours, drop N.C., let the closing tonic stand for what it replaces, and
    give an anticipated melody its coming chord."""
    spans: list[Span] = []
    heard = [(chord.onset_quarter, chord.end_quarter, chord.harmony) for chord in written]
    if closing is not None:
        home = closing.onset_quarter
        heard = [(onset, min(end, home), harmony) for onset, end, harmony in heard
                 if onset < home]
        heard.append((home, end_quarter, closing.harmony))
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
        return []
    spans[-1] = Span(spans[-1].onset_quarter, end_quarter, spans[-1].harmony)
    first = spans[0]
    if (len(spans) > 1 and first.onset_quarter == 0
            and first.duration_quarter < _ANTICIPATION * beat_quarter and held is not None
            and any(chord.began_quarter < 0 for chord in written[:1])
            and spans[1].harmony.takes(held.pitch.pitch_class)):
        spans[0:2] = [Span(first.onset_quarter, spans[1].end_quarter, spans[1].harmony)]
    if spans[0].onset_quarter > 0:
        spans[0] = Span(Fraction(0), spans[0].end_quarter, spans[0].harmony)
    return spans


def _coloured(spans: Sequence[Span], plain: bool, held: SoundingNote | None,
              landing: Harmony | None, written: Sequence[Printed],
              phrase: Sequence[SoundingNote]) -> tuple[Span, ...]:
    """The chords with what the held note makes of them, and with what a player may alter."""
    found = []
    for place, span in enumerate(spans):
        following = spans[place + 1].harmony if place + 1 < len(spans) else landing
        harmony = span.harmony
        alterations: tuple[str, ...] = ()
        if not plain and may_be_altered(harmony, following):
            alterations = _alterations(harmony, _sung(span, written, phrase))
        elif _goes_to_minor(harmony, following):
            alterations = tuple(d for d in _alterations(harmony, _sung(span, written, phrase))
                                if d == "b9")
        if held is not None and span.onset_quarter < held.end_quarter:
            harmony = _sung_over(harmony, held.pitch.pitch_class)
        found.append(Span(span.onset_quarter, span.end_quarter, harmony, alterations))
    return tuple(found)


def _sung_long(span: Span, written: Sequence[Printed], notes: Sequence[SoundingNote],
               beat_quarter: Fraction) -> set[int]:
    """Pitch classes of the melody notes of a beat and more over a chord, from where it is printed
    up to a note on its end, where it goes on; not those over the chord that is still printed where
    the melody has come to it early."""
    start = min([span.onset_quarter, *(
        c.began_quarter for c in written
        if c.onset_quarter == span.onset_quarter and c.symbol == span.harmony.symbol)])
    return {n.pitch.pitch_class for n in notes if n.duration_quarter >= beat_quarter
            and n.onset_quarter <= span.end_quarter and n.end_quarter > start}


def _as_sung(spans: Sequence[Span], written: Sequence[Printed], notes: Sequence[SoundingNote],
             beat_quarter: Fraction) -> tuple[Span, ...]:
    """The chords as they are played under this tune: with the minor third where it holds that, or
    sings it around and not the major one.

    notes   those that sound up to the gap, and the landing where the last chord goes on
    """
    found = []
    for span in spans:
        held = {n.pitch.pitch_class for n in notes
                if n.onset_quarter <= span.onset_quarter < n.end_quarter}
        harmony = _denied(_denied(span.harmony, held),
                          _sung_long(span, written, notes, beat_quarter))
        found.append(span if harmony is span.harmony else replace(
            span, harmony=harmony, alterations=()))
    return tuple(found)


def _denied(harmony: Harmony, sung: set[int]) -> Harmony:
    return harmony.with_minor_third if harmony.is_denied(sung) else harmony


def may_be_altered(harmony: Harmony, following: Harmony | None) -> bool:
    """Is this a plain dominant seventh that goes down a fifth, to a tonic or to another
    dominant?"""
    symbol = harmony.symbol
    return (harmony.function.startswith("V7") and symbol.quality == "dominant"
            and harmony.scale.name.startswith("mixolydian") and {"3", "b7"} <= set(harmony.tones)
            and not any(degree_number(d) > 7 for d in symbol.degrees)
            and following is not None and following.symbol.quality in _GOALS
            and (following.root.pitch_class - harmony.root.pitch_class) % 12 == _FOURTH)


_GOALS = ("major", "minor", "minor-major", "dominant")
"""Where an altered dominant goes (common practice)."""


def _goes_to_minor(harmony: Harmony, following: Harmony | None) -> bool:
    """Is this a dominant on its way to a minor tonic, without a ninth so far? The flat one is that
    key's own (common practice)."""
    return (harmony.third == "3" and "b7" in harmony.tones and following is not None
            and following.third == "b3" and not {"b9", "9", "#9"} & set(harmony.tensions)
            and (following.root.pitch_class - harmony.root.pitch_class) % 12 == _FOURTH)


def _alterations(harmony: Harmony, melody: frozenset[int]) -> tuple[str, ...]:
    """The alterations that these pitch classes of the melody leave open."""
    sung = {harmony.symbol.relative(pitch_class) for pitch_class in melody}
    return tuple(degree for degree, against in _QUARRELS
                 if not any(degree_pitch_class(d) in sung for d in against))


def _sung(span: Span, written: Sequence[Printed], phrase: Sequence[SoundingNote]
          ) -> frozenset[int]:
    """Pitch classes of the melody over a chord, the part before the gap included."""
    start = span.onset_quarter
    for chord in written:
        if chord.onset_quarter <= span.onset_quarter:
            start = chord.began_quarter
    return frozenset(note.pitch.pitch_class for note in phrase
                     if note.onset_quarter < span.end_quarter and note.end_quarter > start)


def _sung_over(harmony: Harmony, held: int) -> Harmony:
    """The dominant under a held note (a pitch class) that is its altered ninth or thirteenth."""
    symbol = harmony.symbol
    named = _SUNG.get(symbol.relative(held))
    if (named is None or symbol.quality != "dominant" or "3" not in harmony.tones
            or "b7" not in harmony.tones or harmony.takes(held) or named[1] in symbol.degrees):
        return harmony
    colour, natural = named
    return replace(harmony, tensions=sort_degrees(
        [colour, *(d for d in harmony.tensions if d != natural)]))
