"""One object a rule: what it asks, why, and one predicate for every use.

A rule's `breaks` says whether two keys break it, its `among` whether any of several do, for a
search that has to keep it; where a little of it is only unwelcome (`MUD`), its `cost` counts by
how much. Its `findings` name every place where a passage breaks it, for a draft that is refused
and for an audit from outside. So a search, a refusal and an audit cannot disagree.
"""

from fillwright.rules.audit import AUDITED, RULES, Audit, audit, findings, refusal
from fillwright.rules.model import FillSpan, Finding, MelodySpan, Passage, Rule

__all__ = ["AUDITED", "RULES", "Audit", "Finding", "MelodySpan", "Passage", "FillSpan", "Rule",
           "audit", "findings", "refusal"]
