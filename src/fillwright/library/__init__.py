"""The shelf: many tunes, their gaps, and how to find the one that teaches.

Read in this order: `model` says what is known of a sheet and of a gap, `numerals` how chords are
told by function, `describe` makes it all from the bytes of a sheet.
"""

from fillwright.library.describe import content_of, describe, describe_tune
from fillwright.library.model import PLACES, GapFacts, SheetFacts
from fillwright.library.numerals import asked_row, degree_semitones, row_pattern, told

__all__ = ["PLACES", "GapFacts", "SheetFacts", "asked_row", "content_of", "degree_semitones",
           "describe", "describe_tune", "row_pattern", "told"]
