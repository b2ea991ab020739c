"""A tune played out once: repeats, endings and jumps unfolded, ties merged, chords in order."""

from __future__ import annotations

from fractions import Fraction

from fillwright.errors import InputError
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch
from fillwright.tune.model import Bar, ChordSpan, Chorus, ChorusBar, SoundingNote, Tune
from fillwright.tune.order import playing_order

__all__ = ["playing_order", "unfold"]


def unfold(tune: Tune, *, tempo: Fraction | None = None, feel: str | None = None,
           octave: int = 0) -> Chorus:
    """Play a tune out once.

    tempo   felt beats a minute; None for the tune's own
    feel    "swing" or "straight"; None for the tune's own
    octave  octaves the melody is moved up

    Every sheet unfolds: marks that make no sense are ignored with a warning that names the
    bar. Raises InputError where the repeats make more bars than
    `fillwright.tune.limits.MAX_PLAYED_BARS`, ValueError for a tempo, feel or octave that
    is none.
    """
    if tempo is not None and tempo <= 0:
        raise ValueError("a tempo is positive")
    if feel not in (None, "swing", "straight"):
        raise ValueError(f"not a feel: {feel!r}")
    if not -4 <= octave <= 4:
        raise ValueError(f"not a number of octaves to move a melody: {octave}")
    try:
        order, warnings = playing_order(tune.bars)
    except InputError as error:
        raise InputError(error.message, tune.source) from None
    bars: list[ChorusBar] = []
    passes: dict[int, int] = {}
    place = Fraction(0)
    for index in order:
        bar = tune.bars[index]
        passes[index] = passes.get(index, 0) + 1
        bars.append(ChorusBar(index, bar.number, passes[index], place, bar.length_quarter,
                              bar.meter, bar.key, bar.is_pickup, bar.section))
        place += bar.length_quarter
    melody = _melody(tune.bars, bars, octave)
    chords, keys = _chords(tune.bars, bars, place, warnings)
    return Chorus(tune, tuple(bars), melody, chords, _harmonies(chords, keys), place,
                  tune.tempo_bpm if tempo is None else Fraction(tempo), feel or tune.feel,
                  octave, tune.warnings + tuple(warnings))


def _melody(printed: tuple[Bar, ...], bars: list[ChorusBar], octave: int
            ) -> tuple[SoundingNote, ...]:
    """Notes in order, ties merged along the way that is played.

    A tie that is begun joins the next note if that adjoins and has the same MIDI pitch,
    whether or not a stop is written there. Where the bars played are not neighbours on the
    page it must end in an ending or on a note with a stop: a tie over the repeat sign into
    a later ending is one, the same pitch at the start of the repeat is not. A stop without
    a start counts between neighbours only.
    """
    raised: dict[Pitch, Pitch] = {}
    notes: list[SoundingNote] = []
    open_onset = open_end = Fraction(-1)
    open_pitch: Pitch | None = None
    tied = started = False
    previous = -2
    for bar in bars:
        written = printed[bar.bar_index]
        onset_bar = bar.onset_quarter
        first = True
        for note in written.notes:
            onset = onset_bar + note.onset_quarter
            if open_pitch is not None:
                joins = False
                if (started or note.tie_stop) and onset == open_end \
                        and note.pitch.midi == open_pitch.midi:
                    if not first or bar.bar_index in (previous, previous + 1) \
                            and bar.bar_index != previous:
                        joins = True
                    else:
                        joins = started and (note.tie_stop or written.marks.ending_starts)
                if joins:
                    tied = True
                    open_end = onset + note.duration_quarter
                    started = note.tie_start
                    first = False
                    continue
                notes.append(SoundingNote(open_onset, open_end - open_onset, open_pitch, tied))
            first = False
            open_onset, open_end = onset, onset + note.duration_quarter
            open_pitch = note.pitch
            if octave:
                moved = raised.get(open_pitch)
                if moved is None:
                    moved = raised[open_pitch] = Pitch(open_pitch.step, open_pitch.alter,
                                                       open_pitch.octave + octave)
                open_pitch = moved
            tied, started = False, note.tie_start
        previous = bar.bar_index
    if open_pitch is not None:
        notes.append(SoundingNote(open_onset, open_end - open_onset, open_pitch, tied))
    return tuple(notes)


def _chords(printed: tuple[Bar, ...], bars: list[ChorusBar], length: Fraction,
            warnings: list[str]) -> tuple[tuple[ChordSpan, ...], list[Key]]:
    """Spans to the next chord, and the key each begins in."""
    struck: list[tuple[Fraction, ChordSymbol, Key]] = []
    ordered = True
    for bar in bars:
        for chord in printed[bar.bar_index].chords:
            place = bar.onset_quarter + chord.onset_quarter
            if place >= length:
                sentence = f"bar {bar.number}: chord {chord.symbol} stands behind the last bar"
                if sentence not in warnings:
                    warnings.append(sentence)
                continue
            if struck and place <= struck[-1][0]:
                if place == struck[-1][0]:  # written behind the bar before, and here again
                    struck.pop()
                else:
                    ordered = False
            struck.append((place, chord.symbol, bar.key))
    if not ordered:
        latest = {place: (place, symbol, key) for place, symbol, key in struck}
        struck = [latest[place] for place in sorted(latest)]
    spans = []
    for index, (place, symbol, _) in enumerate(struck):
        end = struck[index + 1][0] if index + 1 < len(struck) else length
        spans.append(ChordSpan(place, end - place, symbol))
    return tuple(spans), [key for _, _, key in struck]


def _harmonies(spans: tuple[ChordSpan, ...], keys: list[Key]) -> tuple[Harmony | None, ...]:
    """Each chord heard in the key of its bar, with the next different chord after it."""
    result: list[Harmony | None] = [None] * len(spans)
    known: dict[tuple[int, int, Key], Harmony] = {}
    following: ChordSymbol | None = None
    current: ChordSymbol | None = None
    for index in range(len(spans) - 1, -1, -1):
        symbol = spans[index].symbol
        if symbol.root is None:
            continue
        if current is not None and not _same(symbol, current):
            following = current
        current = symbol
        key = (id(symbol), id(following), keys[index])
        harmony = known.get(key)
        if harmony is None:
            harmony = known[key] = harmony_of(symbol, keys[index], following)
        result[index] = harmony
    return tuple(result)


def _same(one: ChordSymbol, other: ChordSymbol) -> bool:
    return one is other or (one.root == other.root and one.kind == other.kind
                            and one.degrees == other.degrees)
