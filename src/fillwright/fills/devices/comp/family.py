"""Comping: the hands drop into rhythmic chords while the melody holds.

Every texture of `textures` is tried with the rhythms that suit it; the voicings are
found on the lattice; the cheapest distinct ideas that two hands can play are offered.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from heapq import heappop, heappush
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.again import shouts_at, sketched_again, sketched_shouts
from fillwright.fills.devices.comp.below import Rows, held_at, search_left
from fillwright.fills.devices.comp.colours import with_the_tune
from fillwright.fills.devices.comp.drafts import notes_of
from fillwright.fills.devices.comp.names import texture_name
from fillwright.fills.devices.comp.plan import plan_of
from fillwright.fills.devices.comp.reasons import reasons_for, rhythm_name
from fillwright.fills.devices.comp.search import FoundHands, over_left
from fillwright.fills.devices.comp.setting import CompSetting, setting_of
from fillwright.fills.devices.comp.states import NO_HELD, WEIGHTS
from fillwright.fills.devices.comp.strokes import StrokePlan
from fillwright.fills.devices.comp.table import in_rotation, texture_cost, textures_of
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.devices.comp.times import rhythms_for
from fillwright.fills.devices.device import passage_of
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.model import Fill, Idea
from fillwright.fills.offer import Candidate
from fillwright.fills.player import Player
from fillwright.fills.rhythm.grid import Rhythm
from fillwright.fills.situation import Task
from fillwright.fills.tempo import Tempo
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["COMP", "Comp", "textures_at"]

ROUNDS = 12
"""Rhythms tried for each texture, one a round, until enough ideas are found."""

AT_ONCE = 8
"""Rounds that are one in a gap of two beats, where few rhythms must differ."""

BEST = 8
"""The best rhythms of a texture, which take turns; others come after them."""

FAR = 24
"""How much dearer than the best an option may be and still be taken as it comes (design
choice); dearer ones come last, and only until there are enough."""

_HAMMERED = 4
"""Times one key, or one chord, comes in a row at least to be hammered (common practice)."""

_TRIAD = 3
"""Tones from which on a fill is told by what sounds, not by who plays it."""

_TRIAD_TONES = frozenset((0, 3, 4, 7))
"""Semitones above the root, in any octave."""

SAID = 18
"""Surcharge, each time, for a rhythm of both hands that an option before had (design choice:
about what another texture may be dearer)."""

ITS_TURN = 14
"""How much dearer than others the rare texture whose turn it is, and at a tune's end one that
ends it, may be and still be taken before them (design choice: about what such a texture pays for
its leaps)."""

LET_GO = MappingProxyType({Tempo.BALLAD: 8, Tempo.SLOW: 6, Tempo.MEDIUM: 5, Tempo.FAST: 2})
"""Cost of a beat of the held note that is not heard (design choice: a slow note sings)."""

LOST_SOON = 20
"""More, in a ballad, where a note of more than a beat is gone after a beat: it has not sung yet
(design choice: what the slowest note costs that is let go for two beats and more)."""

IN_TURN = 12
"""Cost of two chords in turn that are struck in turn again: an exercise (design choice: half of a
chord's third time)."""

SUNG_AGAIN = 2
"""The part of that cost, one in so many, where the phrase is sung again instead."""

ZIGZAG = 5
"""Cost of each time after the first that a line of tops turns: it has no shape (design choice: less
than two chords in turn)."""

PLAIN_SHELLS = ("shells", "two-note shells")
"""Textures that some fall back on when nothing richer fits (`CompTaste.shells_last`)."""

@dataclass(frozen=True, slots=True)
class _Sketch:
    """A texture and a rhythm, before it is known which keys are struck."""

    texture: Texture
    rhythm: Rhythm
    favour: int = 0


@dataclass(frozen=True, slots=True)
class _Version:
    """A texture with a plan of its strokes and the keys found for them."""

    texture: Texture
    plan: StrokePlan
    found: FoundHands
    costs: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        return _sum(self.costs)

    @property
    def onsets(self) -> tuple[Fraction, ...]:
        """Where anything is struck."""
        return tuple(sorted({s.onset_quarter + later for s in (*self.plan.left, *self.plan.right)
                             for later in (Fraction(0), *s.breaks)}))

    @property
    def is_poor(self) -> bool:
        """The same keys three times, or two chords in turn and in turn again; an inversion without
        its root; a left-hand chord turned over; in a ballad a chord struck again that would better
        be held."""
        return any((name in ("third time", "in turn", "no root", "turned over") and cost)
                   or (name == "same chord again" and cost >= WEIGHTS["struck while held"])
                   for name, cost in self.costs)


@dataclass(frozen=True, slots=True)
class _Priced:
    """A version that waits, priced when its rhythm had been given `times` times."""

    version: _Version
    favour: int
    times: int


class Comp:
    """Comping, as a family: textures in rhythms, each a candidate. In every round each texture
    comes with another rhythm, the cheapest versions of the round first."""

    name = "comp"
    far = FAR
    patience = 1_000_000  # the rounds come to an end

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        situation, setting, textures = textures_at(situation, player, without)
        favourite = in_rotation(textures, situation.rotation)
        choices = {t: rhythms_for(setting, t) for t in textures}
        tried: set[tuple[str, Rhythm]] = set()
        said: Counter[tuple[Fraction, ...]] = Counter()
        ends = situation.landing is None
        at_once = AT_ONCE if setting.length <= 2 * setting.beat else 1
        for rotation in range(0, ROUNDS, at_once):
            sketches: list[_Sketch] = []
            for place, texture in enumerate(textures):
                for one in range(rotation, rotation + at_once):
                    rhythm = _taking_turns(choices[texture], one, place)
                    if rhythm is not None and (texture.name, rhythm) not in tried:
                        tried.add((texture.name, rhythm))
                        wanted = texture.ends if ends else texture.name == favourite
                        sketches.append(_Sketch(texture, rhythm, ITS_TURN if wanted else 0))
            yield from _cheapest_first(setting, sketches, said)

    def related(self, task: Task) -> Iterator[Candidate]:
        """Textures in the stated rhythm, or in that rhythm moved or filled up."""
        stated = task.stated
        assert stated is not None
        _, setting, textures = textures_at(task, task.player, task.without)
        sketches = [_Sketch(*row) for row in sketched_again(setting, textures, stated)]
        yield from _cheapest_first(setting, sketches, Counter())

    def at_the_height(self, task: Task) -> Iterator[Candidate]:
        """Full chords of both hands, the more of them the sooner: the shout of a chorus."""
        situation, setting, _ = textures_at(task, task.player, task.without)
        sketches = [_Sketch(*row) for row in sketched_shouts(setting, shouts_at(situation))]
        yield from _cheapest_first(setting, sketches, Counter())

    def suits(self, fill: Fill, player: Player) -> bool:
        """Whether it is not far harder than what else the level plays."""
        return fill.difficulty <= player.level.at_ease

    def why_not(self, situation: Task, player: Player) -> str:
        return "no comping chord fits under the held note here"


COMP = Comp()


def textures_at(situation: Task, player: Player, without: frozenset[str] = frozenset()
                ) -> tuple[Task, CompSetting, list[Texture]]:
    """The gap with the chords that are struck there, its setting, and the textures that are tried:
    no other is ever offered."""
    if player.level.comp.alters:
        situation = replace(situation, spans=tuple(s.altered for s in situation.spans))
    situation = _with_the_tune(situation)
    setting = setting_of(situation)
    return situation, setting, [
        texture for texture in textures_of(player, setting.frame.style, situation.held is not None,
                                           situation)
        if texture.name not in without and not (situation.plain and texture.is_chromatic)]


def _with_the_tune(situation: Task) -> Task:
    """The gap with chords that keep to the tune's own notes."""
    sung = [n.pitch.note_name for n in (*situation.phrase, *situation.following)]
    before, after = situation.previous_harmony, situation.landing_harmony
    return replace(
        situation, spans=tuple(replace(s, harmony=with_the_tune(s.harmony, sung))
                               for s in situation.spans),
        previous_harmony=None if before is None else with_the_tune(before, sung),
        landing_harmony=None if after is None else with_the_tune(after, sung))


def _taking_turns(rhythms: Sequence[Rhythm], rotation: int, place: int) -> Rhythm | None:
    """The rhythm of a texture in a round: neighbouring textures start with different ones, so
    that ideas differ."""
    if not rhythms:
        return None
    return rhythms[(rotation + place) % min(len(rhythms), BEST) if rotation < BEST
                   else rotation % len(rhythms)]


def _cheapest_first(setting: CompSetting, sketches: list[_Sketch],
                    said: Counter[tuple[Fraction, ...]]) -> Iterator[Candidate]:
    """The versions of a round by cost, each searched only when nothing cheaper can come.

    said   how often each rhythm of both hands was given; a rhythm given meanwhile makes a version
           wait again
    """
    waiting: list[tuple[int, str, int, Iterator[int | _Version] | _Priced]] = []
    for order, sketch in enumerate(sketches):
        heappush(waiting, (-sketch.favour, "", order, _solving(setting, sketch)))
    while waiting:
        _, _, order, thing = heappop(waiting)
        if isinstance(thing, _Priced):
            waits = thing
            if said[thing.version.onsets] == thing.times:
                said[thing.version.onsets] += 1
                yield _candidate(setting, thing.version, thing.favour)
                continue
        else:
            favour = sketches[order].favour
            step = next(thing, None)
            if step is None:
                continue
            if isinstance(step, int):
                heappush(waiting, (step - favour, "", order, thing))
                continue
            waits = _Priced(step, favour, 0)
        version, times = waits.version, said[waits.version.onsets]
        heappush(waiting, (version.total - waits.favour + SAID * times, version.texture.name, order,
                           replace(waits, times=times)))


def _candidate(setting: CompSetting, version: _Version, favour: int) -> Candidate:
    taste = setting.task.player.level.comp
    late = version.is_poor or (taste.shells_last and version.texture.name in PLAIN_SHELLS)
    name = texture_name(version.texture, version.plan, version.found)
    return Candidate(version.total - favour, name,
                     partial(_drafts, setting.task, version), last=late)


def _drafts(task: Task, version: _Version, rotation: int) -> Iterator[Draft]:
    """What is not heard is not offered under its name. Where the hands found less than a plain
    texture looks for, and the name says less, it need not be."""
    draft, texture = _draft(task, version), version.texture
    said = texture.hears(passage_of(task, draft))
    name = texture_name(texture, version.plan, version.found)
    if said or (texture.plain and name != texture.name):
        yield replace(draft, reasons=reasons_for(task, texture, version.plan, version.found,
                                                 "" if texture.plain else said))


def _given_costs(setting: CompSetting, sketch: _Sketch) -> tuple[tuple[str, int], ...]:
    texture = texture_cost(sketch.texture, setting.task.player.level, setting.frame.style)
    return (*((f"rhythm: {k}", 2 * v) for k, v in sketch.rhythm.costs),
            ("texture", 2 * texture))


def _sum(costs: tuple[tuple[str, int], ...]) -> int:
    return sum(cost for _, cost in costs)


def _solving(setting: CompSetting, sketch: _Sketch) -> Iterator[int | _Version]:
    """What a version costs at least, the more the further it is worked out: by its texture and
    rhythm, by its strokes, by its left hand. The version comes last, where there is one."""
    task, texture = setting.task, sketch.texture
    costs = _given_costs(setting, sketch)
    yield _sum(costs)
    plan = plan_of(setting, texture, sketch.rhythm)
    if plan is None:
        return
    costs = (*costs, ("let go", _let_go_cost(setting, plan)), ("space", _space_cost(setting, plan)))
    yield _sum(costs)
    left = search_left(task, texture, plan)
    if left is None or _is_untold(left) or not _is_its_left(texture, left):
        return
    yield _sum(costs) + _sum(left[1])
    found = over_left(task, texture, plan, left)
    if found is None or _is_untold((found.left, found.costs)) or _hides_its_kind(
            task, plan, found) or _hammers(found) or _closes_in_the_air(task, plan, found):
        return
    third = task.player.level.comp.third_time * _third_times(found)
    in_turn = IN_TURN * _turns(found)
    bare = task.player.level.comp.bare * _is_bare(plan, found)
    zigzag = 0 if plan.rhythm.tops else ZIGZAG * max(
        _turnings([v.midis[-1] for v in found.right]) - 1, 0)
    yield _Version(texture, plan, found, (
        *found.costs, *costs, ("third time", third), ("in turn", in_turn), ("zigzag", zigzag),
        ("bare triads", bare)))


def _is_bare(plan: StrokePlan, found: FoundHands) -> bool:
    """Do the hands sound nothing but the tones of triads?"""
    rows = (*zip(plan.left, found.left, strict=True), *zip(plan.right, found.right, strict=True))
    return all(stroke.harmony.symbol.relative(key % 12) in _TRIAD_TONES
               for stroke, voicing in rows for key in voicing.midis)


def _is_untold(rows: Rows) -> bool:
    """Does nobody play a third or a seventh that tells the chord?"""
    return any(name == "guides" and cost for name, cost in rows[1])


def _is_its_left(texture: Texture, left: Rows) -> bool:
    """Has a texture named after a tenth one, and does a bass line move?"""
    if texture.left in ("tenth", "walk tenth") and not any(
            v.midis[-1] - v.midis[0] in (15, 16) for v in left[0]):
        return False
    return texture.mode != "bass" or len({v.midis[0] % 12 for v in left[0]}) > 1


def _hides_its_kind(task: Task, plan: StrokePlan, found: FoundHands) -> bool:
    """Is a half-diminished chord struck without its third and fifth, one that changes the third
    over the same root (A flat major, A flat minor) without its third, or one that is printed with
    a raised or lowered fifth without that?

    The melody note counts for the fifth alone: it may be gone, or belong to both chords.
    """
    struck: dict[Harmony, set[int]] = {}
    sung: dict[Harmony, set[int]] = {}
    rows = (*zip(plan.left, found.left, strict=True), *zip(plan.right, found.right, strict=True))
    for stroke, voicing in rows:
        struck.setdefault(stroke.harmony, set()).update(
            stroke.harmony.symbol.relative(m % 12) for m in voicing.midis)
        held = held_at(task, plan, stroke)
        if held != NO_HELD:
            sung.setdefault(stroke.harmony, set()).add(stroke.harmony.symbol.relative(held % 12))
    before = task.previous_harmony
    landing = task.landing_harmony
    for harmony in (*(s.harmony for s in task.spans), *([] if landing is None else [landing])):
        heard = struck.get(harmony)
        third = harmony.third
        if heard and _fifth_of(harmony) - heard - sung.get(harmony, set()):
            return True
        if heard and third is not None:
            if harmony.symbol.quality == "half-diminished" and (
                    not {3, 6} & heard or (8 in heard and 6 not in heard)):
                return True  # with the flat sixth for a fifth it is another chord inverted
            turned = before is not None and before.root == harmony.root and before.third not in (
                None, third)
            if turned and degree_pitch_class(third) not in heard:
                return True
        before = harmony
    return False


def _fifth_of(harmony: Harmony) -> set[int]:
    """The raised or lowered fifth that the symbol of a chord names which would be another one
    without it; empty where it names none."""
    if harmony.symbol.quality in ("half-diminished", "diminished"):
        return set()
    return {degree_pitch_class(d) for d in ("#5", "b5") if d in harmony.symbol.degrees
            and d in harmony.tones}


def _closes_in_the_air(task: Task, plan: StrokePlan, found: FoundHands) -> bool:
    """Does a tune end on a chord without its bass below it?"""
    if task.landing is not None:
        return False
    harmony = task.spans[-1].harmony
    bass = (harmony.symbol.bass or harmony.root).pitch_class
    rows = (*zip(plan.left, found.left, strict=True), *zip(plan.right, found.right, strict=True))
    keys = [key for stroke, voicing in rows if stroke.harmony == harmony for key in voicing.midis]
    return bool(keys) and min(keys) % 12 != bass


def _let_go_cost(setting: CompSetting, plan: StrokePlan) -> int:
    """Letting the melody note go costs by the beats it loses, the more the slower they are."""
    task, until = setting.task, plan.held.until_quarter
    if task.held is None or plan.held.kept == "finger":
        return 0
    lost = min((setting.held_end - until) / setting.beat, Fraction(4))
    cost = LET_GO[task.tempo] * max(int(lost * 2), 0) // 2
    if plan.rhythm.tops:
        cost //= SUNG_AGAIN
    soon = task.is_ballad and until <= setting.beat < setting.held_end
    return cost + LOST_SOON * soon


def _space_cost(setting: CompSetting, plan: StrokePlan) -> int:
    """Where the held note has ended the space opens: beats of it that nothing answers cost."""
    if setting.task.held is None or plan.both:
        return 0
    last = max(s.onset_quarter + (s.breaks[-1] if s.breaks else 0)
               for s in (*plan.left, *plan.right))
    empty = (setting.length - setting.held_end) / setting.beat
    return WEIGHTS["space"] * min(int(empty), 2) if last < setting.held_end else 0


def _hammers(found: FoundHands) -> bool:
    """Is one key all that the right hand strikes, so often in a row that it says nothing, or does a
    hand strike one chord four times?"""
    right, left = ([v.midis for v in row] for row in (found.right, found.left))
    return any(len({*row[place:place + _HAMMERED]}) == 1 and (row is right or len(row[place]) > 1)
               for row in (right, left) for place in range(len(row) - _HAMMERED + 1))


def _third_times(found: FoundHands) -> int:
    """How many chords have the keys of both chords before them in the same hand."""
    count = 0
    for row in (found.left, found.right):
        midis = [v.midis for v in row]
        count += sum(len(c) > 1 and a == b == c
                     for a, b, c in zip(midis, midis[1:], midis[2:], strict=False))
    return count


def _turns(found: FoundHands) -> int:
    """How often two chords of a hand that were struck in turn are struck in turn again, or two
    tops of the right hand: a see-saw is no line."""
    rows = [[v.midis for v in row] for row in (found.left, found.right)]
    tops = [v.midis[-1:] for v in found.right]
    again = [sum(a == c and b == d and a != b and (len(a) > 1 or row is tops) for a, b, c, d in zip(
        row, row[1:], row[2:], row[3:], strict=False)) for row in (*rows, tops)]
    return again[0] + max(again[1:])


def _turnings(tops: Sequence[int]) -> int:
    """How often a line of keys turns.

    >>> _turnings([72, 74, 76]), _turnings([72, 76, 74, 79]), _turnings([72, 72, 74, 74, 72])
    (0, 2, 1)
    """
    ways = [b > a for a, b in pairwise(tops) if a != b]
    return sum(a != b for a, b in pairwise(ways))


def _draft(task: Task, version: _Version) -> Draft:
    plan, found = version.plan, version.found
    texture = version.texture
    tied = ("left" if texture.mode == "tenor" else
            "right" if texture.motion == "inner" or texture.line is not None else "")
    notes = notes_of(task, plan, found, tied=tied)
    name = texture_name(version.texture, plan, found)
    device = f"{name}, {rhythm_name(task, plan)}"
    return Draft(
        family="comp",
        device=device,
        notes=tuple(notes),
        chords=tuple(DraftChord(s.onset_quarter, s.end_quarter, s.harmony)
                     for s in task.spans),
        reasons=(),
        costs=version.costs,
        idea=_idea(task, version, notes),
        held=plan.held,
    )


def _idea(task: Task, version: _Version, notes: list[DraftNote]) -> Idea:
    """Two fills with the same keys in another rhythm differ in their onsets alone: the top
    line counts where it moves, the voicing by what the hands really play. What a listener
    hears decides in whichever hands the keys are; of two tones, who has them."""
    held = task.held_midi
    reference = held if held is not None else 60 + task.spans[0].harmony.root.pitch_class
    right = [n for n in notes if n.hand == "right"] or notes
    keys = [n.midi for n in right]
    kinds = version.texture.name
    if not version.found.right:
        kinds = ", ".join(dict.fromkeys(v.kind for v in version.found.left))
    together: dict[Fraction, set[int]] = {}
    for note in notes:
        together.setdefault(note.onset_quarter, set()).add((note.midi - reference) % 12)
    bare = len(set().union(*together.values())) < _TRIAD
    return Idea(
        onsets=tuple(sorted(onset - task.onset_quarter for onset in together)),
        top_line=_tops(notes, reference), voicing=kinds,
        register=(min(keys) + max(keys)) // 2 - reference,
        hand_line=_tops(right, reference),
        sounds=frozenset() if bare else frozenset(map(frozenset, together.values())),
        balance=sum(n.midi for n in notes) // len(notes) - reference)


def _tops(notes: Sequence[DraftNote], reference: int) -> tuple[int, ...]:
    """The highest key at every onset, repetitions left out."""
    highest: dict[Fraction, int] = {}
    for note in notes:
        highest[note.onset_quarter] = max(highest.get(note.onset_quarter, 0), note.midi)
    row = [highest[onset] - reference for onset in sorted(highest)]
    return tuple(top for place, top in enumerate(row) if place == 0 or top != row[place - 1])
