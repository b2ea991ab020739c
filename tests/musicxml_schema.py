"""The MusicXML 4.0 schema (W3C Music Notation Community Group), loaded offline for tests.

The schema comes with the PyPI package ``musicxml``; the two W3C schemas it imports come with
``xmlschema``. The imports name web addresses, so copies are made that name each other.
"""

from __future__ import annotations

import re
import tempfile
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

__all__ = ["schema_errors"]


def _package_folder(name: str) -> Path:
    spec = find_spec(name)
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent


@cache
def _schema() -> etree.XMLSchema:
    w3c = _package_folder("xmlschema") / "schemas"
    sources = {
        "musicxml.xsd": _package_folder("musicxml") / "generate_classes" / "musicxml_4_0.xsd",
        "xml.xsd": w3c / "XML" / "xml.xsd",
        "xlink.xsd": w3c / "XLINK" / "xlink.xsd",
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, source in sources.items():
            text = source.read_text(encoding="utf-8")
            text = re.sub(r'schemaLocation="[^"]*/(xml|xlink)\.xsd"',
                          r'schemaLocation="\1.xsd"', text)
            (Path(folder) / name).write_text(text, encoding="utf-8")
        return etree.XMLSchema(etree.parse(str(Path(folder) / "musicxml.xsd")))


def schema_errors(musicxml: bytes) -> list[str]:
    """What is invalid in a MusicXML document; empty where it is valid."""
    schema = _schema()
    schema.validate(etree.fromstring(musicxml))
    return [str(error) for error in schema.error_log]
