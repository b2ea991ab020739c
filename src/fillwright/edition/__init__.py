"""A teacher's edition of a tune: the sheet, and everything that was decided about it.

    model       Edition: a sheet with settings, corrected chords, choices, own notes, open gaps
    decisions   what was decided, as JSON
    picks       a choice for a gap, as JSON
    own         a choice with the user's own notes in it, and what the rules say of it
    typed       notes typed as text, as a choice
    rest        what the program chose and keeps, as JSON
    corrections a chord symbol at all the places where it stands
    desk        the edition at work: gaps, options, the chorus
    why_not     what stands against own notes, and the smallest change that mends them
    choices     more than a fill for a gap: keep the rest, another one, the same everywhere
    file        an edition as one JSON file (docs/json.md)

From Python, on the command line and on the page the same edition gives the same arrangement.
"""

from fillwright.edition.decisions import Decisions
from fillwright.edition.desk import desk_with
from fillwright.edition.own import edited, findings_of, own_fill, own_pick
from fillwright.edition.picks import Pick, read_pick
from fillwright.edition.typed import typed_pick
from fillwright.edition.why_not import WhyNot, why_not

__all__ = ["Decisions", "Pick", "WhyNot", "desk_with", "edited", "findings_of", "own_fill",
           "own_pick", "read_pick", "typed_pick", "why_not"]
