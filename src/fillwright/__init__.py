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
from typing import TYPE_CHECKING, Any

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

_HOME = {
    "Answer": "library.finding",
    "Arrangement": "arranging.model",
    "ChordSymbol": "theory.chord",
    "Chorus": "tune.model",
    "Edition": "edition.model",
    "Fill": "fills.model",
    "Gap": "tune.model",
    "GapFacts": "library.model",
    "HandNote": "hands.model",
    "InputError": "errors",
    "Key": "theory.key",
    "Library": "library.shelf",
    "Options": "arranging.model",
    "Performance": "sound.model",
    "Pitch": "theory.pitch",
    "Proposal": "fills.model",
    "Question": "library.asking",
    "Report": "take.report",
    "SheetFacts": "library.model",
    "Take": "take.model",
    "Tune": "tune.model",
    "arrange": "arranging.build",
    "check_take": "take.check",
    "describe": "library.describe",
    "drill": "lesson.drills",
    "engrave": "score",
    "find_gaps": "tune.gaps",
    "ladder": "fills.ladder.rungs",
    "open_edition": "edition.file",
    "perform": "sound.perform",
    "play": "display",
    "propose": "fills.propose",
    "read_take": "take.read",
    "read_tune": "tune.read",
    "round_of_keys": "lesson.rounds",
    "show": "display",
    "unfold": "tune.form",
}
"""Where each public name lives."""


display_with(lambda: import_module("fillwright.display"))


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
