"""From the bytes of a file to the root element of a score.

Archives (`.mxl`) are read in memory, one member, through a bounded stream; nothing is
ever extracted to disk. A DOCTYPE is fine, entity declarations are refused, and nothing is
fetched from a network. Bounds are in `fillwright.tune.limits`.
"""

from __future__ import annotations

import io
import posixpath
import re
import struct
import zipfile
import zlib
from typing import Any
from urllib.parse import unquote

from lxml import etree

from fillwright.errors import InputError
from fillwright.tune.limits import MAX_ARCHIVE_MEMBERS, MAX_ARCHIVE_RATIO, MAX_UNPACKED_BYTES

__all__ = ["is_archive", "parse_score", "unpack"]

_MEGABYTE = 1024 * 1024
_CONTAINER = "META-INF/container.xml"
_SCORE_SUFFIXES = (".musicxml", ".xml")
_BAD_ARCHIVE = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError,
                OSError, ValueError, struct.error, KeyError, IndexError, OverflowError)


def is_archive(data: bytes) -> bool:
    """Whether the bytes begin like a zip archive."""
    return data[:4] in (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")


def unpack(data: bytes) -> bytes:
    """The score inside a compressed MusicXML archive.

    The first root file that `META-INF/container.xml` names, or, where that is missing,
    malformed or wrong (one archive in five, in public collections), the first score that
    is not in META-INF. Raises InputError.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MAX_ARCHIVE_MEMBERS:
                raise InputError(f"the archive holds {len(members)} files, more than the limit "
                                 f"of {MAX_ARCHIVE_MEMBERS}")
            return _read_member(archive, _score_member(archive, members))
    except InputError:
        raise
    except _BAD_ARCHIVE as error:
        raise InputError("the archive is truncated or damaged") from error


def _read_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo,
                 limit: int = MAX_UNPACKED_BYTES) -> bytes:
    if member.flag_bits & 1:
        raise InputError("the archive is encrypted")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise InputError("the archive uses a compression that MusicXML does not allow")
    with archive.open(member) as stream:
        content = stream.read(limit + 1)  # sizes in the directory may lie
    if len(content) > limit:
        raise InputError(f"the score in the archive is larger than the limit of "
                         f"{limit // _MEGABYTE} MB")
    packed = max(member.compress_size, 1)
    if len(content) > _MEGABYTE and len(content) > MAX_ARCHIVE_RATIO * packed:
        raise InputError(f"the archive is packed more than {MAX_ARCHIVE_RATIO} to 1, "
                         "which no score is")
    return content


def _score_member(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> zipfile.ZipInfo:
    by_name = {member.filename.replace("\\", "/"): member for member in members}
    container = by_name.get(_CONTAINER)
    if container is None:
        container = next((member for name, member in by_name.items()
                          if name.lower() == _CONTAINER.lower()), None)
    if container is not None:
        for path in _rootfiles(_container_bytes(archive, container)):
            named = _find(by_name, path)
            if named is not None:
                return named
    for suffix in _SCORE_SUFFIXES:
        for name, member in by_name.items():
            if (name.lower().endswith(suffix) and not name.upper().startswith("META-INF/")
                    and not posixpath.basename(name).startswith(".")
                    and not name.startswith("__MACOSX/")):
                return member
    raise InputError("the archive holds no score")


def _container_bytes(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> bytes:
    try:
        return _read_member(archive, member, _MEGABYTE)
    except (InputError, *_BAD_ARCHIVE):
        return b""


def _rootfiles(content: bytes) -> list[str]:
    if not content.strip() or _declares_entities(content):
        return []
    parser = etree.XMLParser(recover=True, resolve_entities=False, no_network=True)
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError):
        return []
    if root is None:
        return []
    paths = []
    for element in root.iter("{*}rootfile"):
        media = element.get("media-type") or "musicxml"
        path = element.get("full-path")
        if path and ("musicxml" in media or path.lower().endswith(_SCORE_SUFFIXES)):
            paths.append(path)
    return paths


def _find(by_name: dict[str, zipfile.ZipInfo], path: str) -> zipfile.ZipInfo | None:
    """The member a container names; its name is only looked up, never used as a path."""
    for candidate in (path, unquote(path)):
        name = candidate.replace("\\", "/").lstrip("/")
        if name.startswith("./"):
            name = name[2:]
        if name in by_name and not name.endswith("/"):
            return by_name[name]
    return None


def _declares_entities(data: bytes) -> bool:
    """Whether a document type with entity declarations stands before the first element."""
    head = data[:400]
    if b"\0" in head:  # UTF-16 or UTF-32
        data = data[:4 * _MEGABYTE].replace(b"\0", b"")
    start = _ELEMENT.search(data)
    return data.find(b"<!ENTITY", 0, len(data) if start is None else start.start()) >= 0


def _parser() -> etree.XMLParser:
    return etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False,
                           dtd_validation=False, huge_tree=False, remove_comments=True,
                           remove_pis=True, remove_blank_text=True)


_ELEMENT = re.compile(rb"<(?:score-|[a-z]+:score-|container|opus|html)")
# How "<" begins where there is no byte-order mark.
_WIDE = ((b"<\0\0\0", "UTF-32LE"), (b"\0\0\0<", "UTF-32BE"), (b"<\0", "UTF-16LE"),
         (b"\0<", "UTF-16BE"))
_DECLARATION = re.compile(rb"^\s*<\?xml[^>]*\?>")


def parse_score(data: bytes) -> tuple[etree._Element, list[str]]:
    """The root element `score-partwise` and warnings. Raises InputError.

    `score-timewise` is turned into `score-partwise`; namespaces are taken off.
    """
    if len(data) > MAX_UNPACKED_BYTES:
        raise InputError(f"the score is larger than the limit of "
                         f"{MAX_UNPACKED_BYTES // _MEGABYTE} MB")
    if not data or data.isspace():  # not strip(): a copy of the file costs half a parse
        raise InputError("the file is empty")
    if _declares_entities(data):
        raise InputError("the score declares XML entities, which are not allowed")
    root, warnings = _parse_leniently(data)
    document: Any = root.getroottree().docinfo.internalDTD
    if document is not None and document.entities():
        raise InputError("the score declares XML entities, which are not allowed")
    tag = root.tag
    if isinstance(tag, str) and tag.startswith("{"):
        _strip_namespaces(root)
        tag = root.tag
    if tag == "score-timewise":
        root = _to_partwise(root)
    elif tag != "score-partwise":
        raise InputError(f"not a MusicXML score: its root element is <{str(tag)[:40]}>")
    return root, warnings


def _parse_leniently(data: bytes) -> tuple[etree._Element, list[str]]:
    try:
        return etree.fromstring(data, _parser()), []
    except (etree.XMLSyntaxError, ValueError) as error:
        first = error
    for attempt, note in _repairs(data):
        try:
            return etree.fromstring(attempt, _parser()), [note]
        except (etree.XMLSyntaxError, ValueError):
            continue
    raise _syntax_error(first, data)


def _repairs(data: bytes) -> list[tuple[bytes, str]]:
    """Other ways to take bytes whose declared encoding is not theirs, or that declare none."""
    wide = next((name for start, name in _WIDE if data.startswith(start)), None)
    if wide is not None:
        text = data.decode(wide, errors="replace").encode()
        return [(_DECLARATION.sub(b"", text, count=1),
                 f"the file's encoding is taken to be {wide}")]
    if not re.match(rb"(?:\xef\xbb\xbf)?\s*<", data):
        return []
    repairs = []
    bare = _DECLARATION.sub(b"", data.removeprefix(b"\xef\xbb\xbf"), count=1).lstrip()
    try:
        bare.decode("utf-8")
        repairs.append((bare, "the file's encoding is not the one it declares; read as UTF-8"))
    except UnicodeDecodeError:
        repairs.append((bare.decode("latin-1").encode("utf-8"),
                        "the file's encoding is not the one it declares; read as Latin-1"))
    return repairs


def _syntax_error(error: Exception, data: bytes) -> InputError:
    if not re.match(rb"(?:\xef\xbb\xbf|\xff\xfe|\xfe\xff)?[\s\0]*<", data):
        return InputError("not a score: it does not begin like XML")
    if isinstance(error, etree.XMLSyntaxError):
        line, column = error.position
        reason = re.sub(r",? line \d+, column \d+.*", "", str(error.msg or ""), flags=re.DOTALL)
        if "depth" in reason:
            reason = "elements are nested too deeply"
        return InputError(f"not well-formed XML at line {line}, character {column}: "
                          f"{reason[:120]}")
    return InputError("not well-formed XML")


def _strip_namespaces(root: etree._Element) -> None:
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = etree.QName(element).localname


def _to_partwise(root: etree._Element) -> etree._Element:
    parts: dict[str, etree._Element] = {}
    for measure in root.findall("measure"):
        for old in measure.findall("part"):
            name = old.get("id") or ""
            part = parts.get(name)
            if part is None:
                part = parts[name] = etree.Element("part", {"id": name})
            bar = etree.SubElement(part, "measure")
            for attribute, value in measure.attrib.items():
                bar.set(attribute, value)
            bar.extend(list(old))
        root.remove(measure)
    root.extend(parts.values())
    root.tag = "score-partwise"
    return root
