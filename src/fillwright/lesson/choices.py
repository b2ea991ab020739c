"""What a student chose in a drill, how long it took, and where choosing is slow.

Gaps are of one kind where a player meets the same question: as many beats, the same sort of
chord, the same sort of tempo.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.fills.tempo import Tempo
from fillwright.given import given_number
from fillwright.lesson.drills import Drill, DrillGap
from fillwright.take import GapHeard, Report
from fillwright.theory.local_key import quality_class
from fillwright.tune.model import Chorus, Gap

__all__ = ["Choice", "KindOfGap", "choice_of", "choices_played", "kind_of", "noted",
           "slow_kinds"]

_MANY_BEATS = 5
_MOST_SECONDS = 3600
_LONGEST_KIND = 120


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer.

    kind      of the gap, in words
    family    what was chosen
    works     whether that family has an offer there
    seconds   from the question to the answer; of one that is played, from where the gap opens
    """

    kind: str
    family: str
    works: bool
    seconds: float


@dataclass(frozen=True, slots=True)
class KindOfGap:
    """A kind of gap: how often it was asked, how many answers worked, and the median of the
    seconds."""

    kind: str
    asked: int
    worked: int
    seconds: float


def kind_of(gap: Gap, chorus: Chorus) -> str:
    """As ``"4 beats, dominant, medium tempo"``."""
    beats = int(gap.beats)
    long = f"{beats} beats" if beats < _MANY_BEATS else f"{_MANY_BEATS} beats and more"
    symbol = next((span.symbol for span in gap.chords if span.symbol.is_chord), None)
    chord = "no chord" if symbol is None else quality_class(symbol) or "major"
    several = ", changing" if len({str(span.symbol) for span in gap.chords}) > 1 else ""
    meter = chorus.bar_at(gap.onset_quarter).meter
    tempo = Tempo.of(chorus.quarters_per_minute / meter.beat_quarter, meter).name.lower()
    return f"{long}, {chord}{several}, {tempo}" + ("" if tempo == "ballad" else " tempo")


def choice_of(asked: DrillGap, chorus: Chorus, family: str, seconds: float) -> Choice:
    """An answer, checked. Raises InputError for a family that is none, or a time that is none."""
    return noted(kind_of(asked.gap, chorus), family,
                 any(fill.family == family for fill, _ in asked.works), seconds)


def choices_played(found: Drill, report: Report) -> tuple[tuple[DrillGap, GapHeard, Choice], ...]:
    """The answers of a recorded take, gap by gap, each time one was come by; one left open is no
    answer."""
    asked = {one.gap.number: one for one in found.gaps}
    rows = []
    for heard in report.gaps:
        one = asked.get(heard.gap.number)
        later = [note.onset_quarter for note in heard.notes
                 if note.onset_quarter > heard.gap.onset_quarter]
        if one is not None and heard.answer in FAMILIES:
            waited = float(min(later, default=heard.gap.onset_quarter)
                           - heard.gap.onset_quarter)
            quarters = report.tempo_mean * float(found.chorus.meter.beat_quarter)
            rows.append((one, heard, choice_of(one, found.chorus, heard.answer,
                                               60 * waited / quarters)))
    return tuple(rows)


def noted(kind: object, family: object, works: object, seconds: object) -> Choice:
    """The same as it was noted down elsewhere. Raises InputError."""
    if family not in FAMILIES:
        raise InputError(f"{family!r} is no family; there are {', '.join(FAMILIES)}")
    if not isinstance(kind, str) or not kind.isprintable() or not 0 < len(kind) <= _LONGEST_KIND:
        raise InputError("a kind of gap is said in a line of words")
    if not isinstance(works, bool):
        raise InputError("an answer works or does not")
    time = given_number(seconds, "the time of an answer")
    if not 0 <= time <= _MOST_SECONDS:
        raise InputError(f"an answer takes 0 to {_MOST_SECONDS} seconds, not {seconds!r}")
    return Choice(kind, str(family), works, float(time))


def slow_kinds(choices: Iterable[Choice]) -> tuple[KindOfGap, ...]:
    """The kinds of gap that were asked, the slowest first; of equal ones the one that worked
    less often."""
    rows: dict[str, list[Choice]] = {}
    for choice in choices:
        rows.setdefault(choice.kind, []).append(choice)
    found = [KindOfGap(kind, len(row), sum(one.works for one in row),
                       median(one.seconds for one in row)) for kind, row in rows.items()]
    return tuple(sorted(found, key=lambda one: (-one.seconds, one.worked / one.asked, one.kind)))
