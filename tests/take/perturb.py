"""Takes of which everything is known: an arrangement, played by a student who never existed.

Seeded: the same wishes give the same take. Times are made from the program's own performance of
the arrangement (swing, a line behind the beat, rolled chords) by what a student does to it.
"""

from __future__ import annotations

import io
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

import mido  # type: ignore[import-untyped]

from fillwright import Arrangement, Performance, perform
from fillwright.take import FormRun, PedalMove, Stroke, Take

__all__ = ["Played", "Wish", "jump_is_found", "jumping", "midi_of", "played"]


@dataclass(frozen=True)
class Wish:
    """What the student does.

    tempo         times the marked tempo
    drift         the tempo wanders by this share, up and down over `drift_beats`
    rubato        the first four beats are drawn out
    jitter_sec    how unevenly each key is struck (standard deviation)
    missed        share of all strokes left out
    wrong         share of all strokes a half or a whole step away
    octave        the melody this many octaves away
    doubled       the melody in octaves, upper key added
    thickened     a third is added below every other melody note
    ornaments     share of melody notes with a short note before it
    late_sec      a landing is late by up to this much, or early by a third of it
    uneven_sec    the left hand is late by this, always
    sections      what is played, as (from, to) in quarters; () for all of it
    pause_sec     between sections that do not follow in time
    """

    seed: int = 0
    tempo: float = 1.0
    drift: float = 0.0
    drift_beats: float = 64.0
    rubato: bool = False
    jitter_sec: float = 0.008
    missed: float = 0.0
    wrong: float = 0.0
    octave: int = 0
    doubled: bool = False
    thickened: bool = False
    ornaments: float = 0.0
    late_sec: float = 0.0
    uneven_sec: float = 0.0
    sections: tuple[tuple[float, float], ...] = ()
    pause_sec: float = 0.0


@dataclass
class Played:
    """A take and its truth.

    roles     per event
    gaps      per event: the number of the gap a fill stroke belongs to, else None
    melody    (run, note) -> event, for each melody note that was played right
    wrong     (run, note) -> event, for each that was played wrong
    missed    (run, note) of the notes left out
    late_sec  (run, gap) -> how late the landing is against the beat, what is uneven in its stroke
              counted, where something of the run was struck before it: before that nobody hears one
    """

    take: Take
    arrangement: Arrangement
    roles: list[str] = field(default_factory=list)
    gaps: list[int | None] = field(default_factory=list)
    melody: dict[tuple[int, int], int] = field(default_factory=dict)
    wrong: dict[tuple[int, int], int] = field(default_factory=dict)
    missed: set[tuple[int, int]] = field(default_factory=set)
    late_sec: dict[tuple[int, int], float] = field(default_factory=dict)
    note_late_sec: dict[tuple[int, int], float] = field(default_factory=dict)


@dataclass
class _Key:
    sec: float
    release: float
    midi: int
    velocity: int
    role: str
    gap: int | None
    note: tuple[int, int] | None = None
    is_wrong: bool = False


def played(arrangement: Arrangement, wish: Wish) -> Played:
    """What the student plays."""
    random_ = random.Random(f"{wish}")
    chorus = arrangement.chorus
    performance = perform(arrangement)
    breaths = _breaths(arrangement, performance)
    quarter_sec = chorus.seconds_per_quarter
    melody_of: dict[int, int] = {}
    for index, written_note in enumerate(arrangement.notes):
        if written_note.role == "melody":
            melody_of[index] = len(melody_of)
    assert len(melody_of) == len(chorus.melody)
    landings = {gap.landing.onset_quarter: gap.number for gap in arrangement.gaps
                if gap.landing is not None}
    sections = wish.sections or ((0.0, float(chorus.length_quarter)),)
    keys: list[_Key] = []
    result = Played(Take("", ()), arrangement)
    at = 0.0        # seconds, before the student's tempo
    on_time: dict[tuple[int, int], float] = {}
    began: dict[int, float] = {}
    for run, (start, end) in enumerate(sections):
        start_sec, end_sec = start * quarter_sec, end * quarter_sec
        late = _lateness(arrangement, landings, wish, random_)
        first = len(keys)
        for note in performance.notes:
            hand_note = arrangement.notes[note.index]
            written = float(hand_note.onset_quarter)
            which = melody_of.get(note.index)
            if which is not None:
                written = float(chorus.melody[which].onset_quarter)
            if not start <= written < end:
                continue
            sec = note.onset_sec - start_sec + at
            key = _Key(sec, sec + note.duration_sec, note.midi, note.velocity,
                       {"melody": "melody", "base": "accompaniment", "fill": "fill"}[
                           hand_note.role], hand_note.gap)
            if which is not None:
                key.note = (run, which)
                key.sec += late.get(which, 0.0)
                shifted = float(hand_note.onset_quarter) - written
                by = late.get(which, 0.0) + shifted * quarter_sec + breaths[note.index]
                result.note_late_sec[run, which] = by
                on_time[run, which] = key.sec - by
            keys.append(key)
        began[run] = min((key.sec for key in keys[first:]), default=at)
        at += end_sec - start_sec
        if run + 1 < len(sections):
            at += wish.pause_sec
    keys = _spoiled(keys, wish, random_)
    warp = _warp(wish, quarter_sec * float(chorus.meter.beat_quarter), at)
    for key in keys:
        jitter = random_.gauss(0.0, wish.jitter_sec)
        length = key.release - key.sec
        key.sec = warp(key.sec) + jitter
        key.release = key.sec + length / wish.tempo
    struck = {key.note: key.sec for key in keys if key.note is not None}
    for (run, which), by in result.note_late_sec.items():
        sec = on_time[run, which]
        late_by = struck.get((run, which), warp(sec + by)) - warp(sec)
        result.note_late_sec[run, which] = late_by
        gap = landings.get(chorus.melody[which].onset_quarter)
        if gap is not None and began[run] < sec:
            result.late_sec[run, gap] = late_by
    return _finished(keys, result)


def _breaths(arrangement: Arrangement, performance: Performance) -> dict[int, float]:
    """By the index of a note, how much later a phrase of a ballad begins for a breath: a listener
    hears that it comes after the beat."""
    with patch("fillwright.sound.touch.BREATH_BEAT", 0.0):
        without = {note.index: note.onset_sec for note in perform(arrangement).notes}
    return {note.index: note.onset_sec - without[note.index] for note in performance.notes}


def _lateness(arrangement: Arrangement, landings: dict[Any, int], wish: Wish,
              random_: random.Random) -> dict[int, float]:
    """Melody note -> seconds: landings that are late or early; what follows within a bar is
    squeezed until it is in place again."""
    if not wish.late_sec:
        return {}
    chorus, late = arrangement.chorus, {}
    for place, note in enumerate(chorus.melody):
        if note.onset_quarter not in landings:
            continue
        by = random_.uniform(-wish.late_sec / 3, wish.late_sec)
        late[place] = by
        share, follower = 1.0, place + 1
        while (follower < len(chorus.melody) and share > 0.3
               and chorus.melody[follower].onset_quarter not in landings
               and chorus.melody[follower].onset_quarter - note.onset_quarter < 3):
            share /= 2
            late[follower] = by * share
            follower += 1
    return late


def _spoiled(keys: Sequence[_Key], wish: Wish, random_: random.Random) -> list[_Key]:
    found = []
    for key in keys:
        if random_.random() < wish.missed:
            continue
        if key.role != "melody" and key.midi < 60:
            key.sec += wish.uneven_sec
        if random_.random() < wish.wrong:
            key.midi += random_.choice((-2, -1, 1, 2))
            key.is_wrong = key.role == "melody"
            key.role = "slip" if key.is_wrong else key.role
        elif key.role == "melody":
            key.midi += 12 * wish.octave
            if wish.doubled:
                found.append(_Key(key.sec, key.release, key.midi + 12, key.velocity, "melody",
                                  None))
            if wish.thickened and random_.random() < 0.5:
                found.append(_Key(key.sec, key.release, key.midi - random_.choice((3, 4)),
                                  key.velocity, "accompaniment", None))
            if random_.random() < wish.ornaments:
                found.append(_Key(key.sec - 0.07, key.sec, key.midi + random_.choice((-1, -2, 2)),
                                  max(key.velocity - 15, 1), "ornament", None))
        found.append(key)
    return found


def _warp(wish: Wish, beat_sec: float, end: float) -> Callable[[float], float]:
    """Seconds of the performance -> seconds of the student, by adding up small steps."""
    step, total = 0.05, 0.0
    table = [0.0]
    phase = random.Random(wish.seed).uniform(0, 2 * math.pi)
    while len(table) * step < end + 10:
        now = len(table) * step
        pace = 1 / wish.tempo
        pace *= 1 + wish.drift * math.sin(phase + 2 * math.pi * now / (wish.drift_beats * beat_sec))
        if wish.rubato and now < 4 * beat_sec:
            pace *= 1.0 + 0.35 * math.sin(math.pi * now / (4 * beat_sec))
        total += step * pace
        table.append(total)

    def warp(sec: float) -> float:
        place = sec / step
        if place < 0:
            return sec
        index = min(int(place), len(table) - 2)
        return table[index] + (place - index) * (table[index + 1] - table[index])

    return warp


def _finished(keys: list[_Key], result: Played) -> Played:
    keys.sort(key=lambda key: (key.sec, key.midi))
    zero = keys[0].sec
    strokes = []
    reached = set(result.note_late_sec)
    for event, key in enumerate(keys):
        onset = key.sec - zero
        release = max(key.release - zero, onset + 0.03)
        strokes.append(Stroke(event, onset, release, release, min(max(key.midi, 21), 108),
                              key.velocity))
        result.roles.append(key.role)
        result.gaps.append(key.gap)
        if key.note is not None:
            (result.wrong if key.is_wrong else result.melody)[key.note] = event
    result.missed = reached - set(result.melody) - set(result.wrong)
    pedal: tuple[PedalMove, ...] = ()
    result.take = Take("take.mid", tuple(strokes), pedal)
    return result


def midi_of(take: Take) -> bytes:
    """The take as a Standard MIDI File: a millisecond a tick."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    events = [(round(stroke.onset_sec * 1000), 1, stroke.midi, stroke.velocity)
              for stroke in take.strokes]
    events += [(round(stroke.release_sec * 1000), 0, stroke.midi, 0) for stroke in take.strokes]
    now = 0
    for tick, on, key, velocity in sorted(events):
        track.append(mido.Message("note_on" if on else "note_off", note=key, velocity=velocity,
                                  time=tick - now))
        now = tick
    file = mido.MidiFile(ticks_per_beat=1000)
    file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


def jumping(arrangement: Arrangement, seed: int) -> Wish:
    """A take with a jump at bar lines, in which every tenth note is wrong or left out: something
    is skipped, begun again (with or without a pause), or repeated."""
    random_ = random.Random(seed)
    bars = [float(bar.onset_quarter) for bar in arrangement.chorus.bars]
    end, count = float(arrangement.chorus.length_quarter), len(bars)
    least = max(2, count // 8)
    pause = 0.0
    kind = ("skipped", "begun again", "repeated", "begun again at once")[seed % 4]
    if kind == "skipped":
        last = random_.randrange(least, count - 2 * least + 1)
        sections = (0.0, bars[last]), (bars[random_.randrange(
            last + max(2, least // 2), count - least + 1)], end)
    elif kind == "repeated":
        last = random_.randrange(2 * least, count - least + 1)
        sections = (0.0, bars[last]), (bars[random_.randrange(0, last - least + 1)], end)
    else:
        sections = (0.0, bars[random_.randrange(least, count - least)]), (0.0, end)
        pause = 1.5 if kind == "begun again" else 0.0
    return Wish(seed=seed, missed=0.05, wrong=0.05, sections=sections, pause_sec=pause)


def jump_is_found(known: Played, form: Sequence[FormRun], wish: Wish) -> bool:
    """Whether the form has the jumps that were made.

    Each run begins within a beat of where it was begun (or where first something was struck); or
    the form says of every written note that was rightly played that it was played, at that time,
    and says it of no other. Where the tune is the same for bars, nobody can hear more.
    """
    beat = float(known.arrangement.chorus.meter.beat_quarter)
    found = [(float(run.from_quarter), float(run.to_quarter)) for run in form]
    begins = [min(float(note.onset_quarter) for note in known.arrangement.notes
                  if note.onset_quarter >= start) for start, _ in wish.sections]
    as_begun = [start - beat <= run[0] <= begin + beat
                for run, (start, _), begin in zip(found, wish.sections, begins, strict=False)]
    if len(found) == len(wish.sections) and all(as_begun):
        return True
    if not as_begun[0]:
        return False
    said = _laid_out(known, [(wish.sections[0][0], found[0][1]), *found[1:]])
    true = _laid_out(known, wish.sections)
    return set(said) <= set(true) and all(
        place in said for place, which in true.items() if which in known.melody)


def _laid_out(known: Played, sections: Sequence[tuple[float, float]]
              ) -> dict[tuple[float, int], tuple[int, int]]:
    """(quarters since the beginning, key) -> (run, note) of what is written in sections that are
    played one after the other."""
    found, at = {}, 0.0
    for run, (start, end) in enumerate(sections):
        for place, note in enumerate(known.arrangement.chorus.melody):
            if start <= note.onset_quarter < end:
                since = round(2 * (at + float(note.onset_quarter) - start)) / 2
                found[since, note.midi] = (run, place)
        at += end - start
    return found
