"""What is written into the library, a file or a tune at a time, each one transaction.

A tune's description belongs to its content: a file that is moved, or lies there twice, is
described once. What no file holds any more is taken out with the last file that held it.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.library.database import transaction
from fillwright.library.folders import Sighting
from fillwright.library.model import DESCRIPTION, PLACES, WORK, GapFacts, SheetFacts
from fillwright.library.working import DEPTHS, FAMILY_OF, DeviceOffer, Work

__all__ = ["Known", "ToWork", "TuneRead", "failed_work", "forget_files", "known_files", "named",
           "player_id", "put_failed", "put_file", "put_work", "refused_tunes", "unworked"]

MASKS, BITS = 4, 62
"""Columns of `may`, and devices to a column."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a file from before."""

    bytes: int
    changed_ns: int
    digest: str
    description: int
    tunes: int

    def is_like(self, seen: Sighting) -> bool:
        """Whether it need not be read again."""
        return (self.bytes == seen.bytes and self.changed_ns == seen.changed_ns
                and self.description == DESCRIPTION)


@dataclass(frozen=True, slots=True)
class TuneRead:
    """A tune of a file: its facts, or why it was refused. `number` is 0 where the file holds
    one tune."""

    number: int
    facts: SheetFacts | None
    refused: str = ""


def known_files(connection: sqlite3.Connection) -> dict[bytes, Known]:
    """All files by their path."""
    return {path: Known(*rest) for path, *rest in connection.execute(
        "SELECT path, bytes, changed_ns, digest, description, count(*) FROM files GROUP BY path")}


def refused_tunes(connection: sqlite3.Connection, path: str | None = None
                  ) -> dict[bytes, list[TuneRead]]:
    """What was refused before, by path; of one file only."""
    found: dict[bytes, list[TuneRead]] = {}
    where, values = ("", ()) if path is None else (" AND path = ?", (os.fsencode(path),))
    for name, number, refused in connection.execute(
            f"SELECT path, number, refused FROM files WHERE refused != ''{where} "
            "ORDER BY path, number", values):
        found.setdefault(name, []).append(TuneRead(number, None, refused))
    return found


def put_file(connection: sqlite3.Connection, seen: Sighting, digest: str,
             tunes: Iterable[TuneRead]) -> None:
    """Keep what was read of a file, in place of what was known of it."""
    path = os.fsencode(seen.path)
    with transaction(connection):
        before = _sheets_of(connection, path)
        connection.execute("DELETE FROM files WHERE path = ?", (path,))
        for tune in tunes:
            sheet = None if tune.facts is None else _put_sheet(connection, tune.facts)
            connection.execute("INSERT INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (
                path, tune.number, seen.bytes, seen.changed_ns, digest, DESCRIPTION, sheet,
                tune.refused))
        _let_go(connection, before)


def touch_file(connection: sqlite3.Connection, seen: Sighting) -> None:
    """A file has another date and the content it had."""
    with transaction(connection):
        connection.execute("UPDATE files SET bytes = ?, changed_ns = ? WHERE path = ?",
                           (seen.bytes, seen.changed_ns, os.fsencode(seen.path)))


def forget_files(connection: sqlite3.Connection, paths: Iterable[bytes]) -> None:
    """Take files out that are gone, with the tunes that no other file holds."""
    for path in paths:
        with transaction(connection):
            before = _sheets_of(connection, path)
            connection.execute("DELETE FROM files WHERE path = ?", (path,))
            _let_go(connection, before)


def _sheets_of(connection: sqlite3.Connection, path: bytes) -> list[int]:
    return [sheet for sheet, in connection.execute(
        "SELECT sheet FROM files WHERE path = ? AND sheet IS NOT NULL", (path,))]


def _let_go(connection: sqlite3.Connection, sheets: Iterable[int]) -> None:
    for sheet in sheets:
        if connection.execute("SELECT 1 FROM files WHERE sheet = ?", (sheet,)).fetchone():
            continue
        row = connection.execute("SELECT fingerprint FROM sheets WHERE id = ?",
                                 (sheet,)).fetchone()
        connection.execute("DELETE FROM sheets WHERE id = ?", (sheet,))
        if row is not None:
            _mark_first(connection, row[0])


def _mark_first(connection: sqlite3.Connection, fingerprint: str) -> None:
    connection.execute("UPDATE sheets SET first = (id = (SELECT min(id) FROM sheets WHERE "
                       "fingerprint = ?1)) WHERE fingerprint = ?1", (fingerprint,))


def _put_sheet(connection: sqlite3.Connection, facts: SheetFacts) -> int:
    """The sheet's number; nothing is written where the same content is described already."""
    row = connection.execute("SELECT id, description, fingerprint FROM sheets WHERE content = ?",
                             (facts.content,)).fetchone()
    if row is not None and row[1] == DESCRIPTION:
        return int(row[0])
    values = (facts.content, facts.fingerprint, DESCRIPTION, 0, facts.title,
              facts.title.casefold(), facts.key, facts.tonic, facts.mode, facts.meter, facts.bars,
              facts.tempo, facts.tempo_marked, facts.feel)
    if row is None:
        sheet = connection.execute(
            "INSERT INTO sheets (content, fingerprint, description, first, title, folded, key, "
            "tonic, mode, meter, bars, tempo, marked, feel) VALUES (" + ", ".join("?" * 14) + ")",
            values).lastrowid
    else:  # described by an older program
        sheet = row[0]
        connection.execute("DELETE FROM gaps WHERE sheet = ?", (sheet,))
        connection.execute("DELETE FROM worked WHERE sheet = ?", (sheet,))
        connection.execute(
            "UPDATE sheets SET (content, fingerprint, description, first, title, folded, key, "
            "tonic, mode, meter, bars, tempo, marked, feel) = (" + ", ".join("?" * 14)
            + ") WHERE id = ?", (*values, sheet))
        _mark_first(connection, row[2])
    _mark_first(connection, facts.fingerprint)
    rows = _row_ids(connection, {gap.row for gap in facts.gaps} | {
        f" {gap.into} " if gap.into else "" for gap in facts.gaps})
    for gap in facts.gaps:
        _put_gap(connection, int(sheet or 0), gap, rows)
    return int(sheet or 0)


def _put_gap(connection: sqlite3.Connection, sheet: int, gap: GapFacts, rows: dict[str, int]
             ) -> None:
    number = connection.execute(
        "INSERT INTO gaps (sheet, beats, seconds, row, into_row, semitones, key_semitones, "
        "landing, place, number, alike, time, held) VALUES (" + ", ".join("?" * 13) + ")", (
            sheet, float(Fraction(gap.beats)), gap.seconds, rows[gap.row],
            rows[f" {gap.into} " if gap.into else ""], gap.semitones, gap.key_semitones,
            gap.landing, PLACES.index(gap.place), gap.number, gap.alike, gap.time, gap.held_midi)
    ).lastrowid
    connection.execute("INSERT INTO told VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (
        number, gap.bar, gap.pass_number, gap.beat, gap.beats, " ".join(gap.why),
        "\t".join(gap.chords), "\t".join(gap.functions), gap.degree, gap.held, gap.section))


def _row_ids(connection: sqlite3.Connection, texts: Iterable[str]) -> dict[str, int]:
    wanted = sorted(texts)
    connection.executemany("INSERT OR IGNORE INTO rows (row) VALUES (?)", [(t,) for t in wanted])
    return {text: connection.execute("SELECT id FROM rows WHERE row = ?", (text,)).fetchone()[0]
            for text in wanted}


def player_id(connection: sqlite3.Connection, level: str, hand: str, *, make: bool = False
              ) -> int | None:
    """The number of a player, None where nothing was ever worked out for one."""
    if make:
        with transaction(connection):
            _renew_devices(connection)
            connection.execute("INSERT OR IGNORE INTO players (level, hand) VALUES (?, ?)",
                               (level, hand))
            connection.executemany("INSERT OR IGNORE INTO devices (family, name) VALUES (?, ?)",
                                   [(family, name) for name, family in FAMILY_OF.items()])
    row = connection.execute("SELECT id FROM players WHERE level = ? AND hand = ?",
                             (level, hand)).fetchone()
    return None if row is None else int(row[0])


def _renew_devices(connection: sqlite3.Connection) -> None:
    """Devices have numbers for good, which must have room in the masks: where another version of
    the program has so many others that they have not, all work is done anew."""
    known = set(connection.execute("SELECT name, family FROM devices"))
    if len(known | set(FAMILY_OF.items())) > MASKS * BITS:
        for table in ("offers", "may", "ease", "worked", "devices"):
            connection.execute(f"DELETE FROM {table}")


@dataclass(frozen=True, slots=True)
class ToWork:
    """A sheet that is not worked out: its number, its content, its place in the file there."""

    sheet: int
    content: str
    number: int
    path: bytes


def unworked(connection: sqlite3.Connection, player: int, depth: str) -> list[ToWork]:
    """All that is not worked out so far for a player, or was by another version of the program;
    what this version failed on is not tried again."""
    return [ToWork(*row) for row in connection.execute(
        "SELECT sheets.id, sheets.content, files.number, min(files.path) FROM sheets "
        "JOIN files ON files.sheet = sheets.id LEFT JOIN worked ON worked.sheet = sheets.id AND "
        "worked.player = ? WHERE worked.depth IS NULL OR worked.program != ? OR "
        "(worked.depth < ? AND worked.failed = '') GROUP BY sheets.id ORDER BY sheets.id",
        (player, WORK, DEPTHS.index(depth)))]


def put_work(connection: sqlite3.Connection, player: int, sheet: int, work: Work) -> None:
    """Keep what was worked out of a sheet, in place of what was known; nothing where it was
    taken out meanwhile."""
    with transaction(connection):
        ids = dict(connection.execute("SELECT number, id FROM gaps WHERE sheet = ?", (sheet,)))
        if len(ids) != len(work.gaps):
            return
        devices = _device_ids(connection, work)
        _forget_work(connection, player, sheet)
        for gap in work.gaps:
            here = ids[gap.number]
            masks = [0] * MASKS
            for name in gap.may:
                column, bit = divmod(devices[FAMILY_OF[name], name] - 1, BITS)
                masks[column] |= 1 << bit
            connection.execute("INSERT INTO may VALUES (?, ?, ?, ?, ?, ?)", (player, here, *masks))
            connection.executemany("INSERT INTO offers VALUES (?, ?, ?, ?, ?)", [
                (player, devices[offer.family, offer.name], offer.difficulty, here, offer.rank)
                for offer in gap.offers])
            connection.executemany("INSERT INTO ease VALUES (?, ?, ?, ?, ?)", [
                (player, family, easiest, here, ideas)
                for family, easiest, ideas in _ease(gap.offers)])
        connection.execute("INSERT OR REPLACE INTO worked VALUES (?, ?, ?, ?, '')", (
            player, sheet, DEPTHS.index(work.depth), WORK))


def put_failed(connection: sqlite3.Connection, player: int, sheet: int, sentence: str) -> None:
    """Keep that a sheet cannot be worked out, and why; what is known of it to a lesser depth
    stays."""
    with transaction(connection):
        known = connection.execute("SELECT 1 FROM worked WHERE sheet = ? AND player = ? AND "
                                   "program = ?", (sheet, player, WORK)).fetchone()
        there = connection.execute("SELECT 1 FROM sheets WHERE id = ?", (sheet,)).fetchone()
        if there and not known:
            _forget_work(connection, player, sheet)
            connection.execute("INSERT OR REPLACE INTO worked VALUES (?, ?, 0, ?, ?)",
                               (player, sheet, WORK, sentence))


def failed_work(connection: sqlite3.Connection, player: int) -> list[tuple[str, str]]:
    """(path, sentence) of the sheets that could not be worked out for a player."""
    return [(named(os.fsdecode(path), number), failed) for path, number, failed in
            connection.execute(
                "SELECT min(files.path), files.number, worked.failed FROM worked JOIN files ON "
                "files.sheet = worked.sheet WHERE worked.player = ? AND worked.program = ? AND "
                "worked.failed != '' GROUP BY worked.sheet ORDER BY worked.sheet",
                (player, WORK))]


def named(path: str, number: int) -> str:
    """A tune's path: ``book.abc#3`` for one of a book."""
    return f"{path}#{number}" if number else path


def _forget_work(connection: sqlite3.Connection, player: int, sheet: int) -> None:
    for table in ("offers", "may", "ease"):
        connection.execute(f"DELETE FROM {table} WHERE player = ? AND gap IN (SELECT id FROM "
                           "gaps WHERE sheet = ?)", (player, sheet))


def _ease(offers: Iterable[DeviceOffer]) -> Iterator[tuple[str, int, int]]:
    """The easiest offer and the number of devices, in all and for each family there is."""
    rows: dict[str, list[int]] = {}
    for offer in offers:
        for family in ("", offer.family):
            rows.setdefault(family, []).append(offer.difficulty)
    for family, row in rows.items():
        yield family, min(row), len(row)


def _device_ids(connection: sqlite3.Connection, work: Work) -> dict[tuple[str, str], int]:
    wanted = {(offer.family, offer.name) for gap in work.gaps for offer in gap.offers}
    connection.executemany("INSERT OR IGNORE INTO devices (family, name) VALUES (?, ?)",
                           sorted(wanted))
    return {(family, name): key for key, family, name in connection.execute(
        "SELECT id, family, name FROM devices")}
