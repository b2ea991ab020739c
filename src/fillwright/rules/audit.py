"""All rules over one passage: as findings, or as the first reason to refuse it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain

from fillwright.rules.close import CROWDED, HARSH
from fillwright.rules.hands import (
    COUNTS,
    FINGERS,
    HANDS,
    JUMPS,
    RANGE,
    REACH,
    RESTRIKES,
    ROLLS,
)
from fillwright.rules.harmony import AVOID, FOREIGN
from fillwright.rules.melody import COVERED, HEARD_FIRST, LANDING, MELODY, PEDALLED
from fillwright.rules.model import Finding, Passage, Rule
from fillwright.rules.sound import HOLE, MINOR_NINTH, MUD, RUB

__all__ = ["AUDITED", "OF_A_DRAFT", "OF_OWN_NOTES", "RULES", "Audit", "audit", "findings",
           "refusal"]

AUDITED: tuple[Rule, ...] = (
    REACH, FINGERS, COUNTS, ROLLS, JUMPS, HANDS, RESTRIKES, RANGE, MUD, MINOR_NINTH, RUB,
    MELODY, HEARD_FIRST, COVERED, PEDALLED, LANDING, AVOID)
"""The rules of an audit, in the order they are run."""

OF_A_DRAFT: tuple[Rule, ...] = (
    LANDING, HEARD_FIRST, RESTRIKES, AVOID, PEDALLED, COVERED, RUB, MUD, MINOR_NINTH, HANDS,
    RANGE)
"""What is asked of a fill before its fingers are known, cheapest first."""

OF_OWN_NOTES: tuple[Rule, ...] = (*AUDITED, FOREIGN)
"""What is asked of notes that somebody wrote or changed by hand: no search took them from the
chord."""

RULES: tuple[Rule, ...] = (*OF_OWN_NOTES, HOLE, CROWDED, HARSH)
"""All of them; a texture may have its reasons for a hole, a line for close keys."""


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found: findings in the order of `AUDITED`, and how often each rule was
    tried, as (rule's name, count)."""

    findings: tuple[Finding, ...]
    checked: tuple[tuple[str, int], ...]

    @property
    def clean(self) -> bool:
        return not self.findings

    def of(self, rule: str) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.rule == rule)


def findings(passage: Passage, rules: Iterable[Rule] = AUDITED) -> tuple[Finding, ...]:
    """What breaks the rules for which enough is known, rule by rule."""
    return tuple(chain.from_iterable(
        rule.findings(passage) for rule in rules if rule.applies(passage)))


def refusal(passage: Passage, rules: Iterable[Rule] = OF_A_DRAFT) -> Finding | None:
    """The first finding, None where the rules hold."""
    return next((finding for rule in rules if rule.applies(passage)
                 for finding in rule.findings(passage)), None)


def audit(passage: Passage, rules: Iterable[Rule] = AUDITED) -> Audit:
    """Run every rule for which enough is known of a passage."""
    asked = [rule for rule in rules if rule.applies(passage)]
    return Audit(findings(passage, asked),
                 tuple((rule.name, rule.tried(passage)) for rule in asked))
