"""The engraver's fonts inside a page: only the characters that stand there.

Liberation Serif and Leipzig, both under the SIL Open Font License, as verovio carries them.
"""

from __future__ import annotations

import base64
import io
import re
from pathlib import Path

__all__ = ["font_rules"]

_ACCIDENTALS = "♭♮♯"
_SHEETS = ("Liberation.css", "Leipzig.css")


def font_rules(characters: str) -> str:
    """Style rules with the fonts of these characters, as WOFF2 in the page itself.

    The text font has no accidentals; they come from the music font.
    """
    text, music = (_packed(name) for name in _SHEETS)
    rules = []
    for style, weight, data in text:
        rules.append(_rule("Liberation Serif", weight, style, _subset(data, characters)))
    for _, _, data in music:
        rules.append(_rule("Leipzig", "normal", "normal", _subset(data, characters)))
        rules.append(_rule("Liberation Serif", "normal", "normal", _subset(data, _ACCIDENTALS),
                           "U+266D-266F"))
        rules.append(_rule("Liberation Serif", "bold", "normal", _subset(data, _ACCIDENTALS),
                           "U+266D-266F"))
    return "".join(rules)


def _packed(sheet: str) -> list[tuple[str, str, bytes]]:
    """(style, weight, WOFF2) of each face of a style sheet."""
    import verovio

    css = (Path(verovio.__file__).parent / "data" / sheet).read_text(encoding="ascii")
    found = []
    for face in re.findall(r"@font-face\s*{(.*?)}", css, re.DOTALL):
        packed = re.search(r"base64,([^)]*)\)", face)
        if packed is not None:
            style = "italic" if re.search(r"font-style:\s*italic", face) else "normal"
            weight = "bold" if re.search(r"font-weight:\s*(bold|700)", face) else "normal"
            found.append((style, weight, base64.b64decode(packed[1])))
    return found


def _subset(data: bytes, characters: str) -> bytes:
    from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    font = TTFont(io.BytesIO(data), recalcTimestamp=False)
    options = Options()
    options.notdef_outline = True
    options.drop_tables += ["FFTM"]  # an editor's time stamps
    subsetter = Subsetter(options)
    subsetter.populate(text=characters)
    subsetter.subset(font)
    font.flavor = "woff2"
    buffer = io.BytesIO()
    font.save(buffer)
    return buffer.getvalue()


def _rule(family: str, weight: str, style: str, data: bytes, characters: str = "") -> str:
    only = f"unicode-range:{characters};" if characters else ""
    return (f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};{only}'
            f"src:url(data:font/woff2;base64,{base64.b64encode(data).decode('ascii')})"
            'format("woff2");}\n')
