"""The one door to typst: a template, its values, and the drawings that stand in it.

Words reach a template as values of ``data.json``, never as its text, so that nothing in them is
markup and nothing has to be escaped.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fillwright.score.fonts import font_folder, uncovered

__all__ = ["typeset"]

_EPOCH_SEC = 0


def typeset(template: str, data: Mapping[str, Any], drawings: Mapping[str, str]) -> bytes:
    """A PDF. The same values give the same bytes: no dates in them. Only for characters that the
    fonts that come along do not have, those of this computer are asked.

    template   typst, which reads ``json("data.json")``
    drawings   SVGs by the file names that the values call them by
    """
    import typst

    with tempfile.TemporaryDirectory(prefix="fillwright-") as name:
        folder = Path(name)
        for file, drawing in drawings.items():
            (folder / file).write_text(drawing, encoding="utf-8")
        (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
        (folder / "main.typ").write_text(template, encoding="utf-8")
        used = set(json.dumps(data, ensure_ascii=False)).union(*drawings.values())
        return bytes(typst.compile(
            str(folder / "main.typ"), root=name, font_paths=[str(font_folder())],
            ignore_system_fonts=not uncovered("".join(used)), format="pdf",
            timestamp=_EPOCH_SEC, pdf_tags=False))
