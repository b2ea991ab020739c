"""SVG pages into one PDF, set by typst with the engraver's own fonts."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from pathlib import Path

from fillwright.score.fonts import font_folder

__all__ = ["pages_to_pdf"]

_EPOCH_SEC = 0
_A4 = (210.0, 297.0)


def pages_to_pdf(pages: Sequence[str], title: str = "") -> bytes:
    """One page for each SVG, as large as its first says (its viewBox, in tenths of a millimetre).

    The same pages give the same bytes: no dates in them.
    """
    import typst

    quoted = " ".join(title.split()).replace("\\", "\\\\").replace('"', '\\"')
    width, height = _size_mm(pages[0]) if pages else _A4
    source = [f'#set document(title: "{quoted}", date: none)',
              f"#set page(width: {width}mm, height: {height}mm, margin: 0pt)"]
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        for number, page in enumerate(pages, 1):
            (Path(folder) / f"page-{number}.svg").write_text(page, encoding="utf-8")
            if number > 1:
                source.append("#pagebreak()")
            source.append(f'#image("page-{number}.svg", width: {width}mm, height: {height}mm)')
        main = Path(folder) / "main.typ"
        main.write_text("\n".join(source), encoding="utf-8")
        return bytes(typst.compile(str(main), root=folder, font_paths=[str(font_folder())],
                                   ignore_system_fonts=True, format="pdf", timestamp=_EPOCH_SEC,
                                   pdf_tags=False))


def _size_mm(page: str) -> tuple[float, float]:
    found = re.search(r'viewBox="0 0 (\d+) (\d+)"', page)
    return _A4 if found is None else (int(found[1]) / 10, int(found[2]) / 10)
