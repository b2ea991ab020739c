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
"""

from __future__ import annotations

from fillwright.lesson.pack import PACK_FILES, pack_files
from fillwright.lesson.plan import (
    ITEM_KEYS,
    MOST_ITEMS,
    SHOWS,
    TOP_KEYS,
    Item,
    Plan,
    read_plan,
    read_plan_text,
)
from fillwright.lesson.saying import messages
from fillwright.lesson.sets import Found, Search, plan_text
from fillwright.lesson.task import Task, sheet_of, tasks_of

__all__ = ["ITEM_KEYS", "MOST_ITEMS", "PACK_FILES", "SHOWS", "TOP_KEYS", "Found", "Item", "Plan",
           "Search", "Task", "messages", "pack_files", "plan_text", "read_plan",
           "read_plan_text", "sheet_of", "tasks_of"]
