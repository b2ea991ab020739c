"""In a worker: what is heard of a take, as JSON for the page."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import lru_cache
from typing import Any

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Arrangement
from fillwright.contract import take_document
from fillwright.edition.decisions import Decisions
from fillwright.edition.desk import Desk
from fillwright.edition.model import Edition
from fillwright.edition.own import own_pick
from fillwright.edition.picks import Pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.lesson import (
    TakeRating,
    devices_heard,
    rating_of,
    rating_of_device,
    take_pdf,
)
from fillwright.score.engraver import EngravingError, engrave_here
from fillwright.score.heard import heard_sheet
from fillwright.score.inpage import for_page
from fillwright.take import Report, best_fit, check_take, kept_fill, take_from_bytes
from fillwright.take.report import GapHeard
from fillwright.tune.model import Chorus, Tune

__all__ = ["fitting", "heard", "printed"]

Progress = Callable[[str, int, int], None]


def _report_of(desk: Desk, decisions: Decisions, data: bytes, name: str, progress: Progress
              ) -> tuple[Report, Arrangement]:
    """What is heard of a take against the chorus as it was decided. Raises InputError."""
    def working(done: int, total: int) -> None:
        progress("job_gaps" if done < total else "job_chosen", done, total)

    desk.chorus_of(decisions, working)
    progress("job_listening", 0, 1)
    return _checked(desk, decisions, data, name)


@lru_cache(maxsize=2)
def _checked(desk: Desk, decisions: Decisions, data: bytes, name: str
             ) -> tuple[Report, Arrangement]:
    """What is read on the screen is often printed next."""
    written = desk.chorus_of(decisions)
    return check_take(take_from_bytes(data, name), desk.chorus, written.options, written), written


def printed(desk: Desk, decisions: Decisions, data: bytes, name: str, progress: Progress,
            language: str) -> tuple[str, bytes]:
    """The same on paper: the file's name and content. Raises InputError."""
    report, written = _report_of(desk, decisions, data, name, progress)
    progress("job_writing", 0, 1)

    def find(number: int, fill: str) -> Fill | None:
        picked = dict(decisions.picks).get(number)
        pick = picked if picked is not None and picked.fill == fill else Pick(fill)
        with suppress(InputError):
            plain, own = desk.chosen(number, pick)
            return own or plain
        return None

    try:
        return f"{name.rsplit('.', 1)[0] or 'take'}.pdf", take_pdf(report, written.options, find,
                                                                  language)
    except EngravingError as error:
        raise InputError(str(error)) from error


def fitting(data: bytes, name: str, editions: Mapping[str, Edition], progress: Progress
            ) -> str | None:
    """Which of some tunes a take is of, each as its edition has it; None where none is clearly
    heard."""
    known: list[tuple[str, Tune]] = []

    def choruses() -> Iterator[Chorus]:
        for place, (key, edition) in enumerate(editions.items()):
            progress("job_comparing", place, len(editions))
            with suppress(InputError):  # what cannot be played is nothing that it could be of
                chorus, _ = prepare(edition.tune(), edition.decisions.options)
                known.append((key, chorus.tune))
                yield chorus

    best = best_fit(take_from_bytes(data, name), choruses())
    return next((key for key, tune in known if tune is best), None)


def heard(desk: Desk, decisions: Decisions, data: bytes, name: str, progress: Progress
          ) -> dict[str, Any]:
    """The report of a take. Raises InputError."""
    report, written = _report_of(desk, decisions, data, name, progress)
    progress("job_engraving", 0, 1)
    document = take_document(report, written.options)
    return {"summary": document["summary"], "form": _form(report),
            "tempo": {**document["tempo"], "is_steady": report.is_steady},
            "swing": report.swing and {**document["swing"],
                                       "against_usual": report.swing.against_usual},
            "balance": document["balance"],
            "warnings": list(report.warnings), "melody": _melody(report), "pages": _pages(report),
            "gaps": [{**value, **_gap(one, report, desk, decisions)}
                     for one, value in zip(report.gaps, document["gaps"], strict=True)],
            "ratings": _ratings(report), "bars": _bars(report), "play": _played(report)}


def _pages(report: Report) -> list[str]:
    """The lead sheet, each note marked by what became of it the last time it was come by."""
    status = {note.note: note.status for note in report.melody if note.reached}
    chorus = report.chorus
    try:
        done = heard_sheet(chorus, _gaps(report), status, engrave=engrave_here)
    except EngravingError as error:
        raise InputError(str(error)) from error
    return [for_page(page, f"take{number}-") for number, page in enumerate(done.pages, 1)]


def _gaps(report: Report) -> list[Any]:
    return list({one.gap.number: one.gap for one in report.gaps}.values())


def _form(report: Report) -> list[dict[str, Any]]:
    """The runs in bars."""
    chorus = report.chorus
    return [{"from": chorus.sheet_number(run.from_quarter),
             "to": chorus.sheet_number(max(run.to_quarter - Fraction(1, 16), Fraction(0))),
             "from_sec": round(run.from_sec, 2), "to_sec": round(run.to_sec, 2)}
            for run in report.form]


def _melody(report: Report) -> list[dict[str, Any]]:
    """The notes that were not played as written, and counts of all."""
    chorus = report.chorus
    found = []
    for note in report.melody:
        if not note.reached:
            continue
        place = chorus.melody[note.note]
        found.append({"status": note.status, "bar": chorus.sheet_number(place.onset_quarter),
                      "beat": str(chorus.beat_in_bar(place.onset_quarter)),
                      "pitch": f"{place.pitch.note_name.pretty}{place.pitch.octave}",
                      "late_sec": None if note.late_sec is None else round(note.late_sec, 3)})
    return found


def _gap(one: GapHeard, report: Report, desk: Desk, decisions: Decisions) -> dict[str, Any]:
    """What can be shown and heard of a gap: what was played as a choice, the offer it is near
    to as one, and where it lies in the take."""
    chorus, gap = report.chorus, one.gap
    own = offer = None
    if one.answer != "open":
        fill = kept_fill(report, one, desk.options.hand, desk.options.level)
        own = own_pick(fill, chorus, gap).value()
    if one.fill is not None:
        picks = dict(decisions.picks)
        picked = picks.get(gap.number)
        offer = (picked if picked is not None and picked.fill == one.fill
                 else Pick(one.fill)).value()
    at = _clock(report, one.run)
    bar = chorus.bar_at(gap.onset_quarter)
    return {"bar": gap.bar, "pass": gap.pass_number, "beat": str(gap.beat),
            "sheet_bar": chorus.sheet_number(gap.onset_quarter),
            "own": own, "offer": offer, "is_off": one.is_off, "amount": one.amount,
            "from_sec": round(at(gap.onset_quarter - bar.length_quarter), 3),
            "to_sec": round(at(gap.end_quarter + bar.length_quarter), 3)}


def _ratings(report: Report) -> dict[str, Any]:
    """How it went, as practice is rated: by the number of a gap, and by the name of a device,
    which was played in the tune's key."""
    def value(rating: TakeRating) -> dict[str, Any]:
        return {"rating": rating.rating, "tempo": rating.tempo, "why": rating.why}

    return {"gaps": {str(gap.number): value(rating_of(report, gap.number))
                     for gap in _gaps(report)},
            "devices": {name: value(rating_of_device(report, name))
                        for name in devices_heard(report)},
            "tonic": report.chorus.key.tonic.pitch_class}


def _clock(report: Report, run: int) -> Callable[[Fraction], float]:
    """Where in the take a place of a run is, by the melody notes around it."""
    form = report.form[run]
    known = {float(report.chorus.melody[note.note].onset_quarter): note.played_sec
             for note in report.melody if note.run == run and note.played_sec is not None}
    known.setdefault(float(form.from_quarter), form.from_sec)
    known.setdefault(float(form.to_quarter), form.to_sec)
    places = sorted(known)

    def at(place: Fraction) -> float:
        where = min(max(float(place), places[0]), places[-1])
        after = min(bisect_right(places, where), len(places) - 1)
        low, high = places[max(after - 1, 0)], places[after]
        share = 0.0 if high == low else (where - low) / (high - low)
        return known[low] + share * (known[high] - known[low])

    return at


def _bars(report: Report) -> list[dict[str, Any]]:
    """Bar lines of the chorus, for the tempo curve."""
    return [{"number": report.chorus.sheet_number(bar.onset_quarter),
             "onset": float(bar.onset_quarter)}
            for bar in report.chorus.bars]


def _played(report: Report) -> dict[str, Any]:
    """The strokes as they were played, in the shape the browser plays."""
    take = report.take
    part = {"melody": "melody", "slip": "melody"}
    notes = [{"sec": round(stroke.onset_sec, 4),
              "len": round(max(stroke.release_sec - stroke.onset_sec, 0.03), 4),
              "midi": stroke.midi, "loud": stroke.velocity, "index": stroke.event,
              "part": part.get(role, "left" if stroke.midi < 57 else "right"),
              "at": -1}
             for stroke, role in zip(take.strokes, report.roles, strict=True)]
    return {"notes": notes, "pedals": _pedals(report), "bars": [],
            "length": round(take.length_sec, 4)}


def _pedals(report: Report) -> list[list[float]]:
    spans: list[list[float]] = []
    down: float | None = None
    for move in report.take.pedal:
        if move.value >= 64 and down is None:
            down = move.onset_sec
        elif move.value < 64 and down is not None:
            spans.append([round(down, 4), round(move.onset_sec, 4)])
            down = None
    if down is not None:
        spans.append([round(down, 4), round(report.take.length_sec, 4)])
    return spans
