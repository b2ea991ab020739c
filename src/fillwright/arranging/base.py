"""What is played between the fills: the melody with a left hand, and harmony notes below it.

The base texture adapts to the fills, never the other way. The left hand is one path
through a lattice of voicings per stretch between two fills, with the fills' own left hand
as its neighbours on both sides; the notes under the melody are a second one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from fillwright.arranging.textures import (
    LEFT_TEXTURE,
    LeftChord,
    chords_of_both,
    left_chords,
    strokes_of,
    texture_at,
)
from fillwright.fills.draft import DraftNote
from fillwright.fills.player import BaseTaste, Player
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.hands.jumps import jump_ok
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import MINOR_NINTH, MUD, RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["BASE_COSTS", "Portion", "Stretch", "clear_of_left_hand", "left_hand",
           "portions"]

BASE_COSTS: Mapping[str, int] = {
    # Units: a semitone of voice leading costs 1. All common practice.
    "long rub": 400,        # a half step or minor ninth against a melody note of a beat
    "short rub": 7,         # the same against a passing note
    "third": 9,             # no third in the hand nor in the melody
    "seventh": 24,          # no seventh of a seventh chord, which lives by it
    "low intervals": 2,     # per semitone below the strict low interval limits
    "register": 1,          # per two semitones of the lowest note away from the middle
    "hole": 1,              # per semitone more than an octave and a half below the melody
    "two octaves": 2,       # on top of it, per semitone beyond two of them under a long note
    "one hand": 12,         # the left hand alone where both hands' texture is wanted
    "rootless": 40,         # no root: only where a rub leaves no other way
    "bare": 6,              # a lone root
    "jump": 600,            # the hand cannot be there in time
}


@dataclass(frozen=True, slots=True)
class Stretch:
    """Score time between two fills, with the left-hand keys before and after it and the
    places where they are struck."""

    onset_quarter: Fraction
    end_quarter: Fraction
    before: tuple[int, ...] = ()
    after: tuple[int, ...] = ()
    before_quarter: Fraction | None = None
    after_quarter: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Portion:
    """A chord within a stretch and within a bar."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony

    @property
    def duration_quarter(self) -> Fraction:
        return self.end_quarter - self.onset_quarter


def portions(chorus: Chorus, stretch: Stretch) -> list[Portion]:
    """The chords of a stretch, cut at bar lines; a scrap of an old chord under the notes
    that lead to the next one is left out (the melody alone)."""
    found: list[Portion] = []
    for bar in chorus.bars:
        for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
            start = max(bar.onset_quarter, span.onset_quarter, stretch.onset_quarter)
            end = min(bar.end_quarter, span.end_quarter, stretch.end_quarter)
            if start >= end or harmony is None:
                continue
            begun = start > span.onset_quarter and start == stretch.onset_quarter
            if begun and end - start < bar.meter.beat_quarter and start != bar.onset_quarter:
                continue
            if (found and found[-1].end_quarter == start and start != bar.onset_quarter
                    and found[-1].harmony.symbol == harmony.symbol):
                found[-1] = Portion(found[-1].onset_quarter, end, harmony)
            else:
                found.append(Portion(start, end, harmony))
    return found


def _local(portion: Portion, chord: LeftChord, taste: BaseTaste,
           melody: Sequence[SoundingNote], beat_quarter: Fraction,
           strokes: Sequence[Fraction]) -> dict[str, int]:
    harmony = portion.harmony
    midis = chord.midis
    homes = flat_nine_homes(harmony.symbol)
    costs = dict.fromkeys(("rub", "third", "seventh", "low intervals", "register", "hole",
                           "root"), 0)
    classes = {m % 12 for m in chord.all_midis}
    for note in melody:
        overlap = (min(note.end_quarter, portion.end_quarter)
                   - max(note.onset_quarter, portion.onset_quarter))
        if overlap <= 0:
            continue
        long = overlap >= beat_quarter
        if long:
            classes.add(note.midi % 12)
        for midi, stroke in zip(midis, strokes, strict=True):
            # A key struck against a sounding melody note rubs even where that note is short.
            struck = note.onset_quarter <= portion.onset_quarter + stroke < note.end_quarter
            if midi >= note.midi:
                costs["rub"] += FORBIDDEN
            elif RUB.breaks(midi, note.midi, homes):
                costs["rub"] += BASE_COSTS["long rub" if long or struck else "short rub"]
        highest = max(chord.all_midis)
        hole = BASE_COSTS["hole"] * (note.midi - highest - 18)
        if long and taste.fills_holes:
            hole += BASE_COSTS["two octaves"] * max(note.midi - highest - 24, 0)
        costs["hole"] = max(costs["hole"], hole)
    for term, degree in (("third", harmony.third), ("seventh", harmony.seventh)):
        told = {degree, "6"} if degree == "7" else {degree}  # the sixth of a tonic stands in
        if degree is not None and not any(
                (harmony.root.pitch_class + degree_pitch_class(d)) % 12 in classes
                for d in told if d is not None):
            costs[term] = BASE_COSTS[term]
    if MUD.pairs(midis):
        costs["low intervals"] = FORBIDDEN
    else:
        costs["low intervals"] = BASE_COSTS["low intervals"] * MUD.cost(midis)
    costs["register"] = BASE_COSTS["register"] * abs(midis[0] - taste.register) // 2
    bass = harmony.symbol.lowest
    if bass is not None and midis[0] % 12 != bass.pitch_class:
        costs["root"] = BASE_COSTS["rootless"]
    elif len(midis) == 1:
        costs["root"] = BASE_COSTS["bare"]
    return costs


@dataclass(frozen=True, slots=True)
class _Ends:
    """The first and the last stroke of a chord: keys and places."""

    first: tuple[int, ...]
    last: tuple[int, ...]
    first_quarter: Fraction
    last_quarter: Fraction


def _ends(portion: Portion, chord: LeftChord, strokes: Sequence[Fraction]) -> _Ends:
    first, last = min(strokes), max(strokes)
    return _Ends(tuple(m for m, o in zip(chord.midis, strokes, strict=True) if o == first),
                 tuple(m for m, o in zip(chord.midis, strokes, strict=True) if o == last),
                 portion.onset_quarter + first, portion.onset_quarter + last)


def _jump(before: _Ends, after: _Ends, seconds_per_quarter: float, hand: str) -> int:
    """What it costs to go on from one stroke to the next: nothing where there is time."""
    if not before.last or not after.first:
        return 0
    seconds = float(after.first_quarter - before.last_quarter) * seconds_per_quarter
    return 0 if jump_ok(before.last, after.first, seconds, hand) else BASE_COSTS["jump"]


def _choices(chorus: Chorus, portion: Portion, texture: str, melody: Sequence[SoundingNote],
             ceiling: int, player: Player, alone: bool) -> list[LeftChord]:
    """All chords that may stand over a portion, those of the wanted texture first.

    melody   what sounds meanwhile
    alone    the left hand has nobody's help: no texture for both hands
    """
    beat = chorus.bar_at(portion.onset_quarter).meter.beat_quarter
    own = LEFT_TEXTURE.get(texture, texture)
    low = player.level.base.lowest
    chords: list[LeftChord] = []
    top = next((n for n in melody if n.onset_quarter == portion.onset_quarter
                and n.duration_quarter >= beat), None)
    if own != texture and top is not None and not alone:
        chords = [c for c in chords_of_both(portion.harmony, texture, player, low, top.midi)
                  if c.midis[-1] < ceiling]
    chords += left_chords(portion.harmony, own, player, low, ceiling)
    if player.level.base.fills_holes and own != "shells" and _hole(chords, melody, beat):
        chords += left_chords(portion.harmony, "shells", player, low, ceiling)
    return list(dict.fromkeys(chords))


def _hole(chords: Sequence[LeftChord], melody: Sequence[SoundingNote], beat: Fraction) -> bool:
    """Whether a long melody note stands more than two octaves above whatever chord is taken."""
    highest = max(max(c.all_midis) for c in chords)
    return any(n.midi - highest > 24 for n in melody if n.duration_quarter >= beat)


def left_hand(chorus: Chorus, stretch: Stretch, melody: Sequence[SoundingNote], *,
              player: Player, fuller: bool = False, alone: bool = False
              ) -> tuple[list[DraftNote], list[DraftNote]]:
    """The left hand of one stretch: a chord per portion, struck as its texture wants; and what
    the right hand strikes with it under the melody where the texture is for both hands.

    fuller   a second chorus, thicker than the first
    alone    no texture for both hands
    """
    size = player.hand.name
    places = portions(chorus, stretch)
    if not places:
        return [], []
    layers: list[list[LeftChord]] = []
    ends: list[list[_Ends]] = []
    local: list[dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]] = []
    for portion in places:
        sounding = [n for n in melody if n.onset_quarter < portion.end_quarter
                    and n.end_quarter > portion.onset_quarter]
        ceiling = min([n.midi for n in sounding] + [67]) - 1
        bar = chorus.bar_at(portion.onset_quarter)
        texture = texture_at(chorus, portion.duration_quarter, bar, player.level, fuller)
        chords = _choices(chorus, portion, texture, sounding, ceiling, player, alone)
        attacks = {n.onset_quarter - portion.onset_quarter for n in melody}
        places_of = [[onset for onset, _ in strokes_of(c, portion.duration_quarter,
                                                       bar.meter.beat_quarter, attacks,
                                                       chorus.feel, ())] for c in chords]
        rows = [_local(portion, c, player.level.base, sounding, bar.meter.beat_quarter, own)
                for c, own in zip(chords, places_of, strict=True)]
        if any(c.under for c in chords):
            for chord, row in zip(chords, rows, strict=True):
                row["one hand"] = 0 if chord.under else BASE_COSTS["one hand"]
        if all(sum(r.values()) >= FORBIDDEN for r in rows):
            chords = [LeftChord(chords[-1].pitches[:1], "shells")]
            rows = [{"bare": 0}]
            places_of = [[Fraction(0)]]
        layers.append(chords)
        ends.append([_ends(portion, c, own) for c, own in zip(chords, places_of, strict=True)])
        local.append({term: np.array([r[term] for r in rows], dtype=np.int64)
                      for term in rows[0]})
    for index, keys in ((0, stretch.before), (-1, stretch.after)):
        if keys:
            local[index]["edge"] = np.array(
                [voice_leading(keys, chord.midis) for chord in layers[index]],
                dtype=np.int64)
    pace = chorus.seconds_per_quarter
    if stretch.before_quarter is not None:
        hand_before = _Ends((), stretch.before, Fraction(0), stretch.before_quarter)
        local[0]["jump in"] = np.array([_jump(hand_before, e, pace, size) for e in ends[0]],
                                       dtype=np.int64)
    if stretch.after_quarter is not None:
        hand_after = _Ends(stretch.after, (), stretch.after_quarter, Fraction(0))
        local[-1]["jump out"] = np.array([_jump(e, hand_after, pace, size) for e in ends[-1]],
                                         dtype=np.int64)
    steps = [{"voice leading": np.array(
        [[_moved(a, b) for b in layers[i + 1]] for a in layers[i]], dtype=np.int64),
        "jump": np.array([[_jump(a, b, pace, size) for b in ends[i + 1]] for a in ends[i]],
                         dtype=np.int64)}
        for i in range(len(layers) - 1)]
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return [], []
    notes: list[DraftNote] = []
    under: list[DraftNote] = []
    previous: tuple[Fraction, ...] = ()
    for portion, layer, place in zip(places, layers, paths[0].states, strict=True):
        beat = chorus.bar_at(portion.onset_quarter).meter.beat_quarter
        attacks = {n.onset_quarter - portion.onset_quarter for n in melody}
        chord = layer[place]
        strokes = strokes_of(chord, portion.duration_quarter, beat, attacks,
                             chorus.feel, previous)
        previous = tuple(sorted({onset for onset, _ in strokes}))
        notes += [DraftNote(portion.onset_quarter + onset, length, pitch, "left")
                  for pitch, (onset, length) in zip(chord.pitches, strokes, strict=True)]
        if chord.under:
            over = next(n for n in melody if n.onset_quarter == portion.onset_quarter)
            length = min(over.end_quarter, portion.end_quarter) - portion.onset_quarter
            under += [DraftNote(portion.onset_quarter, length, pitch, "right")
                      for pitch in chord.under]
    return notes, under


def _moved(before: LeftChord, after: LeftChord) -> int:
    """Voice leading from chord to chord; bass and upper notes apart where the hand moves."""
    if before.texture == after.texture == "bass and chord":
        bass = abs(before.midis[0] - after.midis[0])
        return voice_leading(before.midis[1:], after.midis[1:]) + bass // 3
    if before.texture == after.texture and before.texture in ("two-feel", "broken tenths"):
        return abs(before.midis[0] - after.midis[0]) + abs(before.midis[-1] - after.midis[-1])
    if before.under and after.under:
        return voice_leading(before.all_midis, after.all_midis)
    return voice_leading(before.midis, after.midis)


def clear_of_left_hand(midis: Sequence[int], left: Sequence[int], harmony: Harmony) -> bool:
    """Whether right-hand keys stand above the left hand's without mud or a minor ninth."""
    if left and max(left) >= min(midis):
        return False
    together = sorted({*midis, *left})
    return not MUD.pairs(together) and not MINOR_NINTH.cost(
        together, flat_nine_homes(harmony.symbol))
