"""The shelf: many tunes, their gaps, and how to find the one that teaches.

Read in this order: `model` says what is known of a sheet and of a gap, `numerals` how chords are
told by function, `describe` makes it all from the bytes of a sheet, `working` what can be played
in its gaps. `folders` finds sheets, `database` is the file they are kept in, `shelving` writes
into it, `adding` goes through folders, `processes` with several processes, `cluster` with many
machines; `parquet` writes the tables for others. `asking` is what may be asked, `finding` answers
it, `counting` says what each further choice would leave, `filling` works out what an answer lacks,
`likeness` finds gaps that are like one, `teaching` puts tunes in an order and finds the fewest that
show everything; `shelf` is the whole thing, `document` its results as JSON and as lines.
"""

from fillwright.fills.devices.registry import devices_in
from fillwright.library.adding import Added
from fillwright.library.asking import SORTS, WAYS, Question, span_of, table_names
from fillwright.library.counting import DIFFICULTIES, TEMPOS, Choice, Counts, Picture, counts_of
from fillwright.library.database import FILE_NAME, SCHEMA_VERSION
from fillwright.library.describe import content_of, describe, describe_tune
from fillwright.library.document import (
    added_document,
    added_lines,
    answer_document,
    answer_lines,
    cover_document,
    cover_lines,
    gap_document,
    lacking_lines,
    left_document,
    left_lines,
    like_document,
    like_lines,
    order_document,
    order_lines,
    worked_lines,
)
from fillwright.library.filling import Worked
from fillwright.library.finding import Answer, FoundDevice, FoundGap, find_gaps_in
from fillwright.library.folders import SUFFIXES, Sighting, sheets_below
from fillwright.library.likeness import row_distance
from fillwright.library.model import PLACES, GapFacts, SheetFacts
from fillwright.library.numerals import asked_row, degree_semitones, row_pattern, told
from fillwright.library.parquet import find_in_parquet, load_parquet, write_parquet
from fillwright.library.shelf import Library, lesson_of
from fillwright.library.teaching import (
    Brings,
    Cover,
    Lesson,
    Offered,
    Step,
    order_lessons,
    smallest_cover,
    still_to_teach,
)
from fillwright.library.working import DEPTHS, DeviceOffer, GapWork, Work, work_out

__all__ = ["DEPTHS", "DIFFICULTIES", "FILE_NAME", "PLACES", "SCHEMA_VERSION", "SORTS", "SUFFIXES",
           "TEMPOS", "WAYS", "Added", "Answer", "Brings", "Choice", "Counts", "Cover",
           "DeviceOffer", "FoundDevice", "FoundGap", "GapFacts", "GapWork", "Lesson", "Library",
           "Offered", "Picture", "Question", "SheetFacts", "Sighting", "Step", "Work", "Worked",
           "added_document", "added_lines", "answer_document", "answer_lines", "asked_row",
           "content_of", "counts_of", "cover_document", "cover_lines", "degree_semitones",
           "describe", "describe_tune", "devices_in", "find_gaps_in", "find_in_parquet",
           "gap_document", "lacking_lines", "left_document", "left_lines", "lesson_of",
           "like_document", "like_lines", "load_parquet", "order_document", "order_lessons",
           "order_lines", "row_distance", "row_pattern", "sheets_below", "smallest_cover",
           "span_of", "still_to_teach", "table_names", "told", "work_out", "worked_lines",
           "write_parquet"]
