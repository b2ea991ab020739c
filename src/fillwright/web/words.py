"""What the page says, in the languages it speaks: one file of messages a language.

``words/en.json`` is complete; ``words/LANGUAGE.json`` is a translation, named by its language tag
(BCP 47), with its own name under the key "language". A message is a text with ``{places}`` for
values; where it counts, an object of texts by plural category (CLDR), of which "other" always
is there. What a translation does not have is said in English.

What the ideas are called in another language is in ``words/ideas/LANGUAGE.json``, by their English
names and the parts of those. Sentences of the library itself (why a fill works, what is wrong with
a sheet) are English.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from starlette.requests import Request

__all__ = ["COOKIE", "ENGLISH", "Message", "Say", "Words"]

COOKIE = "fillwright-language"
"""What the switch on the page keeps."""

ENGLISH = "en"

Message = str | Mapping[str, str]
Say = Callable[..., str]

_FOLDER = Path(__file__).resolve().parent / "words"
_PLACE = re.compile(r"\{(\w+)\}")
_MOST_ASKED = 12
"""Languages a browser asks for that are looked at."""

SERVER = "server."
"""Messages of this prefix are said by the server alone; the scripts do not get them."""


class Words:
    """All languages of the page."""

    def __init__(self, folder: Path = _FOLDER) -> None:
        found = {path.stem: json.loads(path.read_text(encoding="utf-8"))
                 for path in sorted(folder.glob("*.json"))}
        self._ideas = {tag: _ideas(folder / "ideas" / f"{tag}.json") for tag in found}
        english: dict[str, Message] = found[ENGLISH]
        self.languages: Mapping[str, str] = MappingProxyType(
            {tag: str(messages["language"]) for tag, messages in found.items()})
        self._messages: dict[str, dict[str, Message]] = {
            tag: {**english, **messages} for tag, messages in found.items()}

    def preferred(self, request: Request) -> str:
        """The language that was switched to on the page, else the first the browser asks for
        that there is, else English."""
        chosen = request.cookies.get(COOKIE, "")
        if chosen in self.languages:
            return chosen
        return self.first_of(request.headers.get("accept-language", ""))

    def first_of(self, header: str) -> str:
        """Of an Accept-Language header (RFC 9110, 12.5.4): the best that there is."""
        asked = []
        for place, part in enumerate(header.split(",")[:_MOST_ASKED]):
            tag, _, weight = part.strip().partition(";")
            found = re.fullmatch(r"\s*q=(0(?:\.\d{0,3})?|1(?:\.0{0,3})?)\s*", weight)
            quality = float(found[1]) if found else 0.0 if weight else 1.0
            if quality > 0:
                asked.append((-quality, place, tag.strip().lower()))
        for _, _, tag in sorted(asked):
            for known in self.languages:
                if known.lower() in (tag, tag.split("-")[0]):
                    return known
        return ENGLISH

    def say(self, language: str) -> Say:
        """A function that says a message of a language: its key, and its values by name."""
        messages = self._messages[language]

        def said(key: str, /, **values: object) -> str:
            message = messages[key]
            assert isinstance(message, str), f"{key} counts: that is for the scripts"
            return _PLACE.sub(lambda place: str(values[place[1]]), message)

        return said

    def for_scripts(self, language: str) -> Mapping[str, Message]:
        """What the scripts of the page may say: messages, and under "idea NAME" what an idea is
        called."""
        return {**{key: message for key, message in self._messages[language].items()
                   if not key.startswith(SERVER)}, **self._ideas[language]}


def _ideas(path: Path) -> dict[str, str]:
    """The names of ideas in a language: none in English, and where nobody wrote them down."""
    if not path.exists():
        return {}
    return {f"idea {name}": str(said)
            for name, said in json.loads(path.read_text(encoding="utf-8")).items()}
