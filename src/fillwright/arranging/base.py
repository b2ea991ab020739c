"""What the left hand plays between the fills: one path through a lattice of figures.

The base texture adapts to the fills, never the other way: the fills' own left hand is its
neighbour on both sides of a stretch. A state is keys and rhythm together (`figures`), so that
voice leading, the steps of the bass, the rhythm of a phrase, and what rubs or crosses the
melody are weighed in one search.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice, pairwise

import numpy as np
import numpy.typing as npt

from fillwright.arranging.air import Air, sunk_quarter
from fillwright.arranging.figures import Figure, FigurePlace, figures, last_resorts
from fillwright.arranging.textures import STAND_INS, BasePlan, texture_at
from fillwright.arranging.under import keys_under
from fillwright.arranging.weigh import Neighbour, Site, cost_of, guides_of, step_cost
from fillwright.exact import Fraction
from fillwright.fills.draft import DraftNote
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.harmony import under_its_root
from fillwright.rules.nearby import Nearby
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["Help", "Portion", "Stretch", "left_hand", "passed_until", "portions", "untold"]

_EIGHTH = Fraction(1, 2)

_CONTENT = 50
"""A texture with a figure up to this cost needs no other to stand in."""

_MOST_FIGURES = 24
"""So many figures of a chord are tried with their neighbours, the cheapest by themselves."""

_HIGHEST_LEFT = 66
"""F sharp 4, above which the left hand is in the melody's room, if that is not an octave off."""

_HIGHEST_OF_ALL = 72
"""C5, above which it leaves its own."""

_END_LOWEST = 31
"""G1, down to which the last bass of a piece may go."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Score time between two fills, with the left hand's strokes before and after it.

    passing   the fill before ends on an added chord
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    before: Neighbour | None = None
    after: Neighbour | None = None
    passing: bool = False


@dataclass(frozen=True, slots=True)
class Help:
    """What the right hand does for the left: it may share a texture of both hands, and it may
    have a chord's third or seventh under the melody, except over the chords that begin at
    `without`."""

    shares: bool = True
    tells: bool = True
    without: frozenset[Fraction] = frozenset()


@dataclass(frozen=True, slots=True)
class Portion:
    """A chord within a stretch and within a bar."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony

    @property
    def duration_quarter(self) -> Fraction:
        return self.end_quarter - self.onset_quarter


def portions(plan: BasePlan, stretch: Stretch) -> list[Portion]:
    """The chords of a stretch, cut at bar lines; a scrap of an old chord under the notes
    that lead to the next one is left out (the melody alone), and so is what comes of one before
    the next beat where the fill ends between two eighths."""
    found: list[Portion] = []
    chorus, passed = plan.chorus, passed_until(plan.chorus, stretch)
    first = bisect_right(chorus.bars, stretch.onset_quarter, key=lambda bar: bar.onset_quarter)
    for bar in islice(chorus.bars, max(first - 1, 0), None):
        if bar.onset_quarter >= stretch.end_quarter:
            break
        opens = max(bar.onset_quarter, stretch.onset_quarter)
        closes = min(bar.end_quarter, stretch.end_quarter)
        for place in range(chorus.chord_index_at(opens) or 0, len(chorus.chords)):
            span, harmony = chorus.chords[place], chorus.harmonies[place]
            if span.onset_quarter >= closes:
                break
            start, end = max(opens, span.onset_quarter), min(closes, span.end_quarter)
            if start >= end or harmony is None:
                continue
            begun = start > span.onset_quarter and start == stretch.onset_quarter
            if begun and (bar.end_quarter - start) % _EIGHTH:
                beat = bar.meter.beat_quarter
                start = bar.end_quarter - (bar.end_quarter - start) // beat * beat
                if start >= end:
                    continue
            if end <= passed or (begun and end - start < bar.meter.beat_quarter
                                 and start != bar.onset_quarter):
                continue
            if (found and found[-1].end_quarter == start and start != bar.onset_quarter
                    and found[-1].harmony.symbol == harmony.symbol):
                found[-1] = Portion(found[-1].onset_quarter, end, harmony)
            else:
                found.append(Portion(start, end, harmony))
    return found


def passed_until(chorus: Chorus, stretch: Stretch) -> Fraction:
    """Where the goal of a fill's last added chord comes, past a chord of the sheet that would come
    back for a beat or less inside a bar; where there is none, the beginning of the stretch."""
    start = stretch.onset_quarter
    bar, index = chorus.bar_at(start), chorus.chord_index_at(start)
    if not stretch.passing or index is None or start == bar.onset_quarter:
        return start
    span, after = chorus.chords[index], chorus.chords[index + 1:index + 2]
    brief = span.onset_quarter < start and span.end_quarter - start <= bar.meter.beat_quarter
    return span.end_quarter if brief and after and after[0].symbol != span.symbol else start


@dataclass(frozen=True, slots=True)
class _Layer:
    """The figures of one portion and what each costs by itself, by term."""

    portion: Portion
    site: Site
    figures: list[Figure]
    costs: dict[str, npt.NDArray[np.int64]]


def left_hand(plan: BasePlan, stretch: Stretch, melody: Sequence[SoundingNote], help: Help
              ) -> tuple[list[DraftNote], list[DraftNote]]:
    """The left hand of one stretch: a figure per portion; and what the right hand strikes with
    it under the melody where the texture is for both hands."""
    sites = _sites(plan, stretch, melody, help)
    layers = [_layer(portion, site, help) for portion, site in sites]
    steps = [{"step": _steps(a, b)} for a, b in pairwise(layers)]
    paths = k_best_paths([len(layer.figures) for layer in layers],
                         [layer.costs for layer in layers], steps, 1)
    notes: list[DraftNote] = []
    under: list[DraftNote] = []
    for layer, place in zip(layers, paths[0].states if paths else (), strict=False):
        figure, portion = layer.figures[place], layer.portion
        notes += [DraftNote(portion.onset_quarter + struck.onset_quarter,
                            struck.duration_quarter, struck.pitch, "left")
                  for struck in figure.struck]
        if figure.under:
            over = next(n for n in melody if n.onset_quarter == portion.onset_quarter)
            length = min(over.end_quarter, portion.end_quarter) - portion.onset_quarter
            under += [DraftNote(portion.onset_quarter, length, pitch, "right")
                      for pitch in figure.under]
    return notes, under


def _sites(plan: BasePlan, stretch: Stretch, melody: Sequence[SoundingNote], help: Help
           ) -> list[tuple[Portion, Site]]:
    """Where the figures of a stretch stand."""
    places = portions(plan, stretch)
    near = Nearby(melody)
    found: list[tuple[Portion, Site]] = []
    for index, portion in enumerate(places):
        last = index == len(places) - 1
        air = _air(plan, portion, near)
        place = _place(plan, portion, air,
                       goes_on=index > 0 and places[index - 1].harmony.symbol
                       == portion.harmony.symbol,
                       coming=_coming(plan, stretch, portion) if last else
                       places[index + 1].harmony.symbol.lowest)
        found.append((portion, Site(
            place, air, texture_at(plan, portion.onset_quarter, portion.duration_quarter),
            _helped(plan, portion, air, help), plan.phrase_at(portion.onset_quarter),
            plan.chorus.seconds_per_quarter,
            closes=last and plan.closes_at(portion.end_quarter),
            before=stretch.before if index == 0 else None,
            after=stretch.after if last else None,
            floors=_floors(plan, portion, air, help))))
    return found


def _air(plan: BasePlan, portion: Portion, melody: Nearby[SoundingNote]) -> Air:
    sounding = tuple(melody.within(portion.onset_quarter, portion.end_quarter))
    beat = plan.chorus.bar_at(portion.onset_quarter).meter.beat_quarter
    return Air(portion.onset_quarter, portion.end_quarter, sounding, beat,
               flat_nine_homes(portion.harmony.symbol))


def _place(plan: BasePlan, portion: Portion, air: Air, *, goes_on: bool,
           coming: NoteName | None) -> FigurePlace:
    """The room of a figure. Under a melody note on its root a chord has its sixth."""
    harmony = portion.harmony
    for note in air.melody:
        if note in air.long_notes or note.onset_quarter == portion.onset_quarter:
            harmony = under_its_root(harmony, note.midi)
    top = next((n.midi for n in air.melody if n.onset_quarter == portion.onset_quarter
                and n.duration_quarter >= air.beat_quarter), None)
    bass = harmony.symbol.lowest
    same = coming is not None and bass is not None and coming.pitch_class == bass.pitch_class
    low = plan.player.level.base.lowest
    if plan.closes_at(portion.end_quarter):
        low = min(low, _END_LOWEST)
    return FigurePlace(harmony, portion.duration_quarter, air.beat_quarter, plan.player, low,
                 _ceiling(air), top,
                 None if same else coming, goes_on)


def _ceiling(air: Air) -> int:
    """The key below which the left hand stays."""
    lowest = min((n.midi for n in air.melody), default=_HIGHEST_LEFT + 1)
    return min(lowest - 1, max(_HIGHEST_LEFT, min(lowest - 12, _HIGHEST_OF_ALL)))


def _coming(plan: BasePlan, stretch: Stretch, portion: Portion) -> NoteName | None:
    """The bass that the fill after a stretch begins with, if it is that of the chord there."""
    after = stretch.after
    if after is None or after.onset_quarter != portion.end_quarter:
        return None
    harmony = plan.chorus.harmony_at(after.onset_quarter)
    bass = None if harmony is None else harmony.symbol.lowest
    return bass if bass is not None and min(after.keys) % 12 == bass.pitch_class else None


def _helped(plan: BasePlan, portion: Portion, air: Air, help: Help) -> frozenset[str]:
    """The guide tones that the right hand can have under a melody note of the portion; one
    where it has a single note there."""
    if not help.tells or portion.onset_quarter in help.without:
        return frozenset()
    most = plan.under(portion.onset_quarter)
    for note in air.melody:
        if note.onset_quarter < portion.onset_quarter:
            continue
        classes = {midi % 12 for midi in keys_under(plan, note, portion.harmony)}
        terms = [term for term, told in guides_of(portion.harmony) if told & classes]
        if terms:
            return frozenset(terms[-most:])
    return frozenset()


def _floors(plan: BasePlan, portion: Portion, air: Air, help: Help) -> dict[Fraction, int]:
    """The lowest key that the right hand can have under each melody note of a portion."""
    if not help.tells or portion.onset_quarter in help.without:
        return {}
    found = ((note, keys_under(plan, note, portion.harmony)) for note in air.melody
             if note.onset_quarter >= portion.onset_quarter)
    return {note.onset_quarter: keys[0] for note, keys in found if keys}


def _layer(portion: Portion, site: Site, help: Help) -> _Layer:
    """The cheapest figures: of the wanted texture, of others where it finds nothing good, the
    root alone or nothing where even these do not."""
    found: list[tuple[int, Figure, dict[str, int]]] = []

    def offer(some: Sequence[Figure]) -> int:
        for figure in some:
            costs = cost_of(figure, site)
            found.append((sum(costs.values()), figure, costs))
        return min((total for total, *_ in found), default=FORBIDDEN)

    cheapest = FORBIDDEN
    for texture in (site.wanted, *STAND_INS[site.wanted]):
        if cheapest > _CONTENT and (help.shares or texture not in ("spread", "drop 2")):
            cheapest = offer(figures(site.place, texture))
    if cheapest > _CONTENT:
        cheapest = offer(last_resorts(site.place))
    found.sort(key=lambda row: row[0])  # stable: equal ones stay in order
    kept = [row for row in found if row[0] < FORBIDDEN][:_MOST_FIGURES]
    silent = Figure((), "shells")
    kept.append((0, silent, cost_of(silent, site)))
    terms = sorted({term for *_, costs in kept for term in costs})
    return _Layer(portion, site, [figure for _, figure, _ in kept],
                  {term: np.array([costs.get(term, 0) for *_, costs in kept], dtype=np.int64)
                   for term in terms})


def _steps(before: _Layer, after: _Layer) -> npt.NDArray[np.int64]:
    sites = before.site, after.site
    return np.array([[step_cost(a, b, sites) for b in after.figures] for a in before.figures],
                    dtype=np.int64)


def untold(plan: BasePlan, stretch: Stretch, melody: Sequence[SoundingNote],
           notes: Sequence[DraftNote]) -> frozenset[Fraction]:
    """Where the portions begin whose third or seventh is heard neither in the melody nor in the
    notes, or whose melody is left alone two octaves above them."""
    found: set[Fraction] = set()
    sung, struck = Nearby(melody), Nearby(notes)
    for portion in portions(plan, stretch):
        air = _air(plan, portion, sung)
        heard = {n.midi % 12 for n in air.long_notes}
        heard |= {n.midi % 12 for n in struck.within(portion.onset_quarter, portion.end_quarter)
                  if portion.onset_quarter <= n.onset_quarter}
        if any(not told & heard for _, told in guides_of(portion.harmony)) or _is_hollow(
                portion, air, struck):
            found.add(portion.onset_quarter)
    return frozenset(found)


def _is_hollow(portion: Portion, air: Air, struck: Nearby[DraftNote]) -> bool:
    """Whether there is nothing for two octaves between the hands under a note of more than a beat,
    for longer than one."""
    for note in air.melody:
        start = max(note.onset_quarter, portion.onset_quarter)
        end = min(note.end_quarter, portion.end_quarter)
        if end - start <= air.beat_quarter:
            continue
        row = struck.within(start, end)
        high = min([n.midi for n in row if n.hand == "right" and n.onset_quarter <= start],
                   default=note.midi)
        left = [(n.onset_quarter, n.end_quarter, n.midi) for n in row if n.hand == "left"]
        if sunk_quarter(left, high, start, end) > air.beat_quarter:
            return True
    return False
