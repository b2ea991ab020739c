"""What other programs remark on when they read a file."""

from __future__ import annotations

import re
import tempfile
import warnings
from collections.abc import Iterator
from pathlib import Path

__all__ = ["is_of_the_reader", "remarks"]

_OF_PARTITURA = re.compile(
    # It knows words of tempo and loudness alone, and says so of each other (its issue 235); of an
    # "e" that is counted, as of a word that is not at its end.
    r'error parsing ".*" \(Unexpected(Characters|EOF)\)'
    # Said behind every chord symbol, that it has read or not (its importmusicxml,
    # _handle_harmony; issue 487 is of the same lines).
    r"|ignoring empty <harmony> tag"
    # It reads the tempo from <sound>, and no section letters (importmusicxml, _handle_direction).
    r"|ignoring direction type: (metronome|rehearsal) .*", re.DOTALL)


def remarks(data: bytes) -> Iterator[tuple[str, str]]:
    """(reader, what it says) of a MusicXML file; verovio's are those of its log."""
    import verovio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of their own imports
        import music21
        import partitura  # type: ignore[import-untyped]

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "score.musicxml"
        path.write_bytes(data)
        for reader, read in (
                ("music21", lambda: music21.converter.parse(str(path), forceSource=True)),
                ("partitura", lambda: partitura.load_musicxml(str(path)))):
            with warnings.catch_warnings(record=True) as said:
                warnings.simplefilter("always")
                read()
            yield from ((reader, str(one.message)) for one in said
                        if not issubclass(one.category, DeprecationWarning))
    toolkit = verovio.toolkit()
    if not toolkit.loadData(data.decode()):
        yield "verovio", "cannot be read"
    yield from (("verovio", line) for line in toolkit.getLog().splitlines())


def is_of_the_reader(reader: str, remark: str) -> bool:
    """Whether the reader says it of any file that has what ours has."""
    return reader == "partitura" and _OF_PARTITURA.fullmatch(remark) is not None
