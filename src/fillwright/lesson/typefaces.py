"""The engraver's fonts inside a page: only the characters that stand there.

Liberation Serif and Leipzig, both under the SIL Open Font License, as verovio carries them.
"""

from __future__ import annotations

import base64
import io
from pathlib import Path

from fillwright.score.fonts import faces

__all__ = ["font_rules"]

_ACCIDENTALS = "♭♮♯"


def font_rules(characters: str) -> str:
    """Style rules with the fonts of these characters, as WOFF2 in the page itself.

    The text font has no accidentals; they come from the music font.
    """
    rules = []
    for face in faces():
        if face.sheet == "Liberation":
            rules.append(_rule("Liberation Serif", face.weight, face.style,
                               _subset(face.path, characters)))
            continue
        rules.append(_rule("Leipzig", "normal", "normal", _subset(face.path, characters)))
        accidentals = _subset(face.path, _ACCIDENTALS)
        rules += [_rule("Liberation Serif", weight, "normal", accidentals, "U+266D-266F")
                  for weight in ("normal", "bold")]
    return "".join(rules)


def _subset(path: Path, characters: str) -> bytes:
    from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    font = TTFont(path, recalcTimestamp=False, lazy=True)
    options = Options()
    options.notdef_outline = True
    options.drop_tables += ["FFTM"]  # an editor's time stamps
    subsetter = Subsetter(options)
    subsetter.populate(text=characters)
    subsetter.subset(font)
    font.flavor = "woff2"
    buffer = io.BytesIO()
    font.save(buffer)
    font.close()
    return buffer.getvalue()


def _rule(family: str, weight: str, style: str, data: bytes, characters: str = "") -> str:
    only = f"unicode-range:{characters};" if characters else ""
    return (f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};{only}'
            f"src:url(data:font/woff2;base64,{base64.b64encode(data).decode('ascii')})"
            'format("woff2");}\n')
