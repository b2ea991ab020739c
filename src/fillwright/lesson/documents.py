"""What the desk gives other programs, as JSON (docs/json.md)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fillwright.arranging.model import Options
from fillwright.contract import (
    VERSION,
    Json,
    fill_value,
    gap_value,
    note_value,
    options_value,
    tune_value,
)
from fillwright.fills.ladder.rungs import Ladder
from fillwright.lesson.choices import KindOfGap
from fillwright.lesson.drills import Drill
from fillwright.lesson.practice import FOURTHS, Practice, Share, progress_rows
from fillwright.lesson.rounds import Round

__all__ = ["drill_document", "kinds_value", "ladder_document",
           "progress_document", "round_document", "today_document"]


def ladder_document(found: Ladder, options: Options, warnings: Iterable[str] = ()) -> Json:
    """What ``fillwright ladder --json`` prints."""
    gap = found.gap
    return {
        "version": VERSION, "tune": tune_value(found.chorus), "options": options_value(options),
        "warnings": list(warnings), "gap": gap_value(gap, found.chorus),
        "rungs": [{"level": rung.level, "difficulty": rung.difficulty,
                   "highest_tempo": rung.highest_tempo, "left_out": list(rung.left_out),
                   "fill": fill_value(rung.fill, gap)} for rung in found.rungs],
        "missing": [{"level": one.level, "reason": one.reason} for one in found.missing],
    }


def round_document(found: Round) -> Json:
    """What ``round.json`` holds; times are those of ``arrangement.json``."""
    made = found.arrangement
    return {
        "version": VERSION, "tune": tune_value(made.chorus),
        "options": options_value(made.options), "warnings": list(made.warnings),
        "keys": [{"key": str(one.key), "onset_quarter": str(one.start_quarter),
                  "difficulty": one.difficulty, "fills": [fill.id for fill in one.fills],
                  "notes": [note_value(note) for fill in one.fills for note in fill.notes],
                  "changed": list(one.changed)} for one in found.keys],
    }


def drill_document(found: Drill) -> Json:
    """What ``fillwright drill --json`` prints."""
    return {
        "version": VERSION, "tune": tune_value(found.chorus),
        "options": options_value(found.options), "warnings": list(found.chorus.warnings),
        "gaps": [{
            **{name: value for name, value in gap_value(one.gap, found.chorus).items()
               if name in ("number", "bar", "pass", "beat", "beats", "seconds")},
            "works": [{"family": fill.family, "fill": fill.id, "device": fill.device,
                       "sentence": sentence} for fill, sentence in one.works],
            "empty": [{"family": none.family, "reason": none.reason} for none in one.empty],
        } for one in found.gaps],
    }


def today_document(name: str, minutes: int, row: Iterable[Practice], done: int) -> Json:
    """What ``fillwright student today --json`` prints."""
    return {"student": name, "minutes": minutes, "done": done, "practice": [
        {"number": one.item.number, "what": one.item.words, "tempo": one.tempo,
         "aim": one.item.tempo, "minutes": one.minutes, "why": one.why,
         "days_late": one.days_late,
         "known": None if one.known is None else round(100 * one.known)} for one in row]}


def progress_document(shares: Sequence[Share], kinds: Iterable[KindOfGap]) -> Json:
    """What a student practises, what is known in which key, in hundredths, and where choosing is
    slow."""
    return {
        "items": [{"number": one.item.number, "what": one.item.words, "device": one.item.device,
                   "tune": one.item.tune, "gap": one.item.gap, "key": one.item.key,
                   "now_tempo": one.item.now_tempo, "tempo": one.item.tempo,
                   "due": None if one.item.due is None else one.item.due.isoformat(),
                   "known": None if one.known is None else round(100 * one.known)}
                  for one in shares],
        "keys": list(FOURTHS),
        "known": [{"what": what, "row": list(row)} for what, row in progress_rows(shares)],
        "kinds": kinds_value(kinds),
    }


def kinds_value(kinds: Iterable[KindOfGap]) -> list[Json]:
    """The kinds of gap in which a student chose, the slowest first."""
    return [{"kind": one.kind, "asked": one.asked, "worked": one.worked,
             "seconds": round(one.seconds, 2)} for one in kinds]
