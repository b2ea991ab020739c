"""What the library found as JSON and as lines for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from fillwright.contract import VERSION
from fillwright.exact import Fraction
from fillwright.library.adding import Added
from fillwright.library.asking import Question
from fillwright.library.finding import Answer, FoundGap
from fillwright.tables import count_of, table

__all__ = ["added_document", "added_lines", "answer_document", "answer_lines", "gap_document"]

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
        "devices": [{"name": device.name, "family": device.family, "level": device.level,
                     "difficulty": device.difficulty} for device in gap.devices]}


def answer_document(question: Question, answer: Answer) -> Json:
    """What `library find --json` prints."""
    return {"version": VERSION, "level": question.level, "hand": question.hand,
            "total": answer.total, "unworked": answer.unworked,
            "gaps": [gap_document(gap) for gap in answer.gaps]}


def answer_lines(answer: Answer, question: Question) -> list[str]:
    """The gaps as a table, with their easiest devices, and how many more there are."""
    if not answer.gaps:
        return ["No gap on the shelf answers that.", *_more(answer, question)]
    name = question.wanted_device[1] if question.device else ""
    rows = [[_cut(gap.title, _TITLE), _bar(gap), count_of(Fraction(gap.beat)),
             count_of(Fraction(gap.beats)), f"{gap.seconds:.1f}",
             _cut("  ".join(gap.chords), _CHORDS), gap.degree, _devices(gap, name)]
            for gap in answer.gaps]
    return [*table(["tune", "bar", "beat", "beats", "sec", "chords", "held", "devices, difficulty"],
                   rows, right=(1, 2, 3, 4)), "", *_more(answer, question)]


def _more(answer: Answer, question: Question) -> list[str]:
    lines = []
    if answer.gaps:
        lines.append(f"{len(answer.gaps)} of {answer.total} gaps" if answer.total > len(
            answer.gaps) else _of(answer.total, "gap"))
    if answer.unworked:
        lines.append(
            f"{_of(answer.unworked, 'more gap')} could answer it in tunes that are not worked out "
            f"for {question.level} players with a {question.hand} hand; --work works them out")
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


def added_document(added: Added) -> Json:
    """What `library add --json` prints."""
    return {"version": VERSION, "added": added.added, "unchanged": added.unchanged,
            "changed": added.changed, "gone": added.gone,
            "refused": [{"tune": path, "reason": reason} for path, reason in added.refused],
            "copies": [{"tune": path, "of": title} for path, title in added.copies]}


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
