"""What a sheet may hold. Beyond these bounds reading stops with one clear sentence.

The numbers are generous: the largest lead sheets in public collections stay below a
tenth of each of them.
"""

from __future__ import annotations

from fillwright.exact import Fraction

__all__ = ["MAX_ARCHIVE_MEMBERS", "MAX_ARCHIVE_RATIO", "MAX_BAR_QUARTERS", "MAX_CHORD_CHARACTERS",
           "MAX_DIVISIONS", "MAX_NOTES", "MAX_NOTE_QUARTERS", "MAX_PLAYED_BARS",
           "MAX_PLAYED_EVENTS", "MAX_PRINTED_BARS", "MAX_UNPACKED_BYTES", "MAX_WARNINGS"]

MAX_UNPACKED_BYTES = 32 * 1024 * 1024
"""Size of a score, after unpacking."""

MAX_ARCHIVE_MEMBERS = 1000
"""Files in an archive."""

MAX_ARCHIVE_RATIO = 200
"""Unpacked size over packed size of an archive member, for members above 1 MB."""

MAX_PRINTED_BARS = 2000
MAX_PLAYED_BARS = 4000
MAX_NOTES = 50_000
"""Notes and rests in the parts that are read."""

MAX_PLAYED_EVENTS = 200_000
"""Notes and chord symbols of a tune played out."""

MAX_DIVISIONS = 32
"""Different values of `<divisions>` in a part; common files have one."""

MAX_CHORD_CHARACTERS = 80

MAX_NOTE_QUARTERS = Fraction(64)
"""One written note, in quarter notes: sixteen bars of 4/4."""

MAX_BAR_QUARTERS = Fraction(256)
"""One bar, in quarter notes."""

MAX_WARNINGS = 100
