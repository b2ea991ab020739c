"""The teacher's desk: what a student practises, from one idea up to a whole lesson.

It builds on editions, paper and sound; only the doors build on it.

    plan     a plan of a pack: which gaps of which tunes, how shown, with which words
"""

from __future__ import annotations

from fillwright.lesson.plan import (
    ITEM_KEYS,
    MOST_ITEMS,
    TOP_KEYS,
    Item,
    Plan,
    read_plan,
    read_plan_text,
)

__all__ = ["ITEM_KEYS", "MOST_ITEMS", "TOP_KEYS", "Item", "Plan", "read_plan", "read_plan_text"]
