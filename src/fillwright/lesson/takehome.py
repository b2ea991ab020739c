"""The student's page: one HTML file with staves, hand pictures and sound, which needs no network.

Everything is in the file, and its Content-Security-Policy lets nothing else in: of scripts and
styles only those whose digests it names, of fonts and sounds only what is in it. Every word of a
plan or a tune is escaped on its way in.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from fillwright.arranging.model import Arrangement
from fillwright.arranging.window import Window
from fillwright.lesson.plan import PackPlan
from fillwright.lesson.recording import Recording, recorded
from fillwright.lesson.saying import Say, heading, in_key, messages, say_in, what_to_do
from fillwright.lesson.task import GapTask, Sheet, sheet_of
from fillwright.lesson.typefaces import font_rules
from fillwright.score.handdrawing import hand_picture
from fillwright.score.inpage import for_page
from fillwright.score.pictures import pictures_of
from fillwright.sound.model import Performance
from fillwright.sound.perform import perform

__all__ = ["DrawnItem", "page_html"]

_FOLDER = Path(__file__).resolve().parent / "page"
_SCRIPTS = ("stretch.js", "page.js")
_ANSWER = "a"
"""Behind an item's number: the name of its answer."""

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class DrawnItem:
    """A staff for a wide screen and for a narrow one, each an SVG."""

    wide: str
    narrow: str


def page_html(plan: PackPlan, tasks: Sequence[GapTask], handed: Sequence[DrawnItem],
              filled: Sequence[DrawnItem]) -> bytes:
    """The file. The same pack gives the same bytes.

    handed, filled   the staves of each task, as it is handed out and filled

    Raises InputError where there is no piano to record.
    """
    say = say_in(plan.language)
    items, scores = [], []
    for task, staff, answer in zip(tasks, handed, filled, strict=True):
        item = _item(task, staff, say)
        scores.append(_score(task, str(task.number), task.item.show))
        if plan.answers_in_page and task.item.show != "filled":
            item["answer"] = _answer(task, answer, say)
            scores.append(_score(task, f"{task.number}{_ANSWER}", "filled"))
        items.append(item)
    words = {key: text for key, text in messages(plan.language).items()
             if key.startswith("page.")}
    data = {"key": _key_of(plan, tasks), "words": words, "scores": scores}
    return _page(plan, say, items, data)


def _key_of(plan: PackPlan, tasks: Sequence[GapTask]) -> str:
    """Under which a browser keeps the ticks: another pack has others."""
    named = json.dumps([plan.title, *(f"{task.item.tune} {task.fill.id} {task.item.show}"
                                      for task in tasks)])
    return f"fillwright-pack-{hashlib.sha256(named.encode()).hexdigest()[:16]}"


# --- what is seen -----------------------------------------------------------------------------


def _item(task: GapTask, staff: DrawnItem, say: Say) -> Json:
    item, fill = task.item, task.fill
    is_filled = item.show == "filled"
    return {"number": task.number, "score": str(task.number), "heading": heading(task, say),
            "describing": in_key(task, say),
            "device": "" if item.show == "blank" else fill.device,
            "words": [line for line in item.words.split("\n") if line],
            "task": what_to_do(task, say), "staff": _drawn(staff, str(task.number)),
            "pictures": _figures(task, say) if is_filled and item.hand_pictures else [],
            "counts": fill.counts if is_filled and item.counts else "",
            "reasons": fill.reasons if is_filled and item.reasons else (), "answer": None}


def _answer(task: GapTask, staff: DrawnItem, say: Say) -> Json:
    name = f"{task.number}{_ANSWER}"
    return {"score": name, "device": task.fill.device, "staff": _drawn(staff, name),
            "pictures": _figures(task, say), "counts": task.fill.counts,
            "reasons": task.fill.reasons}


def _drawn(staff: DrawnItem, name: str) -> Mapping[str, Markup]:
    return {"wide": _inside(for_page(staff.wide, f"w{name}-")),
            "narrow": _inside(for_page(staff.narrow, f"n{name}-"))}


def _inside(svg: str) -> Markup:
    """A drawing as it stands in HTML: without names of namespaces, and packed."""
    svg = re.sub(r' xmlns(:\w+)?="[^"]*"', "", svg)
    return Markup(re.sub(r">[ \t]*\n\s*<", "><", svg))


def _figures(task: GapTask, say: Say) -> list[Json]:
    return [{"svg": _inside(hand_picture(picture)), "spoken": _spoken(picture, say)}
            for picture in pictures_of(task.fill, task.gap)]


def _spoken(picture: Mapping[str, Any], say: Say) -> str:
    """A hand picture for those who hear the page."""
    parts = [picture["chord"]]
    for hand in ("left", "right"):
        keys = []
        for key in picture["keys"]:
            if key["hand"] == hand:
                name = (say("page.key", pitch=key["pitch"], finger=key["finger"])
                        if key["finger"] else key["pitch"])
                keys.append(say("page.melody", key=name) if key["role"] == "melody" else name)
        if keys:
            parts.append(f"{say(f'page.hand_{hand}')}: {', '.join(keys)}")
    return "; ".join(part for part in parts if part)


# --- what is heard ----------------------------------------------------------------------------


def _score(task: GapTask, name: str, show: str) -> Json:
    """A recording with the seconds of everything in it, for the player."""
    window = task.filled if show == "filled" else task.unfilled
    arrangement = window.arrangement
    played = perform(arrangement)
    sound = recorded(played)
    sheet = sheet_of(task, show)
    start = window.start_quarter
    return {"name": name, "item": task.number, "tempo": float(task.chorus.tempo_bpm),
            **_sound_value(sound), "length": round(played.length_sec, 4),
            "gap": _seconds_of_gap(window, task),
            "notes": _notes(played, arrangement, sheet, float(start)),
            "bars": [[round(bar.onset_sec, 4), round(bar.length_sec, 4),
                      float(bar.length_quarter / bar.meter.beat_quarter)]
                     for bar in played.bars],
            "pictures": [[_quarters(picture["onset_quarter"]), _quarters(picture["end_quarter"])]
                         for picture in pictures_of(task.fill, task.gap)]
            if show == "filled" else [],
            "taps": _taps(task, sheet) if show == "rhythm" else []}


def _sound_value(sound: Recording) -> Json:
    return {"sound": base64.b64encode(sound.mp3).decode("ascii"), "frames": sound.frames,
            "rate": sound.rate}


def _quarters(text: str) -> float:
    above, _, below = text.partition("/")
    return int(above) / int(below or 1)


def _notes(played: Performance, arrangement: Arrangement, sheet: Sheet, start: float
           ) -> list[list[float | None]]:
    """[second, seconds, MIDI number, number on the staff, quarters of the chorus] of each key
    struck; what is not on the staff has no number there."""
    on_staff = {(note.onset_quarter, note.midi): index
                for index, note in enumerate(sheet.arrangement.notes) if index not in sheet.hints}
    found: list[list[float | None]] = []
    for note in played.notes:
        struck = arrangement.notes[note.index]
        found.append([round(note.onset_sec, 4), round(note.duration_sec, 4), note.midi,
                      on_staff.get((struck.onset_quarter, struck.midi)),
                      round(start + float(struck.onset_quarter), 5)])
    return found


def _seconds_of_gap(window: Window, task: GapTask) -> list[float]:
    """From the gap's first instant to its landing, as they are played."""
    before = perform(window.arrangement, window.gap.onset_quarter, window.end_quarter)
    until = perform(window.arrangement, None, window.gap.onset_quarter).length_sec \
        if window.gap.onset_quarter > 0 else 0.0
    return [round(until, 4), round(until + before.length_sec, 4)]


def _taps(task: GapTask, sheet: Sheet) -> list[float]:
    """When the strokes of a rhythm are heard that is handed out without its notes."""
    played = perform(task.filled.arrangement)
    onsets = {sheet.arrangement.notes[index].onset_quarter for index in sheet.hints}
    first: dict[Any, float] = {}
    for note in played.notes:
        struck = task.filled.arrangement.notes[note.index]
        if struck.role == "fill" and struck.onset_quarter in onsets:
            first[struck.onset_quarter] = min(note.onset_sec,
                                              first.get(struck.onset_quarter, note.onset_sec))
    return [round(sec, 4) for _, sec in sorted(first.items())]


# --- the file ---------------------------------------------------------------------------------


def _page(plan: PackPlan, say: Say, items: Sequence[Json], data: Json) -> bytes:
    script = "\n".join(["(() => {", '"use strict";',
                        *((_FOLDER / name).read_text(encoding="utf-8") for name in _SCRIPTS),
                        "globalThis.stretched = stretched;", "})();"])
    style = (_FOLDER / "page.css").read_text(encoding="utf-8")
    shown = {"plan": plan, "t": say, "items": items, "language": plan.language,
             "under": " · ".join(part for part in (plan.teacher, plan.date, plan.student)
                                 if part),
             "policy": "", "style": "", "script": "",
             # A JSON text inside HTML: no tag can end it, no comment can open in it.
             "data": Markup(json.dumps(data, ensure_ascii=False, separators=(",", ":"))
                            .replace("<", "\\u003c"))}
    template = _template()
    used = set(template.render(shown)) | set(json.dumps(data["words"], ensure_ascii=False))
    style = font_rules("".join(sorted(used))) + style
    policy = "; ".join([
        "default-src 'none'", f"script-src {_digest(script)}", f"style-src {_digest(style)}",
        "font-src data:", "img-src data:", "media-src data: blob:", "base-uri 'none'",
        "form-action 'none'"])
    shown |= {"policy": policy, "style": Markup(style), "script": Markup(script)}
    return str(template.render(shown)).encode("utf-8")


def _digest(text: str) -> str:
    """A source of a policy (Content Security Policy Level 3, hash-source)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


@lru_cache(maxsize=1)
def _template() -> Any:
    text = (_FOLDER / "page.html").read_text(encoding="utf-8")
    return Environment(loader=DictLoader({"page.html": text}), autoescape=True,
                       undefined=StrictUndefined, trim_blocks=True,
                       lstrip_blocks=True).get_template("page.html")
