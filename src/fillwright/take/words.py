"""What a kind teacher would say of a take: what went well, what to work on, how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import fmean

from fillwright.arranging.from_paper import bar_and_beat
from fillwright.take.findings import BRIEF_SEC
from fillwright.take.report import CLEAR_BALANCE, GapHeard, Report

__all__ = ["first_empty", "late_words", "summary_of"]


def summary_of(report: Report, easy: str | None = None) -> Report:
    """The report with its three sentences.

    easy   name of an idea for the first gap that stayed empty though an answer was asked for
    """
    return replace(report, summary=(_well(report), _work_on(report, easy), _how(report)))


def first_empty(gaps: Sequence[GapHeard]) -> GapHeard | None:
    """Where most of the gaps that ask for an answer stayed empty, the first of them."""
    asked = [gap for gap in gaps if gap.is_asked]
    empty = [gap for gap in asked if gap.answer == "open"]
    return empty[0] if 2 * len(empty) > len(asked) else None


def late_words(gap: GapHeard) -> str:
    """How a landing came, in words."""
    late = gap.back_late_sec
    if late is None:
        return "no landing" if gap.gap.landing is None else "the landing was not played"
    if not gap.is_off:
        return "back in time"
    return f"back {gap.amount_words} {'late' if late > 0 else 'early'}"


def _bar(gap: GapHeard) -> str:
    return gap.gap.bar if gap.gap.pass_number == 1 else f"{gap.gap.bar} ({gap.gap.pass_number}.)"


def _landing_bar(gap: GapHeard, report: Report) -> str:
    """Of what is late the bar is told that it is late in."""
    assert gap.gap.landing is not None
    bar, _ = bar_and_beat(report.chorus.bars, gap.gap.landing.onset_quarter)
    return bar.number if bar.pass_number == 1 else f"{bar.number} ({bar.pass_number}.)"


def _bars(gaps: list[GapHeard]) -> str:
    return _listed([_bar(gap) for gap in gaps])


def _listed(bars: Sequence[str]) -> str:
    names = list(dict.fromkeys(bars))
    if len(names) == 1:
        return f"bar {names[0]}"
    return f"bars {', '.join(names[:-1])} and {names[-1]}"


def _well(report: Report) -> str:
    reached = [note for note in report.melody if note.reached]
    played = sum(note.status == "played" for note in reached)
    landed = [gap for gap in report.gaps if gap.back_late_sec is not None]
    timely = [gap for gap in landed if not gap.is_off]
    answers = [gap for gap in report.gaps if gap.answer != "open"]
    words = f"{played} of {len(reached)} melody notes were there at about " \
            f"{report.tempo_mean:.0f} beats a minute"
    if landed and timely:
        words += f", and {len(timely)} of {len(landed)} landings came back in time"
    if answers and first_empty(report.gaps) is None:
        words += f"; {len(answers)} of {len(report.gaps)} gaps were answered"
    return f"What went well: {words}."


def _late(report: Report) -> list[GapHeard]:
    late = [gap for gap in report.gaps if gap.is_off]
    return sorted(late, key=lambda gap: -abs(gap.back_late_sec or 0.0))


def _missed(report: Report) -> int:
    return sum(note.reached and note.status != "played" for note in report.melody)


def _work_on(report: Report, easy: str | None) -> str:
    late, missed = _late(report), _missed(report)
    brief = [gap for gap in report.gaps
             if gap.melody_heard_sec is not None and gap.melody_heard_sec < BRIEF_SEC]
    things = []
    if late:
        worst = late[:3]
        middle = sorted(worst, key=lambda gap: gap.amount)[len(worst) // 2]
        way = "late" if fmean(gap.back_late_sec or 0.0 for gap in worst) > 0 else "early"
        things.append(f"the way back into the melody in "
                      f"{_listed([_landing_bar(gap, report) for gap in worst])} "
                      f"({middle.amount_words} {way})")
    empty = first_empty(report.gaps)
    if empty is not None:
        count = sum(gap.is_asked and gap.answer == "open" for gap in report.gaps)
        idea = "" if easy is None else f": in bar {_bar(empty)} try “{easy}”"
        things.append(f"{count} of {sum(gap.is_asked for gap in report.gaps)} gaps stayed empty"
                      + idea)
    if brief:
        things.append(f"let the held note be heard in {_bars(brief[:3])}")
    if missed:
        things.append(f"{missed} melody {'note' if missed == 1 else 'notes'} that "
                      f"{'was' if missed == 1 else 'were'} wrong or left out")
    if report.balance is not None and report.balance < CLEAR_BALANCE:
        things.append("bring the melody out above the accompaniment")
    if not things:
        return "What to work on: nothing stands out; try other answers in the same gaps."
    return f"What to work on: {'; '.join(things[:3])}."


def _how(report: Report) -> str:
    late = _late(report)
    tempo = max(20, round(report.tempo_mean * 0.8 / 4) * 4)
    if late:
        gap = late[0]
        return (f"How: {_bars([gap])}, from the held note to the landing, first the left hand "
                f"alone with the beat counted aloud, then both hands at {tempo} beats a minute "
                "until it comes back in time three times running.")
    wrong = [note for note in report.melody if note.reached and note.status != "played"]
    if wrong:
        bar = report.chorus.bar_at(report.chorus.melody[wrong[0].note].onset_quarter)
        return (f"How: the melody alone around bar {bar.number}, right hand, at {tempo} beats a "
                "minute, then with the left hand.")
    return (f"How: the same take again at {round(report.tempo_mean)} beats a minute with one "
            "more gap left open, both hands, to hear what the silence does.")
