"""A pass phrase for those who come over the network.

The phrase is made once for a data folder and printed at each start; whoever types it gets a
signed cookie. Neither the phrase nor the cookie is worth anything on another computer.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
import time
from pathlib import Path

__all__ = ["COOKIE", "Door"]

COOKIE = "fillwright"
KEPT_SEC = 90 * 24 * 3600
"""How long a browser is known."""

_GROUPS = 4
_CONSONANTS, _VOWELS = "bdfgklmnprstvz", "aeiou"
"""Four groups of two syllables: 4900 each, 49 bits in all; wrong ones cost half a second."""


class Door:
    """Knows the phrase, and the browsers that have given it."""

    def __init__(self, folder: Path) -> None:
        """Reads the phrase of a data folder, or makes one. Raises OSError."""
        path = folder / "pass-phrase.json"
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            self.phrase, self._key = str(kept["phrase"]), bytes.fromhex(kept["key"])
        except (FileNotFoundError, ValueError, KeyError, TypeError):
            self.phrase, self._key = _new_phrase(), secrets.token_bytes(32)
            folder.mkdir(parents=True, exist_ok=True)
            number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(number, "w", encoding="utf-8") as file:
                json.dump({"phrase": self.phrase, "key": self._key.hex()}, file)

    def opens(self, typed: str) -> bool:
        """Whether this is the phrase, however it is spaced."""
        return hmac.compare_digest(_plain(typed).encode(), _plain(self.phrase).encode())

    def cookie(self, now_sec: float | None = None) -> str:
        """What a browser that gave the phrase keeps."""
        until = int((time.time() if now_sec is None else now_sec) + KEPT_SEC)
        return f"{until}.{self._signed(until)}"

    def knows(self, cookie: str, now_sec: float | None = None) -> bool:
        """Whether a cookie is ours and has not run out."""
        until, _, signature = cookie.partition(".")
        if not (until.isascii() and until.isdigit()) or len(until) > 12:
            return False
        return hmac.compare_digest(signature.encode(), self._signed(int(until)).encode()) and (
            int(until) > (time.time() if now_sec is None else now_sec))

    def _signed(self, until: int) -> str:
        text = f"{until} {_plain(self.phrase)}".encode()
        return hmac.new(self._key, text, hashlib.sha256).hexdigest()


def _plain(text: str) -> str:
    return "".join(character for character in text.lower() if character.isalnum())


def _new_phrase() -> str:
    def syllable() -> str:
        return secrets.choice(_CONSONANTS) + secrets.choice(_VOWELS)

    return "-".join(syllable() + syllable() for _ in range(_GROUPS))
