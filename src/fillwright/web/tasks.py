"""What a worker process can be asked to do. Every answer is JSON, text or bytes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType
from typing import Any

from fillwright.arranging.build import CHOICES
from fillwright.arranging.slower import has_ideas_at, slower_marks
from fillwright.edition.choices import chosen_again, everywhere, locked
from fillwright.edition.corrections import equal_places
from fillwright.edition.decisions import Decisions, Pick
from fillwright.edition.desk import desk_of, written_text
from fillwright.edition.model import Edition
from fillwright.edition.typed import typed_pick
from fillwright.edition.why_not import why_not
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.score.engraver import Copy
from fillwright.score.printing import Printing
from fillwright.take.recording import OpenEar
from fillwright.theory.chordtext import ChordTextError, parse_chord
from fillwright.web import lessonwork, painter, piano, recordings
from fillwright.web.facts import facts_of
from fillwright.web.painter import Picks, Report
from fillwright.web.phrase import phrase

__all__ = ["TASKS"]


def _wake(report: Report) -> None:
    """Load what takes long to load."""
    import verovio  # noqa: F401


def _read(report: Report, edition: Edition) -> dict[str, Any]:
    """Whether it holds a lead sheet that can be played as was decided; what it is called."""
    tune = edition.tune()
    return {"title": tune.title, "bars": len(tune.bars), "key": str(tune.key),
            "warnings": list(tune.warnings),
            "facts": facts_of(painter.overview(desk_of(edition)),
                              edition.decisions.options.level)}


def _overview(report: Report, sheet: Edition) -> Any:
    return painter.overview(desk_of(sheet))


def _lead(report: Report, sheet: Edition, printing: Printing) -> Any:
    return painter.lead_pages(desk_of(sheet), printing)


def _blank(report: Report, sheet: Edition, printing: Printing) -> Any:
    return painter.blank_pages(desk_of(sheet), printing)


def _options(report: Report, sheet: Edition, number: int, family: str, count: int) -> Any:
    return painter.options(desk_of(sheet), number, family, count)


def _ready(report: Report, sheet: Edition, number: int, family: str) -> None:
    """Work out what the choice for a whole chorus looks at in one gap."""
    desk_of(sheet).fills(number, family, CHOICES)


def _missing(report: Report, sheet: Edition, decisions: Decisions) -> list[tuple[int, str]]:
    """What is to be worked out before a whole chorus can be made."""
    return desk_of(sheet).missing(decisions)


def _plain(report: Report, sheet: Edition) -> Any:
    return painter.plain(desk_of(sheet))


def _slower(report: Report, sheet: Edition) -> list[int]:
    return slower_marks(desk_of(sheet))


def _ideas_at(report: Report, sheet: Edition, mark: int, number: int, families: tuple[str, ...]
              ) -> bool:
    return has_ideas_at(desk_of(sheet), mark, number, families)


def _again(report: Report, sheet: Edition, decisions: Decisions, number: int) -> Decisions:
    return chosen_again(desk_of(sheet), decisions, number)


def _lock(report: Report, sheet: Edition, decisions: Decisions, number: int) -> Decisions:
    return locked(desk_of(sheet), decisions, number)


def _everywhere(report: Report, sheet: Edition, decisions: Decisions, number: int, how: str
                ) -> Any:
    return everywhere(desk_of(sheet), decisions, number, how)


def _equal_chords(report: Report, sheet: Edition, bar: int, onset: str) -> list[tuple[int, str]]:
    return [(at, str(place)) for at, place in equal_places(sheet.tune(), bar, Fraction(onset))]


def _heard(report: Report, sheet: Edition, number: int, pick: Pick, near: Picks) -> Any:
    desk = desk_of(sheet)
    return painter.heard(desk, number, *desk.chosen(number, pick), near)


def _phrase(report: Report, sheet: Edition, number: int) -> Any:
    return phrase(desk_of(sheet), number)


def _staff(report: Report, sheet: Edition, number: int, pick: Pick, prefix: str) -> Any:
    desk = desk_of(sheet)
    fill, own = desk.chosen(number, pick)
    if fill is None:
        raise InputError("an open gap has no staff of its own")
    return painter.staff(desk, number, fill, own, prefix)


def _check(report: Report, sheet: Edition, number: int, pick: Pick) -> Any:
    desk = desk_of(sheet)
    fill, own = desk.chosen(number, pick)
    if fill is None:
        raise InputError("an open gap breaks no rule")
    return painter.one_fill(desk, number, own or fill, check=True)


def _why_not(report: Report, sheet: Edition, number: int, pick: Pick) -> Any:
    return why_not(desk_of(sheet), number, pick).value()


def _typed(report: Report, sheet: Edition, number: int, text: str) -> Any:
    desk = desk_of(sheet)
    return {"pick": typed_pick(text, desk.chorus, desk.gap(number)).value()}


def _view(report: Report, sheet: Edition, decisions: Decisions, printing: Printing) -> Any:
    return painter.view(desk_of(sheet), decisions, report, printing)


def _pages(report: Report, view: Copy) -> Any:
    return painter.pages(view)


def _sound(report: Report, sheet: Edition, decisions: Decisions) -> Any:
    return painter.sound_value(desk_of(sheet), decisions, report)


def _export(report: Report, sheet: Edition, decisions: Decisions, kind: str,
            printing: Printing, soundfont: Path | None) -> Any:
    return painter.export(desk_of(sheet), decisions, kind, report, printing, soundfont)


def _chord(report: Report, sheet: Edition, text: str) -> dict[str, Any]:
    """A typed chord symbol: what it names, and its text in the key of the sheet."""
    try:
        symbol = parse_chord(text)
        return {"ok": True, "symbol": symbol.pretty, "text": written_text(desk_of(sheet), text),
                "degrees": list(symbol.degrees),
                "tones": [symbol.name_of(degree).pretty for degree in symbol.degrees]
                if symbol.is_chord else []}
    except ChordTextError as error:
        return {"ok": False, "message": str(error), "position": error.position}


def _read_take(report: Report, data: bytes, name: str) -> None:
    """Whether it is a take at all. Raises InputError."""
    from fillwright.take import take_from_bytes

    take_from_bytes(data, name)


def _heard_take(report: Report, sheet: Edition, decisions: Decisions, data: bytes, name: str
                ) -> Any:
    from fillwright.web import take_painter

    return take_painter.heard(desk_of(sheet), decisions, data, name, report)


def _fitting_tune(report: Report, data: bytes, name: str, editions: dict[str, Edition]) -> Any:
    from fillwright.web import take_painter

    return take_painter.fitting(data, name, editions, report)


def _printed_take(report: Report, sheet: Edition, decisions: Decisions, data: bytes, name: str,
                  language: str) -> Any:
    from fillwright.web import take_painter

    return take_painter.printed(desk_of(sheet), decisions, data, name, report, language)


def _recording_sec(report: Report, path: Path) -> float:
    return recordings.recording_sec(path)


def _recording_pieces(report: Report, open_ear: OpenEar, processes: int, path: Path) -> int:
    return recordings.recording_pieces(open_ear, processes, path)


def _recording_piece(report: Report, open_ear: OpenEar, processes: int, path: Path, place: int
                     ) -> Any:
    return recordings.recording_piece(open_ear, processes, path, place)


def _recording_take(report: Report, open_ear: OpenEar, processes: int, path: Path, heard: Any
                    ) -> Any:
    return recordings.recording_take(open_ear, processes, path, heard)


def _piano(report: Report, midi: int, soundfont: Path | None) -> bytes:
    return piano.sample(midi, soundfont)


def _ladder(report: Report, sheet: Edition, number: int, fill: str) -> Any:
    return lessonwork.rungs(desk_of(sheet), number, fill)


def _study(report: Report, sheet: Edition, number: int, fill: str, language: str) -> Any:
    return lessonwork.study(desk_of(sheet), number, fill, language)


def _round_keys(report: Report, sheet: Edition, number: int, fill: str, keys: str) -> Any:
    return lessonwork.round_keys(sheet, number, fill, keys)


def _round_file(report: Report, sheet: Edition, number: int, fill: str, keys: str, kind: str
                ) -> Any:
    return lessonwork.round_file(sheet, number, fill, keys, kind)


def _played(report: Report, sheet: Edition, number: int, rows: list[Any], speed: Any) -> Any:
    return lessonwork.played(desk_of(sheet), number, rows, speed)


def _drill(report: Report, sheet: Edition) -> Any:
    return lessonwork.drill(desk_of(sheet), report)


def _pack(report: Report, plan: dict[str, Any], editions: dict[str, Edition]) -> Any:
    return lessonwork.pack(plan, editions, report)


def _set(report: Report, wish: dict[str, Any], editions: dict[str, Edition]) -> Any:
    return lessonwork.found_set(wish, editions, report)


TASKS: MappingProxyType[str, Callable[..., Any]] = MappingProxyType({
    "wake": _wake, "read": _read, "overview": _overview, "lead": _lead, "blank": _blank,
    "options": _options, "ready": _ready, "heard": _heard, "staff": _staff, "phrase": _phrase,
    "check": _check, "why_not": _why_not, "typed": _typed, "view": _view, "pages": _pages,
    "export": _export, "chord": _chord, "piano": _piano,
    "missing": _missing, "plain": _plain, "slower": _slower, "ideas_at": _ideas_at,
    "again": _again, "lock": _lock, "everywhere": _everywhere,
    "equal_chords": _equal_chords, "sound": _sound,
    "read_take": _read_take, "heard_take": _heard_take,
    "fitting_tune": _fitting_tune,
    "ladder": _ladder, "study": _study, "round_keys": _round_keys,
    "round_file": _round_file, "drill": _drill, "played": _played,
    "pack": _pack, "set": _set, "printed_take": _printed_take,
    "recording_sec": _recording_sec, "recording_pieces": _recording_pieces,
    "recording_piece": _recording_piece, "recording_take": _recording_take,
})
