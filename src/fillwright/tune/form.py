"""A tune played out once: repeats, endings and jumps unfolded, ties merged, chords in order."""

from __future__ import annotations

from itertools import groupby
from math import lcm

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.given import given_tempo, given_whole
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony, goal_of, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.local_key import home_key, local_keys
from fillwright.theory.pitch import Pitch
from fillwright.tune.limits import MAX_PLAYED_EVENTS
from fillwright.tune.model import FEELS, Bar, ChordSpan, Chorus, ChorusBar, SoundingNote, Tune
from fillwright.tune.order import cut_for_pickup, lacks_its_pickup, playing_order

__all__ = ["playing_order", "unfold"]


def unfold(tune: Tune, *, tempo: Fraction | None = None, feel: str | None = None,
           octave: int = 0) -> Chorus:
    """Play a tune out once.

    tempo   felt beats a minute; None for the tune's own
    feel    "swing" or "straight"; None for the tune's own
    octave  octaves the melody is moved up

    Every sheet unfolds: marks that make no sense are ignored with a warning that names the
    bar. Raises InputError where the repeats make more bars or notes than
    `fillwright.tune.limits` allows, and for a tempo, feel or octave that is none.
    """
    if not isinstance(tune, Tune):
        raise InputError("a Tune is unfolded, as read_tune gives it")
    tempo_bpm = tune.tempo_bpm if tempo is None else given_tempo(tempo)
    if feel not in (None, *FEELS):
        raise InputError(f"{feel!r} is no feel; there are {' and '.join(FEELS)}")
    octave = given_whole(octave, "by how many octaves a melody is moved", -4, 4)
    try:
        order, warnings = playing_order(tune.bars, tune.part_order)
    except InputError as error:
        raise InputError(error.message, tune.source) from None
    events = sum([len(tune.bars[index].notes) + len(tune.bars[index].chords) for index in order])
    if events > MAX_PLAYED_EVENTS:
        raise InputError(f"with its repeats the tune has {events} notes and chord symbols, more "
                         f"than the limit of {MAX_PLAYED_EVENTS}", tune.source)
    clock = _Clock(tune.bars)
    bars: list[ChorusBar] = []
    onsets: list[int] = []
    passes: dict[int, int] = {}
    place = 0
    for turn, index in enumerate(order):
        bar = tune.bars[index]
        passes[index] = count = passes.get(index, 0) + 1
        length = clock.length(index)
        following = order[turn + 1] if turn + 1 < len(order) else index + 1
        if following <= index and tune.bars[following].is_pickup:
            cut = cut_for_pickup(bar, tune.bars[following])
            length -= 0 if cut is None else int(cut * clock.per_quarter)
        elif following != index + 1 and lacks_its_pickup(tune.bars, index, following):
            length += clock.length(index + 1)
        bars.append(ChorusBar(index, bar.number, count, clock.quarter(place),
                              clock.quarter(length), bar.meter, bar.key, bar.is_pickup,
                              bar.section))
        onsets.append(place)
        place += length
    onsets.append(place)
    melody = _melody(clock, order, onsets, octave)
    chords, keys = _chords(clock, order, onsets, warnings)
    if len(set(keys)) == 1:
        home = home_key([c.symbol for c in chords], keys[0], (n.midi for n in melody))
        keys = [home] * len(keys)
    return Chorus(tune, tuple(bars), melody, chords, _harmonies(chords, keys),
                  clock.quarter(place), tempo_bpm,
                  feel or tune.feel, octave, tune.warnings + tuple(warnings))


class _Clock:
    """Score time in whole ticks, which a chorus is added up in; exact, and much faster than
    adding fractions."""

    def __init__(self, bars: tuple[Bar, ...]) -> None:
        self.bars = bars
        denominators = {bar.length_quarter.denominator for bar in bars}
        for bar in bars:
            for note in bar.notes:
                denominators.add(note.onset_quarter.denominator)
                denominators.add(note.duration_quarter.denominator)
            for chord in bar.chords:
                denominators.add(chord.onset_quarter.denominator)
        self.per_quarter = lcm(*denominators)
        self._quarters: dict[int, Fraction] = {}
        self._ticks: dict[int, int] = {}
        self._midi: dict[int, int] = {}
        self._lengths = [self.ticks(bar.length_quarter) for bar in bars]
        self._notes: dict[int, list[tuple[int, int, int, bool, bool, Pitch]]] = {}

    def ticks(self, quarters: Fraction) -> int:
        found = self._ticks.get(id(quarters))  # of values that live as long as the bars
        if found is None:
            numerator, denominator = quarters.as_integer_ratio()
            found = self._ticks[id(quarters)] = numerator * (self.per_quarter // denominator)
        return found

    def quarter(self, ticks: int) -> Fraction:
        found = self._quarters.get(ticks)
        if found is None:
            whole, rest = divmod(ticks, self.per_quarter)  # whole numbers need no reducing
            found = self._quarters[ticks] = (Fraction(ticks, self.per_quarter) if rest
                                             else Fraction(whole))
        return found

    def length(self, index: int) -> int:
        return self._lengths[index]

    def notes(self, index: int) -> list[tuple[int, int, int, bool, bool, Pitch]]:
        """Of each note of a printed bar: onset, end, MIDI number, tie start and stop, pitch."""
        found = self._notes.get(index)
        if found is None:
            found = self._notes[index] = []
            for note in self.bars[index].notes:
                pitch = note.pitch
                midi = self._midi.get(id(pitch))
                if midi is None:
                    midi = self._midi[id(pitch)] = pitch.midi
                onset = self.ticks(note.onset_quarter)
                found.append((onset, onset + self.ticks(note.duration_quarter), midi,
                              note.tie_start, note.tie_stop, pitch))
        return found


def _melody(clock: _Clock, order: list[int], onsets: list[int], octave: int
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
    quarter = clock.quarter
    onset = end = midi = -1
    pitch: Pitch | None = None
    tied = started = False
    previous = -2
    for index, bar_onset, bar_end in zip(order, onsets, onsets[1:], strict=False):
        near = index == previous + 1
        longest = bar_end - bar_onset
        for begin, finish, number, tie_start, tie_stop, written in clock.notes(index):
            if finish > longest:  # a bar cut short for the pickup that follows
                finish, tie_start = longest, False
            if pitch is not None:
                if number == midi and bar_onset + begin == end and (
                        (started or tie_stop) if near else
                        started and (tie_stop or clock.bars[index].marks.ending_starts)):
                    tied = near = True
                    end = bar_onset + finish
                    started = tie_start
                    continue
                notes.append(SoundingNote(quarter(onset), quarter(end - onset), pitch, tied))
            near = True
            onset, end, midi, pitch = bar_onset + begin, bar_onset + finish, number, written
            tied, started = False, tie_start
            if octave:
                moved = raised.get(written)
                if moved is None:
                    moved = raised[written] = Pitch(written.step, written.alter,
                                                    written.octave + octave)
                pitch = moved
        previous = index
    if pitch is not None:
        notes.append(SoundingNote(quarter(onset), quarter(end - onset), pitch, tied))
    return tuple(notes)


def _chords(clock: _Clock, order: list[int], onsets: list[int], warnings: list[str]
            ) -> tuple[tuple[ChordSpan, ...], list[Key]]:
    """Spans to the next chord, and the key each begins in."""
    struck: list[tuple[int, ChordSymbol, Key]] = []
    ordered = True
    length = onsets[-1]
    for index, bar_onset in zip(order, onsets, strict=False):
        bar = clock.bars[index]
        for chord in bar.chords:
            place = bar_onset + clock.ticks(chord.onset_quarter)
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
    for number, (place, symbol, _) in enumerate(struck):
        end = struck[number + 1][0] if number + 1 < len(struck) else length
        spans.append(ChordSpan(clock.quarter(place), clock.quarter(end - place), symbol))
    return tuple(spans), [key for _, _, key in struck]


def _harmonies(spans: tuple[ChordSpan, ...], keys: list[Key]) -> tuple[Harmony | None, ...]:
    """Each chord heard in its local key inside the key of its bar, with the next different
    chord after it."""
    heard: list[Key] = []
    for home, run in groupby(zip(spans, keys, strict=True), key=lambda pair: pair[1]):
        heard.extend(local_keys([span.symbol for span, _ in run], home))
    result: list[Harmony | None] = [None] * len(spans)
    known: dict[tuple[int, int, int, int], Harmony] = {}
    following: ChordSymbol | None = None
    goal: ChordSymbol | None = None
    current: ChordSymbol | None = None
    for index in range(len(spans) - 1, -1, -1):
        symbol = spans[index].symbol
        if symbol.root is None:
            continue
        if current is not None and not _same(symbol, current):
            following = current
            goal = goal_of(symbol, following, goal)
        current = symbol
        key = (id(symbol), id(following), id(goal), id(heard[index]))
        harmony = known.get(key)
        if harmony is None:
            harmony = known[key] = harmony_of(symbol, heard[index], following, goal)
        result[index] = harmony
    return tuple(result)


def _same(one: ChordSymbol, other: ChordSymbol) -> bool:
    return one is other or (one.root == other.root and one.kind == other.kind
                            and one.degrees == other.degrees)
