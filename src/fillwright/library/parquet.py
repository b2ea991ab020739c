"""The library's tables as Parquet files: written, taken in again, asked where they lie.

One file a table, all of one moment whatever is added meanwhile: written beside their places and
moved there together. Each says which moment it is of, so that tables of two are not taken for one
library. DuckDB asks them by the statements that SQLite answers.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from fillwright.errors import InputError
from fillwright.library.asking import Question
from fillwright.library.database import TABLES, reading, transaction, trouble
from fillwright.library.finding import Answer, find_gaps_in

if TYPE_CHECKING:
    from fillwright.library.shelf import Library

__all__ = ["find_in_parquet", "load_parquet", "write_parquet"]

_ROWS = 50_000
"""Rows that are in memory at once."""
_MOMENT = b"fillwright.moment"
"""What all tables that were written together have in common."""
_ARROW = {"INTEGER": "int64", "REAL": "float64", "TEXT": "string", "BLOB": "binary"}


@contextmanager
def _needed() -> Iterator[None]:
    try:
        yield
    except ImportError as error:
        raise InputError("Parquet needs more libraries: pip install 'fillwright[cluster]'",
                         "library") from error


def write_parquet(library: Library, folder: str | Path) -> None:
    """Write all tables into a folder. Raises InputError where it cannot be written."""
    place = Path(folder)
    with _needed(), trouble(place):
        place.mkdir(parents=True, exist_ok=True)
        parts = {table: place / f".{table}.{os.getpid()}" for table in TABLES}
        moment = uuid4().hex
        try:
            with reading(library.connection):
                for table, part in parts.items():
                    _write(library, table, part, moment)
            for table, part in parts.items():
                part.replace(place / f"{table}.parquet")
        finally:
            for part in parts.values():
                part.unlink(missing_ok=True)


def _write(library: Library, table: str, path: Path, moment: str) -> None:
    import pyarrow
    from pyarrow import parquet

    columns = library.connection.execute(f"PRAGMA table_info({table})").fetchall()
    schema = pyarrow.schema([(column[1], getattr(pyarrow, _ARROW[column[2]])())
                             for column in columns], metadata={_MOMENT: moment})
    with parquet.ParquetWriter(path, schema) as writer:
        rows = library.connection.execute(f"SELECT * FROM {table}")
        while batch := rows.fetchmany(_ROWS):
            writer.write_table(pyarrow.table(
                [list(column) for column in zip(*batch, strict=True)], schema=schema))


def load_parquet(folder: str | Path, library: Library) -> None:
    """Take the tables of a folder in, in place of what the library holds: all or nothing. Raises
    InputError where one is missing or no such table."""
    place = Path(folder)
    connection = library.connection
    with _needed(), trouble(library.path), transaction(connection):
        connection.execute("PRAGMA defer_foreign_keys=ON")
        _check_moment(place)
        for table in reversed(TABLES):
            connection.execute(f"DELETE FROM {table}")
        for table in TABLES:
            _load(library, table, _file(place, table))


def _load(library: Library, table: str, path: Path) -> None:
    import pyarrow
    from pyarrow import parquet

    names = [row[1] for row in library.connection.execute(f"PRAGMA table_info({table})")]
    values = ", ".join("?" * len(names))
    try:
        with parquet.ParquetFile(path) as file:
            for batch in file.iter_batches(_ROWS, columns=names):
                library.connection.executemany(
                    f"INSERT INTO {table} VALUES ({values})",
                    zip(*(column.to_pylist() for column in batch.columns), strict=True))
    except (pyarrow.ArrowException, KeyError, ValueError) as error:
        raise InputError(f"it is no table of a library: {error}", path.name) from error


def _check_moment(place: Path) -> None:
    """Raises InputError where a table is missing, is none, or is of another moment than the
    rest."""
    import pyarrow
    from pyarrow import parquet

    moments = set()
    for table in TABLES:
        path = _file(place, table)
        try:
            moments.add((parquet.read_schema(path).metadata or {}).get(_MOMENT))
        except (pyarrow.ArrowException, OSError, ValueError) as error:
            raise InputError(f"it is no table of a library: {error}", path.name) from error
    if len(moments) > 1 or None in moments:
        raise InputError("its tables were not written together; write them anew",
                         place.name or str(place))


def _file(place: Path, table: str) -> Path:
    path = place / f"{table}.parquet"
    if not path.is_file():
        raise InputError(f"there is no {path.name} in it", place.name or str(place))
    return path


def find_in_parquet(folder: str | Path, question: Question) -> Answer:
    """The gaps that answer a question, looked for by DuckDB in the files of a folder."""
    with _needed():
        import duckdb
    place = Path(folder)
    _check_moment(place)
    with closing(duckdb.connect()) as connection:
        for table in TABLES:
            path = str(_file(place, table)).replace("'", "''")
            connection.execute(f"CREATE VIEW {table} AS SELECT * FROM read_parquet('{path}')")
        asked: Any = connection
        return find_gaps_in(asked, question)
