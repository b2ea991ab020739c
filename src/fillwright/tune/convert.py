"""Other notations, through music21 and MusicXML.

music21 is imported here only, when such a file is read. Whatever goes wrong inside it is
reported as an InputError.
"""

from __future__ import annotations

import contextlib
import io
import tempfile
import warnings
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

from fillwright.errors import InputError
from fillwright.tune.container import parse_score
from fillwright.tune.notices import Notices

__all__ = ["OTHER_SUFFIXES", "score_from_other"]

OTHER_SUFFIXES = (".krn", ".mei", ".rntxt", ".rntext", ".musedata", ".capx",
                  ".nwctxt", ".tntxt", ".tinynotation")
"""Endings of notations that music21 reads and that can hold a melody with harmony."""

_MAX_BYTES = 2_000_000


def score_from_other(data: bytes, suffix: str, notices: Notices) -> etree._Element:
    """The `score-partwise` element music21 makes of a file. Raises InputError."""
    if suffix not in OTHER_SUFFIXES:
        raise InputError(f"{suffix or 'this'} is not the ending of a lead sheet that can be "
                         "read (.musicxml, .xml, .mxl, .abc)")
    if not data.strip():
        raise InputError("the file is empty")
    if len(data) > _MAX_BYTES:
        raise InputError(f"the file is larger than the limit of {_MAX_BYTES // 1_000_000} MB "
                         "for its notation")
    xml = _through_music21(data, suffix)
    notices.add(f"converted from {suffix} by music21")
    root, warnings_ = parse_score(xml)
    for warning in warnings_:
        notices.add(warning)
    return root


def _through_music21(data: bytes, suffix: str) -> bytes:
    if find_spec("music21") is None:
        raise InputError(f"reading {suffix} files needs the extra package music21 "
                         "(pip install 'fillwright[notations]'); MusicXML and ABC need none")
    quiet = io.StringIO()
    try:
        with warnings.catch_warnings(), contextlib.redirect_stdout(quiet), \
                contextlib.redirect_stderr(quiet), tempfile.TemporaryDirectory() as folder:
            warnings.simplefilter("ignore")
            from music21 import converter
            from music21.musicxml.m21ToXml import GeneralObjectExporter
            path = Path(folder) / f"sheet{suffix}"
            path.write_bytes(data)
            score = converter.parse(path, forceSource=True)
            return bytes(GeneralObjectExporter(score).parse())
    except Exception as error:
        raise InputError(f"the {suffix} file cannot be understood") from error
