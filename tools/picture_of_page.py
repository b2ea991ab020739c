"""Make a picture of the first page of a PDF: python tools/picture_of_page.py IN.pdf OUT.png"""

from __future__ import annotations

import sys

import pypdfium2  # type: ignore[import-untyped]

DOTS_PER_INCH = 110


def main(source: str, target: str) -> None:
    document = pypdfium2.PdfDocument(source)
    picture = document[0].render(scale=DOTS_PER_INCH / 72).to_pil()
    # Sixteen greys are enough for print and keep the file small.
    picture.convert("L").quantize(16).save(target, optimize=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
