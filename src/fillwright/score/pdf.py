"""SVG pages into one PDF, set by typst with the engraver's own fonts."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from fillwright.score.fonts import font_folder

__all__ = ["pages_to_pdf"]

_EPOCH_SEC = 0


def pages_to_pdf(pages: Sequence[str], title: str = "") -> bytes:
    """One A4 page for each SVG. The same pages give the same bytes: no dates in them."""
    import typst

    quoted = " ".join(title.split()).replace("\\", "\\\\").replace('"', '\\"')
    source = [f'#set document(title: "{quoted}", date: none)',
              "#set page(width: 210mm, height: 297mm, margin: 0pt)"]
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        for number, page in enumerate(pages, 1):
            (Path(folder) / f"page-{number}.svg").write_text(page, encoding="utf-8")
            if number > 1:
                source.append("#pagebreak()")
            source.append(f'#image("page-{number}.svg", width: 210mm, height: 297mm)')
        main = Path(folder) / "main.typ"
        main.write_text("\n".join(source), encoding="utf-8")
        return bytes(typst.compile(str(main), root=folder, font_paths=[str(font_folder())],
                                   ignore_system_fonts=True, format="pdf", timestamp=_EPOCH_SEC,
                                   pdf_tags=False))
