"""What was heard of a take, on paper for the student: three sentences, the lead sheet with its
notes marked, the tempo, then gap by gap what was played above the nearest idea.

The same take gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fillwright.arranging.model import Options
from fillwright.arranging.window import window_of
from fillwright.fills.model import Fill
from fillwright.lesson.paper import STAFF_UNIT, STAFF_WIDTHS
from fillwright.lesson.saying import Say, say_in
from fillwright.lesson.staff import StaffWanted, engraved
from fillwright.lesson.task import Sheet
from fillwright.score.heard import TONES, heard_sheet
from fillwright.score.typeset import typeset
from fillwright.tables import count_of
from fillwright.take import Report, kept_fill
from fillwright.take.report import CLEAR_BALANCE, GapHeard
from fillwright.take.words import late_words
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Gap

__all__ = ["take_pdf"]

_TEMPLATE = Path(__file__).resolve().parent / "take.typ"
_PAPER = "A4"
_STATUS = ("played", "wrong", "missed")
_WIDE, _HIGH, _LEFT, _LOW = 1800, 360, 110, 60      # of the tempo curve, tenths of a millimetre
_AROUND = 0.15
"""So far the curve reaches above and below the mean, as a share of it."""

Find = Callable[[int, str], Fill | None]


@dataclass(frozen=True, slots=True)
class _Staff:
    """A staff to be drawn: whose it is, and what stands on it."""

    file: str
    heard: GapHeard
    fill: Fill


def take_pdf(report: Report, options: Options, find: Find, language: str = "en") -> bytes:
    """A4.

    options   level and hand of what was played with
    find      the fill of a gap by its id, where there is one

    Raises `EngravingError`.
    """
    say = say_in(language)
    gaps = find_gaps(report.chorus)
    drawings = _sheets(report, gaps)
    sheets = sorted(drawings)
    staves = [staff for place, heard in enumerate(report.gaps)
              for staff in _staves(place, heard, report, options, find)]
    drawings |= _drawn(staves, report, gaps, options)
    if not report.is_steady:
        drawings["tempo.svg"] = _curve(report)
    files = {staff.file for staff in staves}
    status = {note.note: note.status for note in report.melody if note.reached}
    data = {
        "title": say("report.title", title=report.chorus.tune.title), "take": report.take.name,
        "language": language, "caution": say("pack.caution"),
        "page": say("pack.page", page="{page}", pages="{pages}"),
        "summary": list(report.summary), "facts": _facts(report, say), "sheets": sheets,
        "legend": [{"kind": kind, "tone": TONES[kind], "words": say(
            f"report.{kind}", count=sum(one == kind for one in status.values()))}
            for kind in _STATUS],
        "tempo": say("report.tempo_steady" if report.is_steady else "report.tempo",
                     mean=round(report.tempo_mean)),
        "curve": "" if report.is_steady else "tempo.svg",
        "by_gap": say("report.gaps"),
        "you": say("report.you"), "near": say("report.near"),
        "gaps": [_entry(place, heard, files, say) for place, heard in enumerate(report.gaps)]}
    return typeset(_TEMPLATE.read_text(encoding="utf-8"), data, drawings)


def _sheets(report: Report, gaps: tuple[Gap, ...]) -> dict[str, str]:
    status = {note.note: note.status for note in report.melody if note.reached}
    pages = heard_sheet(report.chorus, gaps, status).pages
    return {f"sheet-{number:02d}.svg": page for number, page in enumerate(pages, 1)}


def _staves(place: int, heard: GapHeard, report: Report, options: Options, find: Find
            ) -> list[_Staff]:
    """What was played in a gap, and the idea it is near to."""
    if heard.answer == "open":
        return []
    found = [_Staff(f"played-{place}.svg", heard,
                    kept_fill(report, heard, options.hand, options.level))]
    near = None if heard.fill is None else find(heard.gap.number, heard.fill)
    return found if near is None else [*found, _Staff(f"near-{place}.svg", heard, near)]


def _drawn(staves: list[_Staff], report: Report, gaps: tuple[Gap, ...], options: Options
           ) -> dict[str, str]:
    wanted = []
    for staff in staves:
        number = staff.heard.gap.number
        window = window_of(report.chorus, gaps, number, staff.fill, options, own={number})
        wanted.append(StaffWanted(Sheet(replace(window.arrangement, gaps=(window.gap,))),
                                  STAFF_WIDTHS[_PAPER], STAFF_UNIT))
    return dict(zip((staff.file for staff in staves), engraved(wanted), strict=True))


def _entry(place: int, heard: GapHeard, files: set[str], say: Say) -> Mapping[str, Any]:
    gap = heard.gap
    bar = (say("pack.bar", bar=gap.bar) if gap.pass_number == 1
           else say("pack.bar_pass", bar=gap.bar, **{"pass": gap.pass_number}))
    return {
        "heading": say("report.gap", number=gap.number, bar=bar,
                       beat=say("pack.beat", beat=count_of(gap.beat))),
        "answer": say(f"report.answer_{heard.answer}"), "device": heard.device or "",
        "fits": _fits(heard, say),
        "landing": late_words(heard), "findings": [one.sentence for one in heard.findings],
        "played": name if (name := f"played-{place}.svg") in files else "",
        "near": name if (name := f"near-{place}.svg") in files else ""}


def _landing_is_missing(heard: GapHeard) -> bool:
    return heard.gap.landing is not None and heard.back_late_sec is None


def _fits(heard: GapHeard, say: Say) -> str:
    """What is said where nothing was found; what was left open is not praised for it."""
    if _landing_is_missing(heard):
        return ""
    if heard.answer != "open":
        return say("report.fits")
    return say("report.left_open" if heard.gap.landing is None else "report.left_open_in_time")


def _facts(report: Report, say: Say) -> list[str]:
    found = []
    if report.swing is not None:
        found.append(say(f"report.swing_{report.swing.against_usual}"))
    if report.balance is not None:
        found.append(say("report.balance_above" if report.balance >= CLEAR_BALANCE else
                         "report.balance_below" if report.balance <= -CLEAR_BALANCE else
                         "report.balance_even"))
    return found


def _curve(report: Report) -> str:
    """The tempo over the bars, with the mean as a dashed line."""
    mean, points = report.tempo_mean, report.tempo_curve
    tempos = [bpm for _, bpm in points]
    low, high = min([mean * (1 - _AROUND), *tempos]), max([mean * (1 + _AROUND), *tempos])
    step = (_WIDE - _LEFT - 40) / max(1, len(points) - 1)

    def y(bpm: float) -> float:
        return 20 + (high - bpm) / (high - low) * (_HIGH - 20 - _LOW)

    path, words = "", ""
    every = -(-len(points) // 16)
    for index, (place, bpm) in enumerate(points):
        x = _LEFT + index * step
        goes_on = index > 0 and place > points[index - 1][0]
        path += f"{'L' if goes_on else 'M'}{x:.0f} {y(bpm):.0f}"
        if index % every == 0:
            words += _words(x, _HIGH - 12, report.chorus.bar_at(place).number, "middle")
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" '
            f'width="{_WIDE / 10}mm" height="{_HIGH / 10}mm">'
            f'<path d="M{_LEFT} {y(mean):.0f}H{_WIDE - 40}" stroke="#666" stroke-width="3" '
            f'stroke-dasharray="14 14"/>{_words(0, y(mean) + 10, f"{mean:.0f}", "start")}'
            f'<path d="{path}" fill="none" stroke="#000" stroke-width="7"/>{words}</svg>')


def _words(x: float, y: float, text: str, anchor: str) -> str:
    plain = "".join(letter for letter in text if letter.isalnum() or letter in " .-+")
    return (f'<text x="{x:.0f}" y="{y:.0f}" font-size="34" text-anchor="{anchor}" '
            f'font-family="Liberation Serif">{plain}</text>')
