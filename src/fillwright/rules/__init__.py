"""One object a rule: what it asks, why, and one predicate for every use.

A rule's `breaks` says whether two keys break it, its `among` whether any of several do, for a
search that has to keep it; where a little of it is only unwelcome (`MUD`), its `cost` counts by
how much. Its `findings` name every place where a passage breaks it, for a draft that is refused
and for an audit from outside. So a search, a refusal and an audit cannot disagree.
"""

from fillwright.rules.audit import AUDITED, OF_OWN_NOTES, RULES, Audit, audit, findings, refusal
from fillwright.rules.chords import Chords, HeardChord, flat_nine_homes
from fillwright.rules.close import CROWDED, HARSH
from fillwright.rules.hands import COUNTS, FINGERS, HANDS, JUMPS, RANGE, REACH, RESTRIKES, ROLLS
from fillwright.rules.harmony import AVOID, FOREIGN
from fillwright.rules.melody import COVERED, HEARD_FIRST, LANDING, MELODY, PEDALLED
from fillwright.rules.model import FillSpan, Finding, MelodySpan, Passage, Rule
from fillwright.rules.sound import HOLE, MINOR_NINTH, MUD, RUB

__all__ = ["AUDITED", "AVOID", "COUNTS", "COVERED", "CROWDED", "FINGERS", "FOREIGN", "HANDS",
           "HARSH", "HEARD_FIRST", "HOLE", "JUMPS", "LANDING", "MELODY", "MINOR_NINTH", "MUD",
           "OF_OWN_NOTES", "PEDALLED", "RANGE", "REACH", "RESTRIKES", "ROLLS", "RUB", "RULES",
           "Audit", "Chords", "FillSpan", "Finding", "HeardChord", "MelodySpan", "Passage", "Rule",
           "audit", "findings", "flat_nine_homes", "refusal"]
