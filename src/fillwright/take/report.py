"""What was heard of a take, as values: the form, the melody, each stroke, each gap."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.take.model import Take
from fillwright.tune.model import Chorus, Gap

__all__ = ["CLEAR_BALANCE", "FormRun", "GapHeard", "NoteHeard", "Report", "Swing", "TakeFinding"]

_LAID_BACK_SEC = 0.05       # of a landing: still in time; steady, it is "laid back"
_LATE_BEATS = 0.12          # at slow tempos, parts of a beat tell more (common practice)
CLEAR_BALANCE = 3.0         # of velocity: so far above the rest a melody is heard to lead
_AMOUNTS = ((0.19, "a touch"), (0.37, "about a quarter of a beat"), (0.62, "about half a beat"),
            (0.87, "most of a beat"), (1.25, "about a beat"))
"""What a part of a beat is called, and up to where (design choice: halfway to the next, about)."""
_MORE = "more than a beat"
_STEADY = 0.03              # of the tempo: less of a change is not noticed (tapping to a pulse)


@dataclass(frozen=True, slots=True)
class FormRun:
    """A stretch of the chorus that was played through without a jump."""

    from_quarter: Fraction
    to_quarter: Fraction
    from_sec: float
    to_sec: float


@dataclass(frozen=True, slots=True)
class NoteHeard:
    """What became of a written melody note in a run.

    status       "played", "wrong" or "missed"
    reached      whether the run came by it at all
    played_sec   when it was struck; None where it is missed
    late_sec     against the student's own beat, negative is early; None where it is missed
    octave       whole octaves from the written key
    event        place of its stroke in the take
    """

    run: int
    note: int
    status: str
    reached: bool
    played_sec: float | None = None
    late_sec: float | None = None
    octave: int = 0
    event: int | None = None


@dataclass(frozen=True, slots=True)
class TakeFinding:
    """Something to work on: the rule, where, and one sentence."""

    rule: str
    onset_quarter: Fraction
    sentence: str


@dataclass(frozen=True, slots=True)
class GapHeard:
    """What was done in a gap, each time it was come by.

    answer             "open", "comp", "reharm" or "line"
    device, fill       name and id of the nearest offer; None where there is none
    attacks            how often something was struck after the onset
    melody_heard_sec   how long the held note sounded; None where it was not played
    back_late_sec      how late the landing was, negative is early; None where it has none or
                       was not played
    back_late_beats    the same in felt beats
    notes              what was struck, on the beats that can be counted; () where it was left open
    is_asked           whether an answer is asked for: not where the chorus that was played from
                       leaves the gap open
    held_until_quarter until where the held note's key was down or it was pedalled; None where it
                       was not played
    """

    run: int
    gap: Gap
    answer: str
    attacks: int
    device: str | None = None
    fill: str | None = None
    melody_heard_sec: float | None = None
    back_late_sec: float | None = None
    back_late_beats: float | None = None
    findings: tuple[TakeFinding, ...] = ()
    notes: tuple[HandNote, ...] = ()
    held_until_quarter: Fraction | None = None
    is_asked: bool = True

    @property
    def amount(self) -> int:
        """How far off its landing came, as a step of a scale from a touch to more than a beat."""
        beats = abs(self.back_late_beats or 0.0)
        return sum(beats > most for most, _ in _AMOUNTS)

    @property
    def amount_words(self) -> str:
        """The same as one says it."""
        return (*(words for _, words in _AMOUNTS), _MORE)[self.amount]

    @property
    def is_off(self) -> bool:
        """Whether the landing came late or early, so that it is heard."""
        return (self.back_late_sec is not None and abs(self.back_late_sec) > _LAID_BACK_SEC
                and (self.back_late_beats is None or abs(self.back_late_beats) > _LATE_BEATS))


@dataclass(frozen=True, slots=True)
class Swing:
    """How long the first of two eighths is against the second: the median of `pairs`, and what
    is usual at that tempo."""

    ratio: float
    pairs: int
    usual: tuple[float, float]

    @property
    def against_usual(self) -> str:
        """"straighter", "usual" or "harder"."""
        low, high = self.usual
        return "straighter" if self.ratio < low else "harder" if self.ratio > high else "usual"


@dataclass(frozen=True, slots=True)
class Report:
    """All that was heard.

    tempo_mean     felt beats a minute, where it was played
    tempo_curve    (place, felt beats a minute), in order of time
    melody         each written note in each run
    roles          per stroke: "melody", "accompaniment", "fill" or "slip"
    stroke_gaps    per stroke: the gap whose fill it belongs to, else None
    balance        mean velocity of melody minus accompaniment; None where one is missing
    summary        three sentences: what went well, what to work on, how
    """

    take: Take
    chorus: Chorus
    tempo_mean: float
    tempo_curve: tuple[tuple[Fraction, float], ...]
    form: tuple[FormRun, ...]
    melody: tuple[NoteHeard, ...]
    roles: tuple[str, ...]
    stroke_gaps: tuple[int | None, ...]
    gaps: tuple[GapHeard, ...]
    swing: Swing | None
    balance: float | None
    summary: tuple[str, ...]
    warnings: tuple[str, ...] = ()

    @property
    def is_steady(self) -> bool:
        """Whether the tempo moved by no more than can be noticed."""
        tempos = [tempo for _, tempo in self.tempo_curve]
        return not tempos or max(tempos) - min(tempos) < _STEADY * self.tempo_mean

    def __repr__(self) -> str:
        played = sum(note.status == "played" for note in self.melody)
        return (f"<Report on {self.take.name!r}: {len(self.form)} "
                f"{'run' if len(self.form) == 1 else 'runs'}, {played} melody notes heard, "
                f"{self.tempo_mean:.0f} beats a minute>")
