"""What the program chose for the gaps a teacher has not decided, as JSON.

When one gap is decided the others are to stay as they were heard, so their choice is a decision
too: the program's, kept until the teacher asks it to choose anew or changes what it was made for.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fillwright.arranging.model import Chosen
from fillwright.errors import InputError
from fillwright.exact import Fraction

__all__ = ["FILL_ID", "MAX_GAPS", "read_rest", "rest_value"]

FILL_ID = re.compile(r"[\w.,:#()+~-]{1,160}")
MAX_GAPS = 2000
_PLACE = re.compile(r"\d{1,6}(/[1-9]\d{0,3})?")


def rest_value(rest: Chosen) -> dict[str, Any]:
    """As JSON."""
    return {"fills": {str(gap): fill for gap, fill in rest.fills},
            "fuller": None if rest.fuller_quarter is None else str(rest.fuller_quarter),
            "strained": rest.strained}


def read_rest(value: Any) -> Chosen | None:
    """Checked; None where nothing is kept. Raises InputError."""
    if value is None:
        return None
    if not isinstance(value, Mapping):
        raise InputError("what the program keeps is an object")
    fills, fuller, strained = value.get("fills"), value.get("fuller"), value.get("strained", False)
    if not isinstance(fills, Mapping) or len(fills) > MAX_GAPS:
        raise InputError("what the program keeps has fills")
    found = []
    for gap, fill in fills.items():
        if not isinstance(gap, str) or re.fullmatch(r"[1-9]\d{0,4}", gap) is None or (
                not isinstance(fill, str) or FILL_ID.fullmatch(fill) is None):
            raise InputError("what the program keeps is a fill for the number of a gap")
        found.append((int(gap), fill))
    if fuller is not None and (not isinstance(fuller, str) or _PLACE.fullmatch(fuller) is None):
        raise InputError("where a chorus gets fuller is a place in quarters")
    if not isinstance(strained, bool):
        raise InputError("strained is true or false")
    return Chosen(tuple(sorted(found)), None if fuller is None else Fraction(fuller), strained)
