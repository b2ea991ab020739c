"""Make pictures of the pages of a PDF, from the first on, one for each name:

    python tools/picture_of_page.py IN.pdf OUT.png ...
"""

from __future__ import annotations

import sys

import pypdfium2  # type: ignore[import-untyped]

DOTS_PER_INCH = 110
FINER = 3
"""Thin lines are drawn so many times as large, or they would be a dot wide at least."""


def main(source: str, *targets: str) -> None:
    document = pypdfium2.PdfDocument(source)
    for number, target in enumerate(targets):
        picture = document[number].render(scale=FINER * DOTS_PER_INCH / 72).to_pil().reduce(FINER)
        # Sixteen greys are enough for print and keep the file small.
        picture.convert("L").quantize(16).save(target, optimize=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
