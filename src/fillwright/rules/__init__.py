"""One object a rule: what it asks, why, and one predicate for every use.

A rule's `breaks` says whether keys break it; its `cost` counts by how much, for a search that
would rather not; its `findings` name every place where a passage breaks it, for a draft that
is refused and for an audit from outside. So a search, a refusal and an audit cannot disagree.
"""

from fillwright.rules.audit import AUDITED, RULES, Audit, audit, findings, refusal
from fillwright.rules.model import FillSpan, Finding, MelodySpan, Passage, Rule

__all__ = ["AUDITED", "RULES", "Audit", "Finding", "MelodySpan", "Passage", "FillSpan", "Rule",
           "audit", "findings", "refusal"]
