"""Fills the places where a melody holds still: solo jazz piano from lead sheets.

The pipeline is a row of functions over immutable values:

    read_tune   a lead sheet file -> Tune
    unfold      Tune -> Chorus, repeats and endings played out
    find_gaps   Chorus -> the places where the melody holds
    propose     Chorus and gaps -> Proposal, the options for each gap
    arrange     Tune and Options -> Arrangement, one chorus for two hands
    Edition     a sheet with everything a teacher decided about it; open_edition reads one
    ladder      Fill -> Ladder, the same idea from its own level down to a beginner's
    drill       Tune -> Drill, for each gap what would work and why
    round_of_keys  Tune -> Round, a fill, a phrase or a chorus through several keys
    engrave     Arrangement -> MusicXML, SVG, PDF
    perform     Arrangement -> Performance, in seconds
    describe    the bytes of a sheet -> SheetFacts, what its gaps have for a teacher
    read_take   a Standard MIDI File -> Take, what a student played
    check_take  Take and Tune -> Report, what a teacher would say of it
    Library     many tunes and their gaps; asked a Question, it gives an Answer
    show, play  any of these as a picture or as sound, in a notebook

Names are imported on first use, so that ``import fillwright`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from fillwright.lazy import on_first_use
from fillwright.shown import display_with

if TYPE_CHECKING:
    from fillwright.arranging.build import arrange
    from fillwright.arranging.model import Arrangement, Options
    from fillwright.display import play, show
    from fillwright.edition.file import open_edition
    from fillwright.edition.model import Edition
    from fillwright.errors import InputError
    from fillwright.fills.ladder.rungs import ladder
    from fillwright.fills.model import Fill, Proposal
    from fillwright.fills.propose import propose
    from fillwright.hands.model import HandNote
    from fillwright.lesson.drills import drill
    from fillwright.lesson.rounds import round_of_keys
    from fillwright.library.asking import Question
    from fillwright.library.describe import describe
    from fillwright.library.finding import Answer
    from fillwright.library.model import GapFacts, SheetFacts
    from fillwright.library.shelf import Library
    from fillwright.score import engrave
    from fillwright.sound.model import Performance
    from fillwright.sound.perform import perform
    from fillwright.take.check import check_take
    from fillwright.take.model import Take
    from fillwright.take.read import read_take
    from fillwright.take.report import Report
    from fillwright.theory.chord import ChordSymbol
    from fillwright.theory.key import Key
    from fillwright.theory.pitch import Pitch
    from fillwright.tune.form import unfold
    from fillwright.tune.gaps import find_gaps
    from fillwright.tune.model import Chorus, Gap, Tune
    from fillwright.tune.read import read_tune

__version__ = "0.1.0"

__all__ = ["Answer", "Arrangement", "ChordSymbol", "Chorus", "Edition", "Fill", "Gap", "GapFacts",
           "HandNote", "InputError", "Key", "Library", "Options", "Performance", "Pitch",
           "Proposal", "Question", "Report", "SheetFacts", "Take", "Tune", "arrange", "check_take",
           "describe", "drill", "engrave", "find_gaps", "ladder", "open_edition", "perform",
           "play", "propose", "read_take", "read_tune", "round_of_keys", "show", "unfold"]

display_with(lambda: import_module("fillwright.display"))

__getattr__ = on_first_use(__name__, {
    "arranging.build": ("arrange",),
    "arranging.model": ("Arrangement", "Options"),
    "display": ("play", "show"),
    "edition.file": ("open_edition",),
    "edition.model": ("Edition",),
    "errors": ("InputError",),
    "fills.ladder.rungs": ("ladder",),
    "fills.model": ("Fill", "Proposal"),
    "fills.propose": ("propose",),
    "hands.model": ("HandNote",),
    "lesson.drills": ("drill",),
    "lesson.rounds": ("round_of_keys",),
    "library.asking": ("Question",),
    "library.describe": ("describe",),
    "library.finding": ("Answer",),
    "library.model": ("GapFacts", "SheetFacts"),
    "library.shelf": ("Library",),
    "score": ("engrave",),
    "sound.model": ("Performance",),
    "sound.perform": ("perform",),
    "take.check": ("check_take",),
    "take.model": ("Take",),
    "take.read": ("read_take",),
    "take.report": ("Report",),
    "theory.chord": ("ChordSymbol",),
    "theory.key": ("Key",),
    "theory.pitch": ("Pitch",),
    "tune.form": ("unfold",),
    "tune.gaps": ("find_gaps",),
    "tune.model": ("Chorus", "Gap", "Tune"),
    "tune.read": ("read_tune",),
})


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
