"""What a figure of the base costs where it stands, and on the way to the next one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from fillwright.arranging.air import TWO_OCTAVES, Air, sunk_quarter
from fillwright.arranging.figures import Figure, FigurePlace
from fillwright.arranging.textures import STAND_INS
from fillwright.exact import Fraction
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.hands.jumps import jump_ok
from fillwright.lattice import FORBIDDEN
from fillwright.rules.sound import MINOR_NINTH, MUD
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import SoundingNote

__all__ = ["BASE_COSTS", "Neighbour", "Site", "cost_of", "guides_of", "step_cost"]

BASE_COSTS: Mapping[str, int] = {
    # Units: a semitone of voice leading costs 1. All common practice.
    # A figure by itself:
    "rub": 1500,            # what an audit finds: a half step or minor ninth with the melody
    "passing rub": 7,       # the same where a short melody note passes over a held key
    "denied": 400,          # a major third under a melody that holds the minor one
    "third": 9,             # no third in the hand, in the melody nor under it
    "seventh": 240,         # no seventh or sixth of a chord that is named after it
    "plain": 8,             # no sixth or seventh of a chord whose symbol names none
    "helped": 2,            # the right hand is to have one of them under the melody
    "low intervals": 2,     # per semitone below the strict low interval limits
    "register": 1,          # per two semitones of the lowest note away from the middle
    "hole": 1,              # per semitone more than an octave and a half below a melody note of a
                            # beat or more
    "two octaves": 60,      # for more than a beat two of them below a long note and what the
                            # right hand can have under it
    "sunk": 2,              # on top of that, per semitone beyond
    "rootless": 40,         # no root: only where a rub leaves no other way
    "on another tone": 4,   # the bass of a chord that goes on is not its root
    "bare": 16,             # a lone root where chords are wanted
    "hollow": 12,           # roots in octaves and nothing else
    "leap": 2,              # in a bass line, per semitone beyond a fifth
    "stand-in": 16,         # per step away from the texture of the section
    "with the melody": 4,   # the upper keys come where the melody strikes
    "three to two": 150,    # a stroke against a triplet of the melody
    "high end": 12,         # per semitone of the last bass above a low root
    "silence": 400,         # the left hand rests
    "jump": 600,            # the hand cannot be there in time
    # On the way to the next one:
    "other rhythm": 8,      # within a phrase
    "kept rhythm": 5,       # from one phrase to the next
    "same shape": 3,        # rhythm and intervals again
    "leads nowhere": 80,    # a leading note that is not a step from the next bass
    "leads on": -3,         # the last bass note is a step from the next bass
}

_LOW_END = 43
"""G2: the last bass of a piece lies here or lower."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The keys that a fill strikes before or after a stretch, and where."""

    keys: tuple[int, ...]
    onset_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Site:
    """Where a figure stands.

    wanted   the texture of the section
    helped   the terms ("third", "seventh") that the right hand can have under the melody
    floors   onset of a melody note -> the lowest key that the right hand can have under it
    phrase   which phrase it lies in
    closes   it is the last of the piece
    before, after   the fills' left hand, where one is next to it
    """

    place: FigurePlace
    air: Air
    wanted: str
    helped: frozenset[str]
    phrase: int
    seconds_per_quarter: float
    closes: bool = False
    before: Neighbour | None = None
    after: Neighbour | None = None
    floors: Mapping[Fraction, int] = field(default_factory=dict)


def guides_of(harmony: Harmony) -> tuple[tuple[str, frozenset[int]], ...]:
    """What a chord lives by, as cost terms, each with the pitch classes that tell it: its third;
    the seventh or sixth that its symbol names, or the sixth in place of a major seventh.

    A plain triad is told by its third; the sixth that it may have is colour (`colour_of`).
    """
    found = []
    for term, degree in (("third", harmony.third), ("seventh", harmony.seventh)):
        if degree is not None and (term == "third" or degree in harmony.symbol.degrees):
            found.append((term, _classes(harmony, (degree, "6") if degree == "7" else (degree,))))
    return tuple(found)


def colour_of(harmony: Harmony) -> frozenset[int]:
    """The pitch class of the sixth or seventh that a chord may have though its symbol names none;
    empty where it names one."""
    degree = harmony.seventh
    return frozenset() if degree is None or degree in harmony.symbol.degrees else (
        _classes(harmony, (degree,)))


def _classes(harmony: Harmony, degrees: Sequence[str]) -> frozenset[int]:
    return frozenset((harmony.root.pitch_class + degree_pitch_class(d)) % 12 for d in degrees)


def cost_of(figure: Figure, site: Site) -> dict[str, int]:
    """What a figure costs by itself, by term."""
    if not figure.struck:
        return {"silence": BASE_COSTS["silence"]}
    costs = {"texture": _texture(figure, site), **_guides(figure, site),
             **_sound(figure, site), **_bass(figure, site), **_rhythm(figure, site)}
    if site.before is not None:
        costs["edge in"] = voice_leading(site.before.keys, figure.midis) + _jump(
            site.before, _first(figure, site), site)
    if site.after is not None:
        last = _last(figure, site)
        costs["edge out"] = voice_leading(figure.midis, site.after.keys) + _jump(
            last, site.after, site) + _leads(figure, min(site.after.keys))
    return costs


def _texture(figure: Figure, site: Site) -> int:
    own = figure.texture.removeprefix("bass, then ")
    row = (site.wanted, *STAND_INS[site.wanted])
    return BASE_COSTS["stand-in"] * (row.index(own) if own in row else len(row))


def _guides(figure: Figure, site: Site) -> dict[str, int]:
    """Third and seventh: in the hands, in the melody, or to come under it."""
    heard = {m % 12 for m in figure.all_midis} | {n.midi % 12 for n in site.air.long_notes}
    costs = {}
    for term, told in guides_of(site.place.harmony):
        if not told & heard:
            costs[term] = BASE_COSTS["helped" if term in site.helped else term]
    colour = colour_of(site.place.harmony)
    if not figure.is_line:  # a bass line is not bent for it
        costs["plain"] = BASE_COSTS["plain"] * bool(colour and not colour & heard)
    return costs


def _sound(figure: Figure, site: Site) -> dict[str, int]:
    """Rubs with the melody, mud, minor ninths, holes."""
    covered, rubbed, passed = site.air.rubs(figure)
    costs = {"rub": FORBIDDEN * bool(covered) + BASE_COSTS["rub"] * rubbed
             + BASE_COSTS["passing rub"] * passed, "low intervals": 0, "hole": 0,
             "denied": BASE_COSTS["denied"] * _denied(figure, site)}
    for keys in figure.together:
        if MUD.pairs(keys) or MINOR_NINTH.among(keys, site.air.homes):
            costs["low intervals"] += FORBIDDEN
        else:
            costs["low intervals"] += BASE_COSTS["low intervals"] * MUD.cost(keys)
    highest = max(figure.all_midis)
    for note in site.air.long_notes:  # what passes over is not heard against it
        hole = BASE_COSTS["hole"] * (note.midi - highest - 18) + _sunk(figure, site, note)
        costs["hole"] = max(costs["hole"], hole)
    return costs


def _sunk(figure: Figure, site: Site, note: SoundingNote) -> int:
    """What it costs that the left hand lies two octaves below the melody for more than a beat."""
    air = site.air
    if note.duration_quarter <= air.beat_quarter:
        return 0
    high = site.floors.get(note.onset_quarter, note.midi)
    high = min([high, *(p.midi for p in figure.under)])
    start = air.onset_quarter
    empty = sunk_quarter(
        [(start + struck.onset_quarter, start + struck.end_quarter, midi)
         for struck, midi in zip(figure.struck, figure.midis, strict=True)],
        high, max(start, note.onset_quarter), min(air.end_quarter, note.end_quarter))
    if empty <= air.beat_quarter:
        return 0
    return BASE_COSTS["two octaves"] + BASE_COSTS["sunk"] * max(
        high - max(figure.midis) - TWO_OCTAVES, 0)


def _denied(figure: Figure, site: Site) -> int:
    """How many keys are a major third which the melody that holds the minor one takes away."""
    harmony = site.place.harmony
    if not harmony.is_denied({n.midi % 12 for n in site.air.long_notes}):
        return 0
    third = (harmony.root.pitch_class + 4) % 12
    return sum(midi % 12 == third for midi in figure.all_midis)


def _bass(figure: Figure, site: Site) -> dict[str, int]:
    place, lowest = site.place, figure.midis[0]
    root = 0
    if lowest % 12 != place.bass.pitch_class:
        root = BASE_COSTS["on another tone" if place.goes_on else "rootless"]
    elif len(figure.midis) == 1 and not figure.is_line:
        root = BASE_COSTS["bare"]
    elif len({midi % 12 for midi in figure.midis}) == 1 and not figure.is_line:
        root = BASE_COSTS["hollow"]
    leap = 0
    if figure.is_line:
        leap = BASE_COSTS["leap"] * sum(max(abs(b - a) - 7, 0) for a, b in pairwise(figure.midis))
    high = max(lowest - _LOW_END, 0) if site.closes else 0
    return {"root": root, "leap": leap, "high end": BASE_COSTS["high end"] * high,
            "register": BASE_COSTS["register"] * abs(
                lowest - place.player.level.base.register) // 2}


def _rhythm(figure: Figure, site: Site) -> dict[str, int]:
    later = {onset for onset, _ in figure.rhythm if onset}
    costs = {
        "with the melody": BASE_COSTS["with the melody"] * len(later & site.air.attacks),
        "three to two": BASE_COSTS["three to two"] * sum(
            site.air.crossed(onset) for onset in {onset for onset, _ in figure.rhythm}),
    }
    strokes = [Neighbour(keys, onset) for onset, keys in figure.strokes]
    costs["jump"] = sum(_jump(a, b, site) for a, b in pairwise(strokes))
    return costs


def _first(figure: Figure, site: Site) -> Neighbour:
    onset, keys = figure.strokes[0]
    return Neighbour(keys, site.air.onset_quarter + onset)


def _last(figure: Figure, site: Site) -> Neighbour:
    onset, keys = figure.strokes[-1]
    return Neighbour(keys, site.air.onset_quarter + onset)


def _jump(before: Neighbour, after: Neighbour, site: Site) -> int:
    """Nothing where there is time to get from one stroke to the next."""
    seconds = float(after.onset_quarter - before.onset_quarter) * site.seconds_per_quarter
    ok = jump_ok(before.keys, after.keys, seconds, site.place.player.hand.name)
    return 0 if ok else BASE_COSTS["jump"]


def _leads(figure: Figure, bass_midi: int) -> int:
    """What the last note of a bass line makes of the next bass."""
    if not figure.is_line:
        return 0
    if 1 <= abs(figure.midis[-1] - bass_midi) <= 2:
        return BASE_COSTS["leads on"]
    return BASE_COSTS["leads nowhere"] if figure.leads_on else 0


def step_cost(before: Figure, after: Figure, sites: tuple[Site, Site]) -> int:
    """What it costs to go on from one figure to the next.

    sites   where the two stand
    """
    if not before.struck or not after.struck:
        return 0
    first, second = sites
    cost = _moved(before, after) + _jump(_last(before, first), _first(after, second), second)
    cost += _leads(before, after.midis[0])
    if first.place.duration_quarter == second.place.duration_quarter:
        same = before.rhythm == after.rhythm
        if first.phrase == second.phrase:
            cost += 0 if same else BASE_COSTS["other rhythm"]
        elif same:
            cost += BASE_COSTS["kept rhythm"]
        if same and before.steps == after.steps:
            cost += BASE_COSTS["same shape"]
    return cost


def _moved(before: Figure, after: Figure) -> int:
    """Voice leading from chord to chord; bass and upper notes apart where the hand moves."""
    if before.texture == after.texture == "bass and chord":
        bass = abs(before.midis[0] - after.midis[0])
        return voice_leading(before.midis[1:], after.midis[1:]) + bass // 3
    if before.texture == after.texture and (
            before.is_line or before.texture == "broken tenths"):
        return abs(before.midis[0] - after.midis[0]) + abs(before.midis[-1] - after.midis[-1])
    if before.under and after.under:
        return voice_leading(before.all_midis, after.all_midis)
    return voice_leading(before.midis, after.midis)
