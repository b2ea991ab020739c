"""The teacher's desk: what a student practises, from one idea up to a whole lesson.

It builds on editions, paper and sound; only the doors build on it.

    plan     a plan of a pack: which gaps of which tunes, how shown, with which words
    task     an item of it worked out: its fill, and the bars around it as they are handed out
    staff    those bars engraved
    paper    the pack and its answers as PDF (`pack.typ` sets them)
    takehome the student's page (`page` is what stands in it), with `recording` for its sound and
             `typefaces` for its fonts
    pack     all of it, as files
    sets     graded sets: plans found by computing
    saying   what is printed, in its languages (`words`)
    study        the rungs of a ladder (`fills.ladder`) on paper and in sound
    rounds       through the keys; carried: a fill in another one; strung: pieces in a row
    drills       what would have worked in each gap; drill_paper: printed; choices: what was
                 answered, and where choosing is slow
    from_take    how a gap of a take went, as a rating; take_paper: a take printed
    students     who practises, and what; class_book: kept in a file; practice: what today
    documents, telling   all of it as JSON and as text

Names are imported on first use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwright.lazy import on_first_use

if TYPE_CHECKING:
    from fillwright.fills.ladder.rungs import Ladder, Missing, Rung, ladder
    from fillwright.lesson.choices import (
        Choice,
        choice_of,
        choices_played,
        kind_of,
        noted,
        slow_kinds,
    )
    from fillwright.lesson.class_book import ClassBook
    from fillwright.lesson.drills import Drill, DrillGap, drill, drill_of
    from fillwright.lesson.from_take import (
        TakeRating,
        devices_heard,
        rating_of,
        rating_of_device,
    )
    from fillwright.lesson.pack import PACK_FILES, pack_files, pack_warnings
    from fillwright.lesson.plan import (
        ITEM_KEYS,
        MOST_ITEMS,
        SHOWS,
        TOP_KEYS,
        Item,
        PackPlan,
        plan_of,
        read_plan,
        read_plan_text,
    )
    from fillwright.lesson.practice import Share, mixed_day, rated
    from fillwright.lesson.rounds import InKey, Round, keys_named, round_of_keys
    from fillwright.lesson.saying import messages
    from fillwright.lesson.sets import Found, Search, plan_text
    from fillwright.lesson.students import Student, item_of, student_of
    from fillwright.lesson.take_paper import take_pdf
    from fillwright.lesson.task import GapTask, Tunes, sheet_of, tasks_of

__all__ = ["ITEM_KEYS", "MOST_ITEMS", "PACK_FILES", "SHOWS", "TOP_KEYS", "Choice", "ClassBook",
           "Drill", "DrillGap", "Found", "GapTask", "InKey", "Item", "Ladder", "Missing",
           "PackPlan", "Round", "Rung", "Search", "Share", "Student", "TakeRating", "Tunes",
           "choice_of", "choices_played", "devices_heard", "drill", "drill_of", "item_of",
           "keys_named", "kind_of", "ladder", "messages", "mixed_day", "noted", "pack_files",
           "pack_warnings", "plan_of", "plan_text", "rated", "rating_of", "rating_of_device",
           "read_plan", "read_plan_text", "round_of_keys", "sheet_of", "slow_kinds", "student_of",
           "take_pdf", "tasks_of"]

__getattr__ = on_first_use(__name__, {
    "fills.ladder.rungs": ("Ladder", "Missing", "Rung", "ladder"),
    "lesson.choices": ("Choice", "choice_of", "choices_played", "kind_of", "noted",
                       "slow_kinds"),
    "lesson.class_book": ("ClassBook",),
    "lesson.drills": ("Drill", "DrillGap", "drill", "drill_of"),
    "lesson.from_take": ("TakeRating", "devices_heard", "rating_of", "rating_of_device"),
    "lesson.pack": ("PACK_FILES", "pack_files", "pack_warnings"),
    "lesson.plan": ("ITEM_KEYS", "MOST_ITEMS", "SHOWS", "TOP_KEYS", "Item", "PackPlan",
                    "plan_of", "read_plan", "read_plan_text"),
    "lesson.practice": ("Share", "mixed_day", "rated"),
    "lesson.rounds": ("InKey", "Round", "keys_named", "round_of_keys"),
    "lesson.saying": ("messages",),
    "lesson.sets": ("Found", "Search", "plan_text"),
    "lesson.students": ("Student", "item_of", "student_of"),
    "lesson.take_paper": ("take_pdf",),
    "lesson.task": ("GapTask", "Tunes", "sheet_of", "tasks_of"),
})
