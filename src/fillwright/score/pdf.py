"""SVG pages into one PDF, with the engraver's own fonts."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fillwright.score.typeset import typeset

__all__ = ["pages_to_pdf"]

_A4 = (210.0, 297.0)
_TEMPLATE = """
#let data = json("data.json")
#let (width, height) = data.size.map(length => length * 1mm)
#set document(title: data.title, date: none)
#set page(width: width, height: height, margin: 0pt)
#for (place, file) in data.pages.enumerate() {
  if place > 0 { pagebreak() }
  image(file, width: width, height: height)
}
"""


def pages_to_pdf(pages: Sequence[str], title: str = "") -> bytes:
    """One page for each SVG, as large as its first says (its viewBox, in tenths of a millimetre).

    The same pages give the same bytes: no dates in them.
    """
    drawings = {f"page-{number}.svg": page for number, page in enumerate(pages, 1)}
    data = {"title": " ".join(title.split()), "pages": list(drawings),
            "size": _size_mm(pages[0]) if pages else _A4}
    return typeset(_TEMPLATE, data, drawings)


def _size_mm(page: str) -> tuple[float, float]:
    found = re.search(r'viewBox="0 0 (\d+) (\d+)"', page)
    return _A4 if found is None else (int(found[1]) / 10, int(found[2]) / 10)
