"""What the library found as JSON and as lines for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from fillwright.contract import VERSION
from fillwright.exact import Fraction
from fillwright.library.adding import Added
from fillwright.library.asking import Question
from fillwright.library.filling import Worked
from fillwright.library.finding import Answer, FoundGap
from fillwright.library.teaching import Brings, Cover, Step
from fillwright.tables import count_of, table

__all__ = ["added_document", "added_lines", "answer_document", "answer_lines",
           "cover_document", "cover_lines", "gap_document", "lacking_lines", "left_document",
           "left_lines", "like_document", "like_lines", "order_document", "order_lines",
           "worked_lines"]

_SHOWN = 20
"""Files of one kind that are listed; what is refused is listed whole."""
_TITLE, _CHORDS, _DEVICES = 28, 22, 2

Json = dict[str, Any]


def gap_document(gap: FoundGap) -> Json:
    """A gap that was found."""
    return {
        "tune": gap.tune, "title": gap.title, "key": gap.key, "tempo": round(gap.tempo, 3),
        "number": gap.number, "bar": gap.bar, "pass": gap.pass_number, "beat": gap.beat,
        "beats": gap.beats, "seconds": gap.seconds, "why": list(gap.why),
        "chords": list(gap.chords), "functions": list(gap.functions),
        "degree": gap.degree or None, "held": gap.held or None, "place": gap.place,
        "alike": gap.alike,
        "devices": [{"name": device.name, "family": device.family, "level": device.level,
                     "difficulty": device.difficulty} for device in gap.devices]}


def answer_document(question: Question, answer: Answer) -> Json:
    """What `library find --json` prints."""
    return {"version": VERSION, "level": question.level, "hand": question.hand,
            "total": answer.total, "unworked": answer.unworked, "failed": answer.failed,
            "gaps": [gap_document(gap) for gap in answer.gaps]}


def answer_lines(answer: Answer, question: Question) -> list[str]:
    """The gaps as a table, with their easiest devices, and how many more there are."""
    if not answer.gaps:
        return ["No gap on the shelf answers that.", *_more(answer, question)]
    name = question.wanted_device[1] if question.device else ""
    return [*_gap_table(answer.gaps, name), "", *_more(answer, question)]


def _gap_table(gaps: Sequence[FoundGap], device: str) -> list[str]:
    rows = [[_cut(gap.title, _TITLE), _bar(gap), count_of(Fraction(gap.beat)),
             count_of(Fraction(gap.beats)), f"{gap.seconds:.1f}",
             _cut("  ".join(gap.chords), _CHORDS), gap.degree, _devices(gap, device)]
            for gap in gaps]
    return table(["tune", "bar", "beat", "beats", "sec", "chords", "held", "devices, difficulty"],
                 rows, right=(1, 2, 3, 4))


def _more(answer: Answer, question: Question) -> list[str]:
    lines = []
    if answer.gaps:
        lines.append(f"{len(answer.gaps)} of {answer.total} gaps" if answer.total > len(
            answer.gaps) else _of(answer.total, "gap"))
    devices = question.asks_for_offers or question.may
    for count, said, rest in (
            (answer.unworked, "are not worked out", "--work works them out"),
            (answer.failed, "could not be worked out",
             f"'fillwright library add FOLDER --level {question.level}' says why")):
        if count:
            lines.append((f"{_of(count, 'more gap')} could answer it" if devices else
                          f"{count} of them {'lie' if count > 1 else 'lies'}")
                         + f" in tunes that {said} for {question.level} players with a "
                         f"{question.hand} hand; {rest}")
    return lines


def _devices(gap: FoundGap, asked: str) -> str:
    first = [device for device in gap.devices if device.name == asked]
    rest = [device for device in gap.devices if device.name != asked]
    shown = (first + rest)[:1 if first else _DEVICES]
    return "; ".join(f"{device.name} {device.difficulty}" for device in shown)


def _bar(gap: FoundGap) -> str:
    return gap.bar if gap.pass_number == 1 else f"{gap.bar} ({gap.pass_number}.)"


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[:width - 1] + "…"


def _of(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def added_document(added: Added, worked: Sequence[Worked] = ()) -> Json:
    """What `library add --json` prints."""
    return {"version": VERSION, "added": added.added, "unchanged": added.unchanged,
            "changed": added.changed, "gone": added.gone,
            "refused": [{"tune": path, "reason": reason} for path, reason in added.refused],
            "copies": [{"tune": path, "of": title} for path, title in added.copies],
            "failed": [{"tune": path, "level": one.level, "reason": reason}
                       for one in worked for path, reason in one.failed]}


def worked_lines(worked: Worked) -> list[str]:
    """What became of the tunes whose devices were to be worked out."""
    said = [f"{_of(worked.tunes, 'tune')} worked out for {worked.level} players"]
    if worked.failed:
        said.append(f"{len(worked.failed)} failed")
    return [", ".join(said), *(f"failed: {path}: {reason}" for path, reason in worked.failed)]


def added_lines(added: Added) -> list[str]:
    """What became of the files."""
    lines = [", ".join(f"{len(rows)} {word}" for word, rows in (
        ("added", added.added), ("unchanged", added.unchanged), ("changed", added.changed),
        ("gone", added.gone), ("refused", added.refused)))]
    for word, paths in (("added", added.added), ("changed", added.changed), ("gone", added.gone)):
        lines += _listed(word, paths)
    lines += _listed("the same music as", [f"{title!r}: {path}" for path, title in added.copies])
    return [*lines, *(f"refused: {path}: {reason}" for path, reason in added.refused)]


def _listed(word: str, texts: Sequence[str]) -> Iterable[str]:
    yield from (f"{word}: {text}" for text in texts[:_SHOWN])
    if len(texts) > _SHOWN:
        yield f"{word}: and {len(texts) - _SHOWN} more"


def lacking_lines(lacking: int, level: str) -> list[str]:
    """That some tunes are not looked at, where there are such."""
    if not lacking:
        return []
    verb, they = ("is", "it") if lacking == 1 else ("are", "them")
    return ["", f"{_of(lacking, 'more tune')} {verb} not worked out for {level} players and left "
            f"out here; 'fillwright library add FOLDER --level {level}' works {they} out"]


def order_document(steps: Sequence[Step], lacking: int = 0) -> Json:
    """What `library order --json` prints."""
    return {"version": VERSION, "unworked": lacking, "steps": [{
        "title": step.lesson.name, "new": [_brings(one) for one in step.new],
        "again": step.again, "harder": step.harder, "reason": step.reason} for step in steps]}


def _brings(one: Brings) -> Json:
    return {"name": one.device, "family": one.offered.family, "bar": one.offered.bar,
            "gap": one.offered.gap, "difficulty": one.offered.difficulty}


def order_lines(steps: Sequence[Step]) -> list[str]:
    """An order, item by item with its reason."""
    lines = [f"{place}. {step.lesson.name}\n   {step.reason}"
             for place, step in enumerate(steps, 1)]
    return lines or ["Nothing on the shelf is new."]


def cover_document(cover: Cover, lacking: int = 0) -> Json:
    """What `library cover --json` prints."""
    return {"version": VERSION, "unworked": lacking, "exact": cover.exact, "devices": cover.devices,
            "tunes": [lesson.name for lesson in cover.lessons]}


def cover_lines(cover: Cover) -> list[str]:
    """The tunes, and whether fewer might do."""
    if not cover.lessons:
        return ["No tune on the shelf is worked out for this player."]
    said = "no fewer do" if cover.exact else "the fewest found in the time allowed"
    show = "shows" if len(cover.lessons) == 1 else "show"
    return [f"{_of(len(cover.lessons), 'tune')} {show} all {cover.devices} devices that the tunes "
            f"worked out offer; {said}:", *(lesson.name for lesson in cover.lessons)]


def left_document(left: Sequence[Brings]) -> Json:
    """What `library left --json` prints."""
    return {"version": VERSION, "devices": [_brings(one) for one in left]}


def left_lines(left: Sequence[Brings]) -> list[str]:
    """What a tune still has to teach, the easiest first."""
    rows = [[one.device, one.offered.family, one.offered.bar, str(one.offered.difficulty)]
            for one in left]
    if not rows:
        return ["Nothing in it is new."]
    return table(["device", "family", "bar", "difficulty"], rows, right=(2, 3))


def like_document(gaps: Sequence[FoundGap]) -> Json:
    """What `library like --json` prints."""
    return {"version": VERSION, "gaps": [gap_document(gap) for gap in gaps]}


def like_lines(gaps: Sequence[FoundGap], device: str) -> list[str]:
    """Gaps, the nearest first."""
    if not gaps:
        return ["No gap on the shelf is like it."]
    return _gap_table(gaps, device)
