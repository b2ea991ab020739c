"""The left hand under a line: a comp voicing whose rhythm answers the right hand.

It strikes the chord where the gap opens and at every change, and again, short, where the
line breathes or holds. It never strikes the line's own rhythm and is never silent under it.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from fillwright.exact import Fraction
from fillwright.fills.devices.line.manners import STRUCK, Chord, Laid, laid_out
from fillwright.fills.devices.line.strikes import Strike, groups, left_rhythm
from fillwright.fills.devices.line.tenor import Above, Stay, Tenor, tenor_of
from fillwright.fills.devices.line.told import (
    is_plain,
    needed_classes,
    sounds_as_another,
    tells_its_chord,
    third_class,
    third_heard,
)
from fillwright.fills.draft import DraftNote
from fillwright.fills.player import Level
from fillwright.fills.situation import Span, Task
from fillwright.fills.voicing.forms import VoicingForm
from fillwright.fills.voicing.voicings import (
    Voicing,
    form_voicings,
    holds_guides,
    left_hand_voicings,
    voice_leading,
)
from fillwright.lattice import k_best_paths
from fillwright.memory import SEARCHES
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.harmony import under_its_root
from fillwright.rules.sound import HOLE, MUD, RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, spelled

__all__ = ["LeftHand", "left_hand"]

COSTS: MappingProxyType[str, int] = MappingProxyType({
    # Unit: a tenth of one clear fault; common practice.
    "guide tone missing": 6,     # the voicing holds only one of third and seventh
    "bare root": 14,             # nothing but root, fifth and octave
    "thin for advanced": 12,     # an advanced hand that leaves third or seventh to the ear
    "two keys for advanced": 5,  # where an advanced hand has three
    "no root first": 16,         # a gap of three beats or more that opens without the root
    "turned over": 20,           # a triad whose root is not its lowest key
    "added to a triad": 20,      # a sixth or seventh the symbol does not name
    "low rootless": 4,           # per semitone of a rootless bottom under E flat 3
    "low second": 16,            # a second whose lower key is under F3
    "low third": 16,             # a third whose lower key is under C3
    "rub with the line": 3,      # a short note between the beats a half step or flat nine
                                 # off a key
    "sixth for seventh": 2,      # under a line that strikes the root of a major seventh chord
    "left out": 12,              # a key left out because it would rub a long note above, or
                                 # one on a beat
    "moved": 1,                  # per semitone of voice leading, halved
    "bass line broken": 60,      # a written bass a step from the one before, struck elsewhere
    "register": 1,               # per three semitones of the middle off E3 (see _HIGHEST_HOME)
    "beginner's third key": 7,   # a beginner's left hand has two keys
    "close lies high": 3,        # per semitone of a tune's last root above C3, or C4 where it
                                 # comes an octave lower before, or the line lies high
    "mud": 2,                    # per semitone below the strict low interval limits
    "hole": 4,                   # per semitone beyond an octave and a fourth below the lowest
                                 # key above, or beyond two octaves below the highest
    "third left to the line": 10,   # the right hand alone strikes it
    "third unheard": 40,         # neither hand strikes the third over its chord
    "sounds as another": 60,     # both hands together strike the triad of another root, and nothing
                                 # else: E flat, G, C for E flat 6
    "seventh unheard": 36,       # nor the seventh (or sixth) that the symbol prints
})

_HOME_MIDI = 52
_MIDDLE_C = 60
_LOWEST_MIDI = 36
_HIGHEST_TOP = 69
_ROOTLESS_TOP = 64
_ROOTLESS_BOTTOM = 51
_SECOND_BOTTOM, _THIRD_BOTTOM = 53, 48
_HOLE, _TWO_OCTAVES = 17, HOLE.WIDEST
_MIDDLE_LINE, _HIGHEST_HOME = 72, 7
"""The left hand comes up with a line that stays above C5, by a fifth at most."""

_FAR_UP, _WITH_IT = 79, 5
"""Under a right hand that stays from G5 up, where the tune lies there too, the left hand's lowest
key may lie up to E4."""

_KEPT, _ROOTED = 12, 4
"""Voicings of a chord that are kept, the cheapest, and of the others those over the root."""

_ANY_KEYS = 5
_OCTAVE = 12
_LOW_ROOT = 48
"""C3."""

_DOWN_AND_UP_SEC = (0.4, 0.6)
"""Seconds from a low root to the chord over it, and for a beginner (common practice)."""

_LONG_BEATS = 3
"""From so many beats on the ear wants the root first."""


@dataclass(frozen=True, slots=True)
class LeftHand:
    """What the left hand plays, and what it costs by term; from where to where its tenor moves."""

    notes: tuple[DraftNote, ...]
    voicings: tuple[Voicing, ...]
    strikes: tuple[Strike, ...]
    costs: tuple[tuple[str, int], ...]
    tenors: tuple[tuple[Pitch, Pitch], ...] = ()


def left_hand(task: Task, spans: Sequence[Span], line: Sequence[Above],
              landing_quarter: Fraction, manner: str = STRUCK) -> LeftHand | None:
    """The left hand under a line, or None where no voicing lies free of it.

    spans             the chords the line plays over
    line              the keys of the right hand, the held melody note among them
    landing_quarter   where the landing comes; the left hand stays on time: what rings at an
                      early landing rings to the gap's end, at a late one the landing's
                      chord (the last of the task's) is struck in its place
    manner            how a chord that lasts is laid out (see `manners`); None where none can be
    """
    end_quarter = max(landing_quarter, task.end_quarter)
    strikes = tuple(s for s in left_rhythm(task, spans, line, end_quarter)
                    if s.onset_quarter < landing_quarter)
    harmonies = [s.harmony for s in spans]
    mains = [s for s in strikes if not s.again]
    layers: list[list[tuple[Voicing, int, int]]] = []
    walks = [_walks(harmonies[a.span], harmonies[b.span]) for a, b in pairwise(mains)]
    for main, *walk in zip(mains, [False, *walks], [*walks, False], strict=True):
        until = max(s.end_quarter for s in strikes if s.span == main.span)
        over = [n for n in line
                if n.onset_quarter < until and n.end_quarter > main.onset_quarter]
        opens = main is mains[0] and task.beats >= _LONG_BEATS
        closes = task.landing is None and main is mains[-1]
        lowers = closes and (max(n.midi for n in line) > _LOW_ROOT + _TWO_OCTAVES
                             or _low_root(task, strikes[-1]) is not None)
        options: list[tuple[Voicing, int, int]] = []
        over = [Above(max(n.onset_quarter, main.onset_quarter), n.end_quarter, n.midi)
                for n in over]
        meets = _meets(task, line, (main.onset_quarter, until), landing_quarter)
        for room in (2, 1):  # a key between the hands, where there is one
            top = min([_HIGHEST_TOP, *(n.midi - room for n in over), *(m - 1 for m in meets)])
            options = options or _options(task, harmonies[main.span], top, over,
                                          _Stroke(until, opens, closes, any(walk), lowers))
        if not options:
            return None
        layers.append(options)
    local = [{"left hand": np.array([c for _, c, _ in layer], dtype=np.int64),
              "rub with the line": np.array([r for _, _, r in layer], dtype=np.int64)}
             for layer in layers]
    steps = [{"left hand moves": np.array(
        [[_moves(a, b, walk) for b, _, _ in right] for a, _, _ in left], dtype=np.int64)}
        for (left, right), walk in zip(pairwise(layers), walks, strict=True)]
    paths = k_best_paths([len(layer) for layer in layers], local, steps)
    if not paths:
        return None
    chosen = {main.span: layer[state][0]
              for main, layer, state in zip(mains, layers, paths[0].states, strict=True)}
    return _played(task, strikes, chosen, line, _Plan(
        harmonies, landing_quarter, manner, paths[0].costs))


@dataclass(frozen=True, slots=True)
class _Plan:
    """The chords, where the landing comes, how chords are laid out, and what it costs."""

    harmonies: list[Harmony]
    landing_quarter: Fraction
    manner: str
    costs: tuple[tuple[str, int], ...]


def _played(task: Task, strikes: tuple[Strike, ...], chosen: dict[int, Voicing],
            line: Sequence[Above], plan: _Plan) -> LeftHand | None:
    """The notes of the chosen voicings; None where none can be laid out as planned."""
    harmonies, manner, landing_quarter = plan.harmonies, plan.manner, plan.landing_quarter
    ahead = [] if task.landing_midi is None else [Above(
        landing_quarter, landing_quarter + task.beat_quarter, task.landing_midi)]
    notes: list[DraftNote] = []
    is_laid = manner == STRUCK
    tenors: dict[Fraction, Tenor] = {}
    if manner == STRUCK:
        strikes, tenors = _with_tenors(task, strikes, harmonies, chosen, (*line, *ahead))
    for group in groups(strikes):
        closing = task.landing is None and group[-1] is strikes[-1]
        chord = Chord(harmonies[group[0].span], chosen[group[0].span], group[0].onset_quarter,
                      group[-1].end_quarter)
        laid = None if closing else laid_out(task, chord, (*line, *ahead), manner)
        if laid is not None:
            notes += _again(laid, group)
            is_laid = True
        for strike in () if laid is not None else group:
            tenor = tenors.get(strike.onset_quarter)
            if tenor is None:
                if closing and strike is group[-1]:
                    notes += _closed(task, strike, chosen[strike.span],
                                     max((n.midi for n in line if n.end_quarter
                                          > strike.onset_quarter), default=0))
                    continue
                notes += _struck(strike, chosen[strike.span],
                                 lighter=not task.player.level.line.plain)
            else:
                notes += _moving(strike, chosen[strike.span], tenor)
    if not is_laid:
        return None
    moved = tuple((chosen[s.span].pitches[tenors[s.onset_quarter].index],
                   tenors[s.onset_quarter].goal) for s in strikes if s.onset_quarter in tenors)
    return LeftHand(tuple(notes), tuple(chosen[s.span] for s in strikes), strikes,
                    plan.costs, moved)


def _walks(before: Harmony, after: Harmony) -> bool:
    """Whether a written bass lies a step from the one before it or after it."""
    one, two = ((h.symbol.bass or h.root).pitch_class for h in (before, after))
    written = before.symbol.bass is not None or after.symbol.bass is not None
    return written and (two - one + 2) % 12 <= 4


def _moves(before: Voicing, after: Voicing, walks: bool) -> int:
    """What it costs to go from voicing to voicing; a bass that walks goes by step."""
    broken = walks and abs(after.midis[0] - before.midis[0]) > 2
    return (COSTS["moved"] * voice_leading(before.midis, after.midis) // 2
            + COSTS["bass line broken"] * broken)


def _again(laid: Laid, group: Sequence[Strike]) -> list[DraftNote]:
    """A chord that is laid out, and what is struck of it again where there is room."""
    later = [s for s in group[1:] if s.onset_quarter >= laid.again_from]
    if not later:
        return list(laid.notes)
    start = later[0].onset_quarter
    notes = [replace(n, duration_quarter=min(n.end_quarter, start) - n.onset_quarter)
             for n in laid.notes]
    return notes + [DraftNote(s.onset_quarter, s.end_quarter - s.onset_quarter, p, "left")
                    for s in later for p in laid.upper]


def _meets(task: Task, line: Sequence[Above], stay: tuple[Fraction, Fraction],
           landing_quarter: Fraction) -> list[int]:
    """The keys that the right hand leaves or strikes in the very moment in which the left hand
    comes or goes, the landing's among them: in that moment both hands are at one keyboard, and a
    thumb finds no key that the other hand still has."""
    start, end = stay
    keys = [n.midi for n in line if n.onset_quarter <= end and n.end_quarter >= start]
    if task.landing_midi is not None and start <= landing_quarter <= end:
        keys.append(task.landing_midi)
    return keys


def _struck(strike: Strike, voicing: Voicing, lighter: bool) -> list[DraftNote]:
    """A chord that is struck; `lighter` where the root stays in the ear when it comes again."""
    pitches = voicing.pitches
    if (strike.again and lighter and voicing.degrees[0] in ("1", "bass") and len(pitches) > 2
            and pitches[1].midi < _MIDDLE_C):
        pitches = pitches[1:]
    return [DraftNote(strike.onset_quarter, strike.end_quarter - strike.onset_quarter, pitch,
                      "left") for pitch in pitches]


def _low_root(task: Task, strike: Strike) -> Fraction | None:
    """How long a low root has before the last chord of a piece, so that the hand gets from one to
    the other: a beat, or two where it is fast; None where there is no time for both."""
    beat = task.beat_quarter
    least = _DOWN_AND_UP_SEC[task.player.level.line.plain]
    length = next((n * beat for n in (1, 2) if task.seconds(n * beat) >= least), None)
    if length is None or strike.end_quarter - strike.onset_quarter < length + beat:
        return None
    return length


def _closed(task: Task, strike: Strike, voicing: Voicing, top: int) -> list[DraftNote]:
    """The last chord of a piece; where it lies high and there is time, its root an octave lower
    comes first, with the line's last note (`top`), and the chord, which rings, over it. A lone bass
    after the chord would be all that is left of it."""
    bass, before = voicing.pitches[0], _low_root(task, strike)
    low = bass.midi - _OCTAVE
    if (bass.midi <= _LOW_ROOT or low < _LOWEST_MIDI or before is None
            or top - low > _TWO_OCTAVES):
        return _struck(strike, voicing, lighter=False)
    place = strike.onset_quarter + before
    return [DraftNote(strike.onset_quarter, before, spelled(bass.note_name, low), "left"),
            *_struck(replace(strike, onset_quarter=place), voicing, lighter=False)]


def _with_tenors(task: Task, strikes: tuple[Strike, ...], harmonies: Sequence[Harmony],
                 chosen: dict[int, Voicing], line: Sequence[Above]
                 ) -> tuple[tuple[Strike, ...], dict[Fraction, Tenor]]:
    """The strokes with their moving tenors, by onset. An advanced left hand lets the tenor of a
    long chord move; in a ballad it holds the chord for that instead of striking it again."""
    if not task.player.level.line.rich_left or task.is_fast:
        return strikes, {}
    found: list[Strike] = []
    tenors: dict[Fraction, Tenor] = {}
    for group in groups(strikes):
        first, last = group[0], group[-1]
        tenor = None
        closing = task.landing is None and last is strikes[-1]
        if not closing and (task.is_ballad or len(group) == 1):
            following = [*harmonies, task.landing_harmony][first.span + 1]
            tenor = tenor_of(task, Stay(harmonies[first.span], chosen[first.span],
                                        first.onset_quarter, last.end_quarter, following), line)
        if tenor is None:
            found += group
        else:
            found.append(Strike(first.onset_quarter, last.end_quarter, first.span, first.again))
            tenors[first.onset_quarter] = tenor
    return tuple(found), tenors


def _moving(strike: Strike, voicing: Voicing, tenor: Tenor) -> list[DraftNote]:
    """A chord that is held while its tenor moves."""
    start, end = strike.onset_quarter, strike.end_quarter
    notes = [DraftNote(start, (tenor.at_quarter if i == tenor.index else end) - start, pitch,
                       "left") for i, pitch in enumerate(voicing.pitches)]
    return [*notes, DraftNote(tenor.at_quarter, end - tenor.at_quarter, tenor.goal, "left")]


def _without(voicing: Voicing, keys: Set[int]) -> Voicing:
    """A voicing with some keys left out."""
    kept = [(d, p) for d, p in zip(voicing.degrees, voicing.pitches, strict=True)
            if p.midi not in keys]
    return Voicing(f"{voicing.kind}, one tone left out", tuple(d for d, _ in kept),
                   tuple(p for _, p in kept), len(kept))


_BARE = ("root", "octave", "root and fifth", "bass", "root, fifth, octave")


@dataclass(frozen=True, slots=True)
class _Grip:
    """A voicing, whether it sounds as its chord, and what it costs whatever the line does."""

    voicing: Voicing
    tells: bool
    rootless: bool
    cost: int


@SEARCHES.keep
def _grips(harmony: Harmony, level: Level, hand: str, top: int) -> tuple[_Grip, ...]:
    """All voicings for one chord below `top`."""
    pools = [left_hand_voicings(harmony, level, hand, low=_LOWEST_MIDI, top=top)]
    if level.line.rich_left and not is_plain(harmony):
        pools.append(left_hand_voicings(harmony, level, hand, low=46,
                                        top=min(top, _ROOTLESS_TOP), rootless=True))
    third = harmony.third
    sixth = "6" in harmony.tones  # also where it stands for a major seventh
    if harmony.symbol.bass is None and third and "5" in harmony.tones and (
            is_plain(harmony) or sixth):
        pools += [form_voicings(harmony, VoicingForm("triad", degrees, 3), hand, low=_LOWEST_MIDI,
                                top=top)
                  for degrees in (("1", third, "5"), (third, "5", "1"), ("5", "1", third))]
    most = level.keys[1] if level.keys else _ANY_KEYS
    return tuple(_grip(harmony, level, voicing) for pool in pools for voicing in pool
                 if len(voicing.midis) <= most)


def _grip(harmony: Harmony, level: Level, voicing: Voicing) -> _Grip:
    advanced, plain = level.line.rich_left, is_plain(harmony)
    midis = voicing.midis
    rootless = not {"1", "bass"} & set(voicing.degrees)
    cost = 0
    if voicing.kind in _BARE:
        cost += COSTS["bare root"] + COSTS["thin for advanced"] * advanced
    elif not (third_heard(harmony, voicing) if plain
              else holds_guides(harmony, voicing.degrees)):
        cost += COSTS["guide tone missing"] // (2 if level.line.plain else 1)
        cost += COSTS["thin for advanced"] * advanced
    if plain and harmony.symbol.bass is None and (
            {"6", "7", "b7"} & set(voicing.degrees) - set(harmony.symbol.degrees)):
        cost += COSTS["added to a triad"]
    cost += COSTS["turned over"] * (voicing.degrees[0] != "1" and voicing.kind == "triad")
    cost += COSTS["two keys for advanced"] * (advanced and len(midis) < 3)
    if rootless:
        cost += COSTS["low rootless"] * max(_ROOTLESS_BOTTOM - midis[0], 0)
    cost += COSTS["low second"] * any(b - a <= 2 and a < _SECOND_BOTTOM
                                      for a, b in pairwise(midis))
    cost += COSTS["low third"] * any(2 < b - a <= 4 and a < _THIRD_BOTTOM
                                     for a, b in pairwise(midis))
    cost += COSTS["mud"] * MUD.cost(midis)
    if level.line.plain:
        cost += COSTS["beginner's third key"] * max(len(midis) - 2, 0)
    return _Grip(voicing, tells_its_chord(harmony, voicing), rootless, cost)


def _unheard(harmony: Harmony, above: set[int]) -> list[tuple[int, str]]:
    """The guide tones of the printed symbol that the line leaves to the left hand, and what it
    costs if it leaves them out too."""
    found = [(harmony.third, "third unheard")]
    if harmony.seventh in harmony.symbol.degrees:
        found.append((harmony.seventh, "seventh unheard"))
    classes = [((harmony.root.pitch_class + degree_pitch_class(degree)) % 12, term)
               for degree, term in found if degree is not None]
    return [(pitch_class, "third left to the line" if pitch_class in above else term)
            for pitch_class, term in classes
            if pitch_class not in above or term == "third unheard"]


@dataclass(frozen=True, slots=True)
class _Clash:
    """The keys of a voicing that rub a note above which is long or on a beat; those of them that
    rub the melody's held note; the cost of the other rubs."""

    keys: frozenset[int]
    by_held: frozenset[int]
    rubs: int


def _clash(midis: Sequence[int], above: Sequence[tuple[int, bool, bool]],
           homes: tuple[int, ...], held_midi: int | None) -> _Clash:
    """How a voicing rubs what is above it: (MIDI number, whether long, whether on a beat)."""
    keys: set[int] = set()
    by_held: set[int] = set()
    rubs = 0
    for midi, long, on_beat in above:
        found = [m for m in midis if RUB.breaks(m, midi, homes)]
        if long or on_beat:
            keys.update(found)
            if long and midi == held_midi:
                by_held.update(found)
        elif found:
            rubs += COSTS["rub with the line"]
    return _Clash(frozenset(keys), frozenset(by_held), rubs)


def _spared(grip: _Grip, harmony: Harmony, level: Level, clash: _Clash) -> _Grip | None:
    """A grip without the keys that rub; None where too little is left, or, of one without its
    root, another chord."""
    kept = _without(grip.voicing, clash.keys)
    if len(kept.midis) < (1 if level.line.plain or clash.by_held else 2):
        return None
    found = _grip(harmony, level, kept)
    return None if grip.rootless and not found.tells else found


@dataclass(frozen=True, slots=True)
class _Stroke:
    """How long a chord is heard, whether it opens a gap that is long enough to want its root
    first, whether the piece ends with it, which wants a low one below everything, and whether its
    root or bass is one of a written bass line that walks, wherever the right hand lies; and
    whether the last chord may lie high: its low root comes before it (`_closed`), or the line is
    far above."""

    until_quarter: Fraction
    opens: bool
    closes: bool
    walks: bool
    lowers: bool


def _climbs(task: Task, over: Sequence[Above]) -> int:
    """How high the right hand climbs of its own accord, beyond the held note and the landing, by
    its lowest key at each onset (0 where it does not): the tune lies where it lies, but a line does
    not leave the left hand more than two octaves below (common practice)."""
    tune = max((m for m in (task.held_midi, task.landing_midi) if m is not None), default=0)
    lowest: dict[Fraction, int] = {}
    for note in over:
        lowest[note.onset_quarter] = min(note.midi, lowest.get(note.onset_quarter, note.midi))
    return max((midi for midi in lowest.values() if midi > tune), default=0)


def _lie(midis: Sequence[int], above: Sequence[int], stroke: _Stroke) -> int:
    """What it costs where a voicing lies, under the keys above it in order."""
    lowest, highest = above[0], above[-1]
    home = _HOME_MIDI + min(max(lowest - _MIDDLE_LINE, 0), _HIGHEST_HOME)
    cost = COSTS["register"] * (abs((midis[0] + midis[-1]) // 2 - home) // 3)
    cost += COSTS["hole"] * max(lowest - midis[-1] - _HOLE, highest - midis[-1] - _TWO_OCTAVES, 0)
    low = _LOW_ROOT + _OCTAVE * stroke.lowers
    return cost + COSTS["close lies high"] * stroke.closes * max(midis[0] - low, 0)


def _ends_open(harmony: Harmony, below: Set[int], over: Sequence[Above]) -> bool:
    """Whether the last sound of a piece is not its chord: without its third, or the triad of
    another root.

    below   the left hand's pitch classes
    """
    last = max((n.onset_quarter for n in over), default=None)
    rings = below | {n.midi % 12 for n in over if n.onset_quarter == last}
    third = third_class(harmony)
    return third is not None and (third not in rings or sounds_as_another(harmony, rings))


def _options(task: Task, harmony: Harmony, top: int, over: Sequence[Above],
             stroke: _Stroke) -> list[tuple[Voicing, int, int]]:
    """Voicings for one chord below `top`: (voicing, own cost, cost of rubs with the line).

    over   the keys above from where they and the chord sound together, each to its own end: one
           that rings on into the next chord is no short note of this one, it is heard to rub
    """
    found: list[tuple[Voicing, int, int]] = []
    homes = flat_nine_homes(harmony.symbol)
    keys, climbs = sorted(n.midi for n in over), _climbs(task, over)
    highest = _MIDDLE_C + (_WITH_IT if keys and keys[0] >= _FAR_UP and not climbs else 0)
    unheard = _unheard(harmony, {
        n.midi % 12 for n in over if n.midi != task.held_midi or n.onset_quarter > 0
        or stroke.until_quarter - n.end_quarter < task.beat_quarter})
    above = [(n.midi, n.end_quarter - n.onset_quarter > task.beat_quarter / 2
              or n.end_quarter > stroke.until_quarter,
              task.beat_at(n.onset_quarter).denominator == 1) for n in over]
    said = {midi % 12 for midi, long, on_beat in above
            if long or on_beat or midi % 12 in harmony.symbol.pitch_classes}
    played = harmony
    for midi, long, on_beat in above:
        if long or on_beat:
            played = under_its_root(played, midi)
    third, needed = third_class(harmony), needed_classes(harmony)
    level = task.player.level
    for grip in _grips(played, level, task.hand_size, top):
        if grip.voicing.midis[0] >= highest or (
                stroke.closes and grip.voicing.degrees[0] not in ("1", "bass")):
            continue
        clash = _clash(grip.voicing.midis, above, homes, task.held_midi)
        if any(m % 12 in needed for m in clash.keys - clash.by_held):
            continue
        cost = COSTS["sixth for seventh"] * (played != harmony and "6" in grip.voicing.degrees)
        if clash.keys:  # the melody is foreign to its chord: leave out what rubs it
            spared = _spared(grip, harmony, level, clash)
            if spared is None:
                continue
            grip = spared
            cost += COSTS["left out"] * len(clash.keys)
        elif not grip.tells:
            continue
        walks = stroke.walks and grip.voicing.degrees[0] in ("1", "bass")
        if climbs - grip.voicing.midis[-1] > _TWO_OCTAVES and not walks:
            continue
        cost += grip.cost + COSTS["no root first"] * (stroke.opens and grip.rootless)
        cost += _lie(grip.voicing.midis, keys or [72], stroke)
        below = {midi % 12 for midi in grip.voicing.midis}
        if stroke.closes and _ends_open(harmony, below, over):
            continue
        terms = [term for pitch_class, term in unheard if pitch_class not in below]
        by_line = third not in {None, *(m % 12 for m in clash.by_held)}
        if by_line and ("third unheard" in terms or (
                third not in below and not level.line.plain)):
            continue  # only the melody takes the third from a chord
        cost += sum(COSTS[term] for term in terms)
        cost += COSTS["sounds as another"] * sounds_as_another(harmony, below | said)
        found.append((grip.voicing, cost, clash.rubs))
    found.sort(key=lambda o: (o[1] + o[2], o[0].midis, o[0].kind))
    rooted = [o for o in found[_KEPT:] if o[0].degrees[0] in ("1", "bass")]
    return found[:_KEPT] + rooted[:_ROOTED]  # a written bass that walks finds its root among them
