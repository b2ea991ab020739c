"""The W3C MusicXML 4.0 schema, as the PyPI package `musicxml` carries it."""

from __future__ import annotations

import importlib.util
import tempfile
from functools import lru_cache
from pathlib import Path

from lxml import etree

__all__ = ["musicxml_schema", "schema_errors"]

# The schema imports two files that are not in the package: the attributes of XLink (W3C
# XLink 1.1, section 4) and those of XML itself (XML 1.0, sections 2.10 and 2.12).
_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/1999/xlink">
 <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:string"/>
 <xs:attribute name="role" type="xs:anyURI"/><xs:attribute name="title" type="xs:string"/>
 <xs:attribute name="show" type="xs:string"/><xs:attribute name="actuate" type="xs:string"/>
</xs:schema>"""
_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""


@lru_cache(maxsize=1)
def musicxml_schema() -> etree.XMLSchema:
    spec = importlib.util.find_spec("musicxml")
    assert spec is not None and spec.origin is not None
    source = Path(spec.origin).parent / "generate_classes"
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder)
        (target / "xml.xsd").write_text(_XML, encoding="utf-8")
        (target / "xlink.xsd").write_text(_XLINK, encoding="utf-8")
        text = (source / "musicxml_4_0.xsd").read_text(encoding="utf-8")
        text = text.replace("http://www.musicxml.org/xsd/", "")
        (target / "musicxml.xsd").write_text(text, encoding="utf-8")
        return etree.XMLSchema(file=str(target / "musicxml.xsd"))


def schema_errors(data: bytes) -> list[str]:
    """What the schema finds wrong, one line each; empty if valid."""
    schema = musicxml_schema()
    schema.validate(etree.fromstring(data))
    return [str(error) for error in schema.error_log]  # type: ignore[attr-defined]
