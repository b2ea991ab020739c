"""What each stroke is: melody, accompaniment, fill or slip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.take.heard import HeardRun
from fillwright.take.model import ROLL_SEC, TOGETHER_SEC, Stroke
from fillwright.tune.model import Chorus, Gap

__all__ = ["GapStrokes", "gap_strokes", "roles_of"]

_ORNAMENT_SEC = 0.16        # a short note before the one it leans on (from memory: 50 to 150 ms)
_DOUBLED = 3                # of five notes around: then a lower octave is a doubling


@dataclass(frozen=True, slots=True)
class GapStrokes:
    """What was struck in a gap, one time that a run came by it.

    held, landing   their strokes; None where they were not played or there is none
    strokes         what is not melody, from the gap's onset until the landing
    attacks         seconds of each attack after the onset
    until_sec       when the landing came, or should have
    """

    run: int
    gap: Gap
    held: Stroke | None
    landing: Stroke | None
    strokes: tuple[Stroke, ...]
    attacks: tuple[float, ...]
    onset_sec: float
    until_sec: float


def gap_strokes(number: int, heard: HeardRun, strokes: Sequence[Stroke], chorus: Chorus,
                gaps: Sequence[Gap]) -> tuple[GapStrokes, ...]:
    """The gaps that a run came by, with what was struck in them."""
    places = {note.onset_quarter: index for index, note in enumerate(chorus.melody)}
    by_note = {match.note: match for match in heard.matches}
    melody = {match.stroke for match in heard.matches if match.stroke is not None}
    melody |= doublings(heard, strokes)
    own = strokes[heard.run.first:heard.run.last]
    start, end = own[0].onset_sec, own[-1].onset_sec
    found = []
    for gap in gaps:
        held = _struck(by_note, None if gap.held is None else places[gap.held.onset_quarter],
                       strokes)
        landing = _struck(by_note, None if gap.landing is None
                          else places[gap.landing.onset_quarter], strokes)
        onset_sec = heard.beat.sec(float(gap.onset_quarter)) if held is None else held.onset_sec
        until_sec = (heard.beat.sec(float(gap.end_quarter)) if landing is None
                     else landing.onset_sec)
        if gap.landing is None:
            until_sec = max(until_sec, end + 1.0)
        if held is None and landing is None and (
                onset_sec > end or until_sec < start or not _within(gap, heard, places)):
            continue
        inside = _inside(own, (onset_sec, until_sec), landing, melody)
        found.append(GapStrokes(number, gap, held, landing, inside,
                                _attacks(inside, onset_sec, heard, gap), onset_sec, until_sec))
    return tuple(found)


def _within(gap: Gap, heard: HeardRun, places: Mapping[Fraction, int]) -> bool:
    """Whether a gap of which neither end was played lies within what a run came by."""
    reached = {match.note for match in heard.matches}
    ends = [one for one in (gap.held, gap.landing) if one is not None]
    return any(places[one.onset_quarter] in reached for one in ends)


def _struck(by_note: Mapping[int, object], note: int | None, strokes: Sequence[Stroke]
            ) -> Stroke | None:
    match = None if note is None else by_note.get(note)
    index = getattr(match, "stroke", None)
    return None if index is None else strokes[index]


def _inside(own: Sequence[Stroke], ends: tuple[float, float], landing: Stroke | None,
            melody: set[int]) -> tuple[Stroke, ...]:
    """Strokes from the onset until the landing; what is struck or rolled with the landing is
    no longer among them."""
    onset_sec, until_sec = ends
    last = until_sec
    if landing is not None:
        before = [stroke for stroke in own if stroke.onset_sec <= until_sec]
        for stroke in reversed(before):
            near = (TOGETHER_SEC if last == until_sec else
                    ROLL_SEC if stroke.midi < landing.midi else 0.0)
            if last - stroke.onset_sec > near or stroke.onset_sec <= onset_sec + TOGETHER_SEC:
                break
            last = stroke.onset_sec
            if until_sec - last > 4 * ROLL_SEC:
                break
    else:
        last -= TOGETHER_SEC
    return tuple(stroke for stroke in own
                 if onset_sec - TOGETHER_SEC <= stroke.onset_sec < last
                 and stroke.event not in melody)


def _attacks(inside: Sequence[Stroke], onset_sec: float, heard: HeardRun, gap: Gap
             ) -> tuple[float, ...]:
    """Seconds of what is struck after the onset, each chord once."""
    found: list[float] = []
    last = onset_sec + 0.02
    floor = onset_sec + TOGETHER_SEC if gap.held is not None else onset_sec - 2 * TOGETHER_SEC
    for stroke in inside:
        if stroke.onset_sec <= floor:
            last = max(last, stroke.onset_sec)
            continue
        if not found or stroke.onset_sec - last > ROLL_SEC:
            found.append(stroke.onset_sec)
        last = stroke.onset_sec
    return tuple(found)


def doublings(heard: HeardRun, strokes: Sequence[Stroke]) -> set[int]:
    """Strokes that double the melody in octaves: the upper key always, the lower one where most
    notes around are doubled so."""
    found: set[int] = set()
    below: list[tuple[int, int | None]] = []
    for match in heard.matches:
        if match.stroke is None or match.status != "played":
            continue
        own = strokes[match.stroke]
        lower = None
        for other in _together(match.stroke, strokes):
            if other.midi == own.midi + 12:
                found.add(other.event)
            elif other.midi == own.midi - 12:
                lower = other.event
        below.append((match.note, lower))
    for place, (_, lower) in enumerate(below):
        near = below[max(place - 2, 0):place + 3]
        if lower is not None and sum(one is not None for _, one in near) >= min(
                _DOUBLED, len(near)):
            found.add(lower)
    return found


def _together(index: int, strokes: Sequence[Stroke]) -> list[Stroke]:
    """What is struck together with a stroke, itself left out."""
    found = []
    for step in (-1, 1):
        other = index + step
        while (0 <= other < len(strokes) and abs(strokes[other].onset_sec
                                                 - strokes[index].onset_sec) < TOGETHER_SEC):
            found.append(strokes[other])
            other += step
    return found


def roles_of(runs: Sequence[HeardRun], strokes: Sequence[Stroke],
             answered: Sequence[tuple[GapStrokes, str]]
             ) -> tuple[tuple[str, ...], tuple[int | None, ...]]:
    """The role of each stroke, and the gap that it fills."""
    roles = ["accompaniment"] * len(strokes)
    gaps: list[int | None] = [None] * len(strokes)
    for heard in runs:
        for event in doublings(heard, strokes):
            roles[event] = "melody"
        for match in heard.matches:
            if match.stroke is not None:
                roles[match.stroke] = "melody" if match.status == "played" else "slip"
    for one, answer in answered:
        for stroke in one.strokes:
            if answer != "open" and roles[stroke.event] == "accompaniment":
                roles[stroke.event], gaps[stroke.event] = "fill", one.gap.number
    for heard in runs:
        _ornaments(heard, strokes, roles, gaps)
    return tuple(roles), tuple(gaps)


def _ornaments(heard: HeardRun, strokes: Sequence[Stroke], roles: list[str],
               gaps: list[int | None]) -> None:
    """A short note a step from a melody note and just before it belongs to the melody."""
    for match in heard.matches:
        if match.stroke is None or match.status != "played":
            continue
        own = strokes[match.stroke]
        index = match.stroke - 1
        while index >= 0 and own.onset_sec - strokes[index].onset_sec < _ORNAMENT_SEC:
            other = strokes[index]
            alone = not [one for one in _together(index, strokes)
                         if one.midi > other.midi and one.event != own.event]
            if (roles[index] in ("accompaniment", "fill") and alone
                    and 0 < abs(other.midi - own.midi) <= 2
                    and other.release_sec < own.onset_sec + 0.05):
                roles[index], gaps[index] = "melody", None
            index -= 1
