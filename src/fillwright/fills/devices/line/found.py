"""Lines found for a gap: rhythms drawn, seeds set, pitches drawn, each line judged and named."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import chain, pairwise, repeat
from zlib import crc32

from fillwright.exact import Fraction
from fillwright.fills.devices.line.devices import HEARD, heard
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.judging import (
    CALMEST,
    faults,
    is_a_scale,
    is_bare_chord,
    is_struck_out,
    wished,
)
from fillwright.fills.devices.line.learnt import tempo_class
from fillwright.fills.devices.line.naming import Found, LineDevice
from fillwright.fills.devices.line.question import question_of
from fillwright.fills.devices.line.rhythms import (
    LineRhythm,
    drawn,
    grid_of,
    is_sayable,
    rate_ok,
    rhythm_of,
)
from fillwright.fills.devices.line.room import Room
from fillwright.fills.devices.line.seeds import Seed, melody_rhythms, seeds_of
from fillwright.fills.devices.line.shift import LATE, shifts_of, stretched
from fillwright.fills.devices.line.sounding import Line, LineSetting, parts
from fillwright.fills.devices.line.walk import Slot, Ways, surprise, ways_of
from fillwright.fills.model import Shift
from fillwright.fills.player import BEGINNER, Level
from fillwright.fills.situation import Span, Task
from fillwright.fills.tempo import Tempo

__all__ = ["Drawn", "Pool", "bare_lines", "dealt", "lines_of", "room_of", "said_of", "setting_of",
           "sound_of"]

_DRAWS = 2
"""Lines drawn for each question."""

_EACH, _OFTEN = 3, 4
"""Seeds for each rhythm; where few rhythms fit each has its turn again, up to so often."""

_IDEA = 20
"""What a line costs whose best device is worth nothing; each grade of worth is a tenth of a
fault less."""

_WORTH_WAITING = 5
"""Notes of a line that the melody waits for."""

_SHIFTED = 11
"""What a shifted landing costs on top: it is a spice (common practice)."""

_FEW = 24
"""Of fewer lines the turns take one after the other; of more, those whose number it is."""

_CHANCE = 16
"""What a rhythm costs beside its line: a throw below this many tenths of a fault, so that the
lines offered begin and end as differently as the rhythms drawn do."""

_TURNS = 8
"""Devices take turns from gap to gap: below so many tenths of a fault."""

_ELSEWHERE = 40
"""Where several gaps of a chorus offer the same to play, all lines are dealt out among them;
elsewhere a line costs so much more. So what comes again has another line."""

_PLACES = (16, 24)
"""What a line costs in one place of the form and not in another, below so many tenths of a fault:
where few lines fit they are not the same everywhere. Fewest fit a beginner's hand: the second."""

_LATE_ENOUGH = 8
"""So many times more rhythms are drawn where they have to lead into a shifted landing."""

_ROUNDS, _ENOUGH = 3, 20
"""So often a gap is asked until so many lines are found."""

_LEAST_NOTES = (6, 4)
"""A line has a note for each free beat, three where there are two, until it has so many; a
beginner's the second."""

_THIN = 18
"""What a line of fewer notes than `LineTaste.least_notes` costs more: two notes are a pickup that
anybody plays."""

_SIXTEENTHS = 8
"""What sixteenths cost in a swing that is not slow: there four phrases in a hundred begin with four
of them, one in ten below (Weimar Jazz Database); in a short gap they would be the rule."""

_SCALE = 14
"""What a plain piece of scale, or a bare chord broken, costs those who are past both."""

_MOST_BEATS = 16
"""Longer gaps get fewer rhythms, so that they take no endless time."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line with its name and its price.

    device   the worthiest thing heard in it, or the way its landing is shifted
    found    everything heard in it
    below    a key struck under each of its notes, or ()
    """

    room: Room
    rhythm: LineRhythm
    slots: tuple[Slot, ...]
    midis: tuple[int, ...]
    device: str
    found: tuple[tuple[LineDevice, Found], ...]
    costs: tuple[tuple[str, int], ...]
    shift: Shift | None = None
    below: tuple[int, ...] = ()

    @property
    def total(self) -> int:
        return sum(cost for _, cost in self.costs)

    @property
    def rank(self) -> tuple[int, str, tuple[Fraction, ...], tuple[int, ...]]:
        """The lowest comes first."""
        return self.total, self.device, self.rhythm.onsets, self.midis


def room_of(task: Task, shift: Shift | None = None, altered: bool = False) -> Room:
    """The room of a gap; `altered` where the dominants that may be are altered in it, line and
    left hand alike."""
    taste = task.player.level.line
    spans = tuple(_coloured(s) if altered else s for s in task.spans)
    end = task.end_quarter if shift is None else shift.landing_quarter
    return Room(task, taste, stretched(spans, task, shift), task.landing_midi, end, altered)


def _coloured(span: Span) -> Span:
    """A dominant with its altered colours, and without the natural ones that they stand for; with
    the flat nine and the flat thirteen goes the sharp eleven, as in the scale of them all (common
    practice)."""
    colours = span.alterations
    if {"b9", "b13"} <= set(colours):
        colours = (*colours, "#11")
    found = replace(span, alterations=colours).altered
    gone = {natural for colour, natural in _NATURAL if colour in colours}
    kept = tuple(d for d in found.harmony.tensions if d not in gone)
    return replace(found, harmony=replace(found.harmony, tensions=kept))


_NATURAL = (("b9", "9"), ("#9", "9"), ("b13", "13"))
"""An altered colour and the natural one that it stands for: a line has one of them."""


def _wishes(task: Task, said: str) -> Iterator[_Wish]:
    """What is wished for at the landing's own place: where a dominant may be altered, half of the
    lines are drawn over it altered."""
    taste = task.player.level.line
    seeds = taste.seeds
    alters = taste.alters and any(s.alterations for s in task.spans)
    yield _Wish(room_of(task), said, seeds // (1 + alters))
    if alters:
        yield _Wish(room_of(task, altered=True), said, seeds // 2)


def lines_of(task: Task) -> Iterator[Drawn]:
    """All lines found for a gap, the cheapest first; where few are found it is asked again."""
    pool = _pool_of(task)
    pool.deal(task.form.turn, task.form.turns)
    yield from pool.cheapest_first()


def _pool_of(task: Task) -> Pool:
    pool, said = Pool(task.player.level), said_of(task)
    taste, dice = task.player.level.line, Dice(said)
    for _ in range(_ROUNDS):
        for wish in _wishes(task, said):
            pool.add(_lines(wish, dice))
        if pool.has(_ENOUGH):
            break
    if taste.foreign:
        for name, shift in shifts_of(task):
            pool.add(_lines(_Wish(room_of(task, shift), said, taste.seeds // 4, shift, name),
                            dice))
    return pool


class Pool:
    """Lines with a name, and those without: no more are named than are asked for."""

    def __init__(self, level: Level) -> None:
        self._most_worth = _worth([device for device in HEARD if level.is_taught(device.level)],
                                  level)
        self._count = 0
        self._known: set[tuple[str, tuple[Fraction, ...], tuple[int, ...]]] = set()
        self._lots: set[int] = set()
        self._bare: list[tuple[int, int, _Bare]] = []
        self._named: list[tuple[tuple[object, ...], int, Drawn]] = []

    def add(self, lines: Iterable[_Bare]) -> None:
        for line in lines:
            what = line.wish.name, line.timed.rhythm.onsets, line.midis
            if what in self._known:
                continue
            self._known.add(what)
            self._lots.add(_lot(line))
            self._count += 1
            heappush(self._bare, (line.cost - self._most_worth, self._count, line))

    def has(self, count: int) -> bool:
        """Whether so many lines have a name; no more than these are named."""
        while self._bare and len(self._named) < count:
            self._name_next()
        return len(self._named) >= count

    def deal(self, turn: int, turns: int) -> None:
        """Let the lines of other turns cost more: each has its place in a row that does not depend
        on what is found beside it, and the turns take them from it one after the other."""
        if turns == 1 or not (self._bare or self._named):
            return
        lots = self._lots if self._bare else {_lot(line) for _, _, line in self._named}
        if len(lots) < _FEW:
            row = sorted(lots)
            turns = min(turns, len(row))
            mine = set(row[turn % turns::turns])
        else:
            mine = {lot for lot in lots if lot % turns == turn}
        for i, (_, number, line) in enumerate(self._named):
            if _lot(line) not in mine:
                line = _elsewhere(line)
                self._named[i] = line.rank, number, line
        for i, (cost, number, bare) in enumerate(self._bare):
            if _lot(bare) not in mine:
                bare.costs["elsewhere"] = _ELSEWHERE
                self._bare[i] = cost + _ELSEWHERE, number, bare
        heapify(self._bare)
        heapify(self._named)

    def cheapest_first(self) -> Iterator[Drawn]:
        while self._bare or self._named:
            if self._bare and (not self._named
                               or self._bare[0][0] <= self._named[0][2].total):
                self._name_next()
            else:
                yield heappop(self._named)[2]

    def _name_next(self) -> None:
        _, number, bare = heappop(self._bare)
        line = _named(bare)
        if line is not None:
            heappush(self._named, (line.rank, number, line))


def dealt(task: Task, lines: Iterable[Drawn]) -> Iterator[Drawn]:
    """What comes beside the drawn lines, dealt out among the gaps that offer the same."""
    for line in lines:
        mine = _lot(line) % task.form.turns == task.form.turn
        yield line if mine else _elsewhere(line)


def _elsewhere(line: Drawn) -> Drawn:
    return replace(line, costs=(*line.costs, ("elsewhere", _ELSEWHERE)))


def _lot(line: _Bare | Drawn) -> int:
    """A number that only the line itself decides, in every key the same."""
    rhythm = line.timed.rhythm if isinstance(line, _Bare) else line.rhythm
    return crc32(repr((rhythm.onsets, [m - line.midis[0] for m in line.midis])).encode())


def said_of(task: Task) -> str:
    """What is heard, without its key and place: the same in every key, and where it comes again."""
    tonic = task.key.tonic.pitch_class
    said = [str(task.duration_quarter), str(task.beat), str(task.quarters_per_minute),
            task.player.level.name]
    said += [f"{s.onset_quarter} {(s.harmony.root.pitch_class - tonic) % 12} "
              f"{s.harmony.symbol.quality}" for s in task.spans]
    said += [f"{n.onset_quarter} {(n.midi - tonic) % 12}" for n in task.phrase]
    if task.landing_midi is not None:
        said.append(str((task.landing_midi - tonic) % 12))
    return "|".join(said)


@dataclass(frozen=True, slots=True)
class _Wish:
    """What lines are wished for: their room, what is said of the gap, how many seeds, and how
    the landing is shifted."""

    room: Room
    said: str
    seeds: int
    shift: Shift | None = None
    name: str = ""

    @property
    def price(self) -> int:
        """What it costs, whatever is found."""
        return _SHIFTED if self.name else 0


def _lines(wish: _Wish, dice: Dice) -> Iterator[_Bare]:
    seen: set[tuple[tuple[Fraction, ...], tuple[int, ...]]] = set()
    turn = dice.below(16)
    rhythms = _rhythms(wish, dice)
    turns = wish.seeds // _EACH // max(len(rhythms), 1)
    for rhythm in rhythms * min(max(turns, 1), _OFTEN):
        timed = _timed(wish.room, rhythm, dice.below(_CHANCE))
        for midis, mean in _throws(wish.room, timed, dice, turn):
            if (rhythm.onsets, midis) not in seen:
                seen.add((rhythm.onsets, midis))
                line = _judged(wish, timed, midis, mean)
                if line is not None:
                    yield line
        turn += _EACH


def bare_lines(room: Room, said: str, rhythm: LineRhythm, shapes: Sequence[Seed], dice: Dice
               ) -> Iterator[_Bare]:
    """Lines drawn in one rhythm, not named yet: of given shapes, and as they come.

    said   of the gap, see `said_of`
    """
    wish, timed = _Wish(room, said, _EACH), _timed(room, rhythm, 0)
    seen: set[tuple[int, ...]] = set()
    for midis, mean in chain(_shaped(room, timed, shapes, dice), _throws(room, timed, dice, 0)):
        if midis not in seen:
            seen.add(midis)
            line = _judged(wish, timed, midis, mean)
            if line is not None:
                yield line


def _shaped(room: Room, timed: _Timed, shapes: Sequence[Seed], dice: Dice
            ) -> Iterator[tuple[tuple[int, ...], int]]:
    for seed in shapes:
        mean, leaps = wished(dice)
        ways = _ways(room, timed, seed, False, leaps)
        if ways is not None:
            for _ in range(_DRAWS):
                yield ways.draw(dice), mean


def _throws(room: Room, timed: _Timed, dice: Dice, turn: int
            ) -> Iterator[tuple[tuple[int, ...], int]]:
    """The lines drawn for one rhythm, from the seeds whose turn it is, each with the surprise
    wished for. Two notes of a beginner's are so few that all of them are looked at."""
    plain = room.taste.plain
    if plain and len(timed.rhythm) == 2:
        for above in (False, True):
            ways = _ways(room, timed, Seed(), above, CALMEST[1])
            yield from zip([] if ways is None else ways.pairs(), repeat(CALMEST[0]))
        return
    for seed in seeds_of(room, timed.rhythm, timed.slots, dice, turn, _EACH):
        mean, leaps = CALMEST if plain else wished(dice)  # a beginner's hand stays in its place
        ways = _ways(room, timed, seed, dice.below(3) == 0, leaps)
        if ways is not None:
            for _ in range(_DRAWS):
                yield ways.draw(dice), mean


def _ways(room: Room, timed: _Timed, seed: Seed, above: bool, leaps: float) -> Ways | None:
    question = question_of(room, timed.rhythm, timed.slots, seed, above, leaps)
    return None if question is None else ways_of(question)


def _rhythms(wish: _Wish, dice: Dice) -> list[LineRhythm]:
    room, shift, count = wish.room, wish.shift, wish.seeds // _EACH
    task = room.situation
    grid = grid_of(task, tempo_class(task.beats_per_minute), room.landing_quarter)
    taste = room.taste
    if task.beats > _MOST_BEATS:
        count = max(count // 3, 4)
    free = (grid.end - grid.start) / grid.beat_quarter
    most = _LEAST_NOTES[taste.plain]
    least = max(3 if free >= 2 or task.beats >= 3 else 2, min(int(free), most))
    found = drawn(grid, taste, dice, count if shift is None else _LATE_ENOUGH * count, least)
    if shift is None:
        own: list[LineRhythm] = []
        for cell in melody_rhythms(room, grid.start, grid.end):
            if len(own) >= max(count // 2, 3):
                break
            onsets = _led_on(task, cell, found[len(own)]) if len(own) % 2 and len(
                own) < len(found) else cell
            if room.landing is None and task.beat_at(onsets[-1]).denominator != 1:
                continue  # a piece comes to rest on a beat
            rhythm = rhythm_of(grid, onsets, dice)
            if rate_ok(grid, taste, (*onsets, grid.end)) and is_sayable(grid, taste, onsets):
                own.append(rhythm)
        found = [*own, *found]
    else:
        late = shift.landing_quarter > task.end_quarter
        last_from = task.end_quarter if late else room.landing_quarter - task.beat_quarter
        found = [r for r in found if r.onsets[-1] >= last_from and r.air == 0
                 and (not late or len(r) >= _WORTH_WAITING)][:count]
    return found


def _led_on(task: Task, cell: tuple[Fraction, ...], other: LineRhythm) -> tuple[Fraction, ...]:
    """A rhythm of the melody's, gone on with as another one ends."""
    after = cell[-1] + task.beat_quarter / 2
    return (*cell, *(onset for onset in other.onsets if onset >= after))


@dataclass(frozen=True, slots=True)
class _Timed:
    """A rhythm over its chords, and what chance makes it cost."""

    rhythm: LineRhythm
    slots: tuple[Slot, ...]
    setting: LineSetting
    chance: int


def _timed(room: Room, rhythm: LineRhythm, chance: int) -> _Timed:
    slots = room.slots(rhythm)
    return _Timed(rhythm, slots, setting_of(room, rhythm, slots), chance)


@dataclass(frozen=True, slots=True)
class _Bare:
    """A line that is judged, but has no name yet; `costs` are all but those of its name."""

    wish: _Wish
    timed: _Timed
    line: Line
    midis: tuple[int, ...]
    costs: dict[str, int]

    @property
    def cost(self) -> int:
        """What it costs at least if its best device is worth nothing."""
        return sum(self.costs.values()) + _IDEA + self.wish.price


def _judged(wish: _Wish, timed: _Timed, midis: tuple[int, ...], mean: int) -> _Bare | None:
    """A line with its price; `mean` is the surprise wished for. None where it is not offered."""
    room = wish.room
    level = room.situation.player.level
    line = sound_of(room, timed.setting, midis)
    bits = surprise(timed.slots, midis)
    if is_struck_out(line, bits):
        return None
    if wish.name == LATE and _is_there(room, timed.rhythm, midis):
        return None  # where the melody is waited for, its own key would be taken for it
    if level.line.plain and line.count > 2 and not _tells_third(line):
        return None  # two notes leave it to the left hand
    costs = faults(line, abs(bits - mean))
    costs["rhythm"] = timed.chance
    form = room.situation.form
    share = crc32(repr((timed.setting.onsets, line.moves)).encode())
    costs["place"] = crc32(f"{share} {form.section} {form.bar} {form.time}".encode()) % _PLACES[
        level.line.plain]
    if line.count < level.line.least_notes:
        costs["thin"] = _THIN
    if _is_double_time(room.situation, line):
        costs["sixteenths"] = _SIXTEENTHS
    if level.line.foreign and is_a_scale(line):
        costs["scale"] = _SCALE
    if level.line.alters and is_bare_chord(line):
        costs["bare chord"] = _SCALE
    if level.line.plain:
        costs["hand moves"] = max(max(midis) - min(midis) - 9, 0)
    return _Bare(wish, timed, line, midis, costs)


def _is_double_time(task: Task, line: Line) -> bool:
    """Whether a line has sixteenths where eighths swing faster than slowly."""
    quick = line.setting.beat // 4
    return (task.feel == "swing" and task.tempo > Tempo.SLOW
            and any(b - a == quick for a, b in pairwise(line.onsets[:line.count])))


def _named(bare: _Bare) -> Drawn | None:
    """A line with its name, if anything is heard in it."""
    wish, timed, level = bare.wish, bare.timed, bare.wish.room.situation.player.level
    found = heard(bare.line, level)
    if not found and not wish.name:
        return None
    device = wish.name or found[0][0].name
    costs = bare.costs | {
        "idea": _IDEA - _worth([d for d, _ in found], level) + wish.price,
        "turn": crc32(f"{wish.said} {device}".encode()) % _TURNS}
    return Drawn(wish.room, timed.rhythm, timed.slots, bare.midis, device, tuple(found),
                 tuple(sorted(costs.items())), wish.shift)


def _worth(devices: list[LineDevice], level: Level) -> int:
    """What the worthiest thing heard in a line is worth to a level."""
    return max((d.worth - level.line.taught_first * (d.level == BEGINNER)
                for d in devices), default=0)


def _is_there(room: Room, rhythm: LineRhythm, midis: tuple[int, ...]) -> bool:
    """Whether the landing's key, in any octave, is struck from its written place on, or among the
    last two notes."""
    place, landing = room.situation.end_quarter, room.landing
    return landing is not None and any(
        (midi - landing) % 12 == 0 and (onset >= place or i + 2 >= len(midis))
        for i, (onset, midi) in enumerate(zip(rhythm.onsets, midis, strict=True)))


def _tells_third(line: Line) -> bool:
    """Whether the third of a chord is among the notes, where a chord has one."""
    return any(line.is_third(i) for i in range(line.count)) or all(
        h.third is None for h in line.harmonies[:line.count])


def setting_of(room: Room, rhythm: LineRhythm, slots: tuple[Slot, ...]) -> LineSetting:
    """When the notes of a rhythm come, and over what."""
    task = room.situation
    onsets, ends = list(rhythm.onsets), list(rhythm.ends)
    harmonies = [room.spans[s.span].harmony for s in slots]
    if room.landing is not None:
        onsets.append(room.landing_quarter)
        ends.append(room.landing_quarter + task.beat_quarter)
        harmonies.append(task.landing_harmony or room.spans[-1].harmony)
    beat = task.beat_quarter
    return LineSetting(
        tuple(map(parts, onsets)), tuple(map(parts, ends)),
        tuple(parts((task.beat_at(o) - 1) * beat) for o in onsets), tuple(harmonies),
        tuple(parts(s.onset_quarter) for s in room.spans[1:]), room.beat, len(rhythm),
        room.landing is not None and rhythm.air < beat / 2, task.key, task.held_midi,
        room.melody)


def sound_of(room: Room, setting: LineSetting, midis: tuple[int, ...]) -> Line:
    """A line as it is heard, before it is spelled."""
    return Line(setting, midis if room.landing is None else (*midis, room.landing))
