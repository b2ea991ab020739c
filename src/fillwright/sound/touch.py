"""How each key is struck and let go: what kind of note it is, its length, its weight.

Every struck key of an arrangement is given a *kind*:

    held    the melody note that opens a filled gap: sounds exactly as long as its fill says
    melody  the rest of the melody
    line    an improvised line
    short   a dry hit: short on purpose
    long    everything that is to sound its written length

Long is long and short is short (common practice). The share of the way to the next note that
a line is held follows the Weimar Jazz Database: median .85, upper quarter .93.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

from fillwright.arranging.articulation import Touch
from fillwright.arranging.dynamics import LADDER, DynamicPlan, free_swells
from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.fills.tempo import Tempo
from fillwright.hands.model import HandNote
from fillwright.sound.timemap import TimeMap
from fillwright.tune.model import Chorus

__all__ = ["GATES", "WEIGHTS", "KeyStroke", "strokes_of", "velocities"]

_HALF = Fraction(1, 2)

# Share of the written length for which the key is held.
GATES = {
    "melody": 0.97,         # long melody notes (common practice)
    "melody run": 0.92,     # melody notes of less than RUN_SEC that move on: legato
    "line step": 0.92,      # corpus, upper quarter
    "line leap": 0.85,      # corpus, median
    "line long": 0.90,
    "slurred": 0.98,        # under a printed slur (common practice)
    "repeat": 0.75,         # the same key again: corpus, lower quarter .73
    "phrase end": 0.55,     # an off-beat eighth before a rest is clipped (common practice)
    "short": 0.55,          # of the straight written length (common practice)
    "long": 0.96,
    "tenuto": 1.0,          # a printed tenuto: the whole length (common practice)
}
SHORTEST_SEC = 0.08     # no key is tapped for less, so that it speaks (common practice)
SHORT_SEC = 0.36        # a written eighth longer than this is not a dry hit: slow ballads
RUN_SEC = 0.36          # a note that moves on sooner than this belongs to a run

# MIDI velocities. The melody stands some 30 above what accompanies it: about 8 dB on pianos
# whose level goes with the square of the velocity (common practice; the amount by ear).
WEIGHTS = {
    "melody": 88,
    "line": 84,
    "comp top": 66,
    "reharm top": 66,
    "fill inner": 56,
    "fill left": 56,
    "base right": 52,
    "base left": 52,
}
OFFBEAT_ACCENT = 7      # off-beat eighths of a line (Friberg's rule file: louder by default)
MARKED_ACCENT = 7       # a stroke with a printed accent
ACCENT_STANDS_OUT = 4   # above what its hand plays within a bar, on average, at least
MARKED_TENUTO = 3       # one with a printed tenuto
SWELL = 12              # from one end of a fill's hairpin to the other: two printed levels
WAVE = 10               # the same of the melody and what is under it: its contour swells too
BACKBEAT_ACCENT = 2     # left hand on 2 and 4
ARC = 4                 # a phrase grows towards two thirds of its length and falls again
CONTOUR_PER_SEMITONE = 0.5
CONTOUR_LIMIT = 5       # higher is louder, by no more than this
TOP_OUT, INNER_BACK = 2, -2     # in a chord without melody: its top sings, its middle stays back
BREATH_BEAT = 0.05      # of a beat: so much later a ballad's phrase begins (common practice)
BREATH_SEC = 0.12       # and so long before it the key of the last one is up
AGAIN = 2               # a key struck again is never struck alike (no hand does)
STEP = 10               # from one printed level to the next; the weights above are mf
_ARC_TOP = 2 / 3
_LATE_SHARE = 3         # a third of what it lasts: a note is no later


@dataclass(slots=True)
class KeyStroke:
    """One key on its way to being played. Times in seconds, before rolling."""

    index: int
    note: HandNote
    kind: str
    family: str             # of its fill; "" outside fills
    onset_sec: float
    written_end_sec: float
    release_sec: float = 0.0
    is_top: bool = False    # highest of its hand at that onset
    is_tenuto: bool = False
    is_slurred: bool = False  # a printed slur leads on from it
    offbeat: bool = False   # an off-beat eighth
    moves_on: bool = False  # its voice or hand plays again where it ends, or before


def strokes_of(arrangement: Arrangement, time_map: TimeMap, touch: Touch) -> list[KeyStroke]:
    """Every struck key with its kind, onset and release, in the order of the arrangement."""
    notes = arrangement.notes
    families = {fill.gap: fill.family for fill in arrangement.fills}
    held_until = _held_until(arrangement)
    onsets = _onsets_by_voice(arrangement, families)
    strokes = []
    for index, note in enumerate(notes):
        family = families.get(note.gap, "") if note.role == "fill" and note.gap else ""
        kind = _kind(note, index in held_until, family, time_map)
        place = time_map.place_sec(note.onset_quarter)
        stroke = KeyStroke(index, note, kind, family, place,
                        time_map.place_sec(held_until.get(index, note.end_quarter)))
        _, _, phase = time_map.beat(note.onset_quarter)
        stroke.offbeat = phase == _HALF
        own = onsets[_voice(note, family)]
        after = bisect_right(own, note.onset_quarter)
        stroke.is_tenuto = (note.onset_quarter, note.hand, note.role) in touch.tenutos
        stroke.is_slurred = note.hand == "right" and touch.is_slurred(note.onset_quarter,
                                                                      note.role)
        stroke.moves_on = after < len(own) and own[after] <= note.end_quarter
        strokes.append(stroke)
    _mark_tops(strokes)
    _make_late(strokes, time_map)
    for stroke in strokes:
        stroke.release_sec = _release(stroke, _follower(stroke, strokes), time_map)
    if Tempo.of_chorus(arrangement.chorus) is Tempo.BALLAD:
        _breathe(strokes, arrangement.chorus)
    _let_go_together(strokes)
    return strokes


def _held_until(arrangement: Arrangement) -> dict[int, Fraction]:
    """Index of each held note with a fill, and until when its key or pedal sounds it."""
    until = {}
    for fill in arrangement.fills:
        gap = arrangement.gaps[fill.gap - 1]
        for index, note in enumerate(arrangement.notes):
            if (note.role == "melody" and gap.held is not None
                    and note.onset_quarter == gap.onset_quarter):
                end = fill.held_end.until_quarter
                if fill.held_end.by_pedal:
                    end = min(end, note.end_quarter)
                if end > note.onset_quarter:
                    until[index] = end
    return until


def _voice(note: HandNote, family: str) -> str:
    if note.role == "melody" or family == "line":
        return "melody" if note.hand == "right" else "left"
    return note.hand


def _onsets_by_voice(arrangement: Arrangement, families: dict[int, str]) -> dict[
        str, list[Fraction]]:
    found: dict[str, set[Fraction]] = {"melody": set(), "right": set(), "left": set()}
    for note in arrangement.notes:
        family = families.get(note.gap, "") if note.role == "fill" and note.gap else ""
        found[_voice(note, family)].add(note.onset_quarter)
        found[note.hand].add(note.onset_quarter)
    return {voice: sorted(onsets) for voice, onsets in found.items()}


def _kind(note: HandNote, is_held: bool, family: str, time_map: TimeMap) -> str:
    if is_held:
        return "held"
    if note.role == "melody":
        return "melody"
    if family == "line" and note.hand == "right":
        return "line"
    straight_sec = (time_map.steady_sec(note.end_quarter)
                    - time_map.steady_sec(note.onset_quarter))
    if note.duration_quarter <= _HALF and straight_sec <= SHORT_SEC and family != "reharm":
        return "short"
    return "long"


def _mark_tops(strokes: list[KeyStroke]) -> None:
    tops: dict[tuple[str, Fraction], KeyStroke] = {}
    for stroke in strokes:
        place = (stroke.note.hand, stroke.note.onset_quarter)
        if place not in tops or stroke.note.midi > tops[place].note.midi:
            tops[place] = stroke
    for stroke in tops.values():
        stroke.is_top = True


def _make_late(strokes: list[KeyStroke], time_map: TimeMap) -> None:
    """Right-hand lines sit late on the beat; what the hand strikes with them goes along."""
    leading = {stroke.note.onset_quarter for stroke in strokes
               if stroke.note.hand == "right" and stroke.kind in ("held", "melody", "line")}
    onsets = sorted({stroke.note.onset_quarter for stroke in strokes
                     if stroke.note.hand == "right"})
    following = dict(pairwise(onsets))
    for stroke in strokes:
        quarter = stroke.note.onset_quarter
        if stroke.note.hand != "right" or quarter not in leading:
            continue
        late = time_map.late_by_sec(quarter)
        room = stroke.written_end_sec - stroke.onset_sec
        if quarter in following:
            room = min(room, time_map.place_sec(following[quarter]) - stroke.onset_sec)
        stroke.onset_sec += min(late, room / _LATE_SHARE)


def _breathe(strokes: list[KeyStroke], chorus: Chorus) -> None:
    """Between two phrases of a ballad's melody the hand comes up, and begins the next one a little
    late; the beat goes on, so that it can be played along with."""
    wanted = BREATH_BEAT * chorus.seconds_per_quarter * float(chorus.meter.beat_quarter)
    for before, phrase in pairwise(_phrases(strokes)):
        last, first = before[-1], phrase[0]
        if first.kind == "line" or last.kind == "line":
            continue
        following = min((s.onset_sec for s in strokes if s.note.hand == "right"
                         and s.note.onset_quarter > first.note.onset_quarter),
                        default=first.written_end_sec)
        late = min(wanted, (following - first.onset_sec) / _LATE_SHARE)
        for stroke in strokes:
            if (stroke.note.hand == first.note.hand
                    and stroke.note.onset_quarter == first.note.onset_quarter):
                stroke.onset_sec += late
        if last.kind == "melody":
            up = first.onset_sec - BREATH_SEC
            last.release_sec = min(last.release_sec,
                                   max(up, (last.onset_sec + last.release_sec) / 2))


def _follower(stroke: KeyStroke, strokes: list[KeyStroke]) -> KeyStroke | None:
    """The melody or line note that begins where this one ends, None where there is none."""
    if not stroke.moves_on or stroke.kind not in ("melody", "line"):
        return None
    for other in strokes[stroke.index + 1:]:
        if (other.kind in ("held", "melody", "line") and other.is_top
                and other.note.onset_quarter > stroke.note.onset_quarter):
            return other if other.note.onset_quarter <= stroke.note.end_quarter else None
    return None


def _release(stroke: KeyStroke, follower: KeyStroke | None, time_map: TimeMap) -> float:
    """When the key comes up, before any later stroke of the same key is looked at."""
    note, start = stroke.note, stroke.onset_sec
    length = stroke.written_end_sec - start
    if stroke.kind == "held":
        return stroke.written_end_sec
    if stroke.is_tenuto and stroke.kind in ("short", "long"):
        return start + GATES["tenuto"] * length
    if stroke.kind == "short":
        straight = (time_map.steady_sec(note.end_quarter)
                    - time_map.steady_sec(note.onset_quarter))
        return start + min(max(GATES["short"] * straight, SHORTEST_SEC), length)
    if stroke.kind == "long":
        return start + GATES["long"] * length
    if follower is not None:
        length = follower.onset_sec - start
        gate = "slurred" if stroke.is_slurred else _gate_to(stroke, follower, length)
        return start + GATES[gate] * length
    if stroke.offbeat and note.duration_quarter <= _HALF and length <= SHORT_SEC:
        return start + min(max(GATES["phrase end"] * length, SHORTEST_SEC), length)
    return start + GATES["melody" if stroke.kind == "melody" else "line long"] * length


def _let_go_together(strokes: list[KeyStroke]) -> None:
    """Notes written under a melody note, as long as it, leave the keys with it."""
    leading = {(s.note.onset_quarter, s.note.end_quarter): s.release_sec for s in strokes
               if s.kind == "melody" and s.note.hand == "right"}
    for stroke in strokes:
        place = (stroke.note.onset_quarter, stroke.note.end_quarter)
        if stroke.note.hand == "right" and stroke.kind == "long" and place in leading:
            stroke.release_sec = leading[place]


def _gate_to(stroke: KeyStroke, follower: KeyStroke, length_sec: float) -> str:
    interval = abs(follower.note.midi - stroke.note.midi)
    if length_sec >= RUN_SEC:
        return "melody" if stroke.kind == "melody" else "line long"
    if interval == 0:
        return "repeat"
    if stroke.kind == "melody":
        return "melody run"
    return "line step" if interval <= 2 else "line leap"


def _phrases(strokes: list[KeyStroke]) -> list[list[KeyStroke]]:
    """Melody and lines in phrases: a rest or a note of two quarters and more ends one."""
    phrases: list[list[KeyStroke]] = []
    last: KeyStroke | None = None
    for stroke in strokes:
        if stroke.kind not in ("held", "melody", "line"):
            continue
        ended = (last is None
                 or (last.kind == "line") != (stroke.kind == "line")
                 or (not last.moves_on and stroke.note.onset_quarter > last.note.end_quarter)
                 or last.note.duration_quarter >= 2 or last.kind == "held")
        if ended and not (last and last.note.onset_quarter == stroke.note.onset_quarter):
            phrases.append([])
        phrases[-1].append(stroke)
        last = stroke
    return phrases


def velocities(strokes: list[KeyStroke], time_map: TimeMap, plan: DynamicPlan, touch: Touch
               ) -> list[int]:
    """A MIDI velocity for each stroke, by kind, level, place in the phrase, contour and beat,
    and by the touch that is printed."""
    shape = [0.0] * len(strokes)
    for phrase in _phrases(strokes):
        mean = sum(stroke.note.midi for stroke in phrase) / len(phrase)
        first = phrase[0].note.onset_quarter
        span = float(phrase[-1].note.onset_quarter - first)
        for stroke in phrase:
            height = (stroke.note.midi - mean) * CONTOUR_PER_SEMITONE
            shape[stroke.index] += max(-CONTOUR_LIMIT, min(CONTOUR_LIMIT, height))
            if span > 0:
                way = float(stroke.note.onset_quarter - first) / span
                rise = way / _ARC_TOP if way < _ARC_TOP else (1 - way) / (1 - _ARC_TOP)
                shape[stroke.index] += ARC * (2 * rise - 1)
    _voice_chords(strokes, shape)
    swells = replace(touch, swells=free_swells(plan, touch))
    weights = [round(WEIGHTS[_weight(stroke)] + shape[stroke.index] + _accent(stroke, time_map)
                     + _marked(stroke, swells)
                     + STEP * (plan.step_at(stroke.note.onset_quarter) - LADDER.index("mf")))
               for stroke in strokes]
    _never_alike(strokes, weights)
    _stand_out(strokes, weights, touch, time_map)
    return weights


def _voice_chords(strokes: list[KeyStroke], shape: list[float]) -> None:
    """Bring out the top of each chord that one hand strikes without melody or line."""
    chords: dict[tuple[str, Fraction], list[KeyStroke]] = {}
    for stroke in strokes:
        chords.setdefault((stroke.note.hand, stroke.note.onset_quarter), []).append(stroke)
    for chord in chords.values():
        led = any(s.kind in ("held", "melody", "line") for s in chord)
        weighed = chord[0].family and chord[0].note.hand == "right"     # `WEIGHTS` has its top
        if len(chord) < 2 or led or weighed:
            continue
        _, *inner, top = sorted(chord, key=lambda stroke: (stroke.note.midi, stroke.index))
        shape[top.index] += TOP_OUT
        for stroke in inner:
            shape[stroke.index] += INNER_BACK


def _stand_out(strokes: list[KeyStroke], weights: list[int], touch: Touch, time_map: TimeMap
               ) -> None:
    """Raise what has a printed accent until it is louder than what its hand plays around it: an
    accent low in a phrase, or where a hairpin begins, is to be heard as well."""
    rows: dict[tuple[str, str], list[KeyStroke]] = {}
    for stroke in strokes:
        rows.setdefault((stroke.note.hand, stroke.note.role), []).append(stroke)
    for place, hand, role in sorted(touch.accents):
        near = _bar_quarter(time_map, place)
        row = [s for s in rows.get((hand, role), ())
               if place - near <= s.note.onset_quarter < place + near]
        own = [s for s in row if s.note.onset_quarter == place]
        if not own:
            continue
        around = sum(weights[s.index] for s in row) / len(row)
        lacking = round(around + ACCENT_STANDS_OUT
                        - sum(weights[s.index] for s in own) / len(own))
        for stroke in own:
            weights[stroke.index] += max(lacking, 0)


def _bar_quarter(time_map: TimeMap, onset_quarter: Fraction) -> Fraction:
    index, _, _ = time_map.beat(onset_quarter)
    return time_map.bar(index).meter.length_quarter


def _never_alike(strokes: list[KeyStroke], weights: list[int]) -> None:
    """A key that a hand strikes again as it did is struck a little softer; always the same way in
    the same place."""
    before: dict[tuple[str, int], int] = {}
    for stroke in sorted(strokes, key=lambda s: (s.note.onset_quarter, s.index)):
        key = (stroke.note.hand, stroke.note.midi)
        if before.get(key) == weights[stroke.index]:
            weights[stroke.index] -= AGAIN
        before[key] = weights[stroke.index]


def _weight(stroke: KeyStroke) -> str:
    note = stroke.note
    if stroke.kind in ("held", "melody"):
        return "melody"
    if stroke.kind == "line":
        return "line" if stroke.is_top else "fill inner"
    if not stroke.family:
        return f"base {note.hand}"
    if note.hand == "left":
        return "fill left"
    if not stroke.is_top:
        return "fill inner"
    return "reharm top" if stroke.family == "reharm" else "comp top"


def _accent(stroke: KeyStroke, time_map: TimeMap) -> int:
    note = stroke.note
    index, number, phase = time_map.beat(note.onset_quarter)
    bar = time_map.bar(index)
    if not time_map.swings(bar):
        return 0
    if stroke.offbeat:
        return OFFBEAT_ACCENT if stroke.kind in ("line", "melody", "held") else 0
    return BACKBEAT_ACCENT if note.hand == "left" and phase == 0 and number % 2 == 1 else 0


def _marked(stroke: KeyStroke, touch: Touch) -> float:
    """What an accent, a tenuto or a swell adds."""
    note = stroke.note
    place = (note.onset_quarter, note.hand, note.role)
    accent = MARKED_ACCENT * (place in touch.accents and not (
        stroke.offbeat and stroke.kind in ("line", "melody", "held")))  # it has one as it is
    accent += MARKED_TENUTO * (place in touch.tenutos)
    return accent + (SWELL if note.role == "fill" else WAVE) * touch.lift_at(note.onset_quarter)
