"""What is printed on a pack and stands on the student's page: one file of messages a language.

``words/en.json`` is complete; in another language what is missing is said in English. Reasons and
names of devices are the program's own and English.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path

from fillwright.lesson.task import GapTask

__all__ = ["Say", "describing", "heading", "in_key", "messages", "say_in", "what_to_do"]

Say = Callable[..., str]

_FOLDER = Path(__file__).resolve().parent / "words"
_PLACE = re.compile(r"\{(\w+)\}")


@lru_cache(maxsize=8)
def messages(language: str) -> Mapping[str, str]:
    """All messages of a language by their keys."""
    english, own = (json.loads((_FOLDER / f"{tag}.json").read_text(encoding="utf-8"))
                    for tag in ("en", language))
    return {**english, **own}


def say_in(language: str) -> Say:
    """A function that says a message: its key, and its values by name.

    >>> say_in("de")("pack.bar", bar=7)
    'Takt 7'
    """
    known = messages(language)

    def said(key: str, /, **values: object) -> str:
        return _PLACE.sub(lambda place: str(values[place[1]]), known[key])

    return said


def heading(task: GapTask, say: Say) -> str:
    """The tune and the place of the gap in it."""
    gap = task.gap
    bar = (say("pack.bar", bar=gap.bar) if gap.pass_number == 1
           else say("pack.bar_pass", bar=gap.bar, **{"pass": gap.pass_number}))
    return f"{task.title}, {bar}, {say('pack.beat', beat=_mixed(str(gap.beat)))}"


def in_key(task: GapTask, say: Say) -> str:
    """In which key it is: all that whoever plays it is to read of the teacher's settings."""
    key = task.chorus.key
    return say("pack.in_key", key=say(f"pack.{key.mode}", tonic=key.tonic.pretty))


def describing(task: GapTask, say: Say) -> str:
    """For the teacher: for whom it is, and in which key."""
    options = task.options
    return ", ".join((say(f"pack.level_{options.level}"), say(f"pack.hand_{options.hand}"),
                      in_key(task, say)))


def what_to_do(task: GapTask, say: Say) -> str:
    """What the student is asked for. Over the names of chords a line is played, not they."""
    show = task.item.show
    over = show == "chords" and task.fill.family == "line"
    return say("pack.show_chords_line" if over else f"pack.show_{show}")


def _mixed(beat: str) -> str:
    """A place in a bar as a musician writes it.

    >>> _mixed("7/2"), _mixed("3")
    ('3½', '3')
    """
    if "/" not in beat:
        return beat
    above, below = map(int, beat.split("/"))
    parts = {(1, 2): "½", (1, 3): "⅓", (2, 3): "⅔", (1, 4): "¼", (3, 4): "¾"}
    part = parts.get((above % below, below))
    return f"{above // below}{part}" if part else beat
