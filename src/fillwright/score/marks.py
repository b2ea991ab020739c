"""Words and signs around the staves: tempo, sections, gap labels, counts, pedal, dynamics.

A mark is a place, a staff and a MusicXML `<direction>` without its offset.
"""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from fillwright.arranging.articulation import Touch, is_struck_within
from fillwright.arranging.dynamics import LADDER, free_swells, plan_dynamics
from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.fills.tempo import Tempo
from fillwright.score.octaves import octave_lines
from fillwright.score.voices import columns_of
from fillwright.swing import grid_ratio
from fillwright.tune.model import Chorus

__all__ = ["Mark", "marks_of", "swing_ratio", "tempo_words"]

Element = etree._Element

_PACES = {Tempo.BALLAD: "slow", Tempo.SLOW: "medium", Tempo.MEDIUM: "medium", Tempo.FAST: "fast"}


@dataclass(frozen=True, slots=True)
class Mark:
    """A direction at a place of the chorus. `rank` orders marks of one place.

    `closes` is true for the end of a line over the notes before it: on a bar line it
    belongs to the bar that ends there.
    """

    onset_quarter: Fraction
    staff: int
    rank: int
    element: Element
    closes: bool = False


def marks_of(arrangement: Arrangement, touch: Touch, *, dynamics: bool = True,
             counts: bool = True) -> list[Mark]:
    """All marks of an arrangement, by place; dynamics and counts only where they are wanted."""
    chorus = arrangement.chorus
    marks = [Mark(bar.onset_quarter, 1, 0, _rehearsal(bar.section))
             for bar in chorus.bars if bar.section]
    marks.append(Mark(Fraction(0), 1, 1, _tempo(chorus)))
    unfilled = "no fill" if arrangement.fills else ""  # nothing to say of it on a blank page
    for gap in arrangement.gaps:
        fill = arrangement.fill_of(gap.number)
        marks.append(Mark(gap.onset_quarter, 1, 2,
                          _gap_label(gap.number, unfilled if fill is None else fill.device)))
        if fill is None:
            continue
        if counts:
            marks += [Mark(place, 2, 3, _count(word)) for place, word in fill.counted]
        if fill.held_end.by_pedal and gap.held is not None:
            marks += [Mark(gap.onset_quarter, 2, 4, _pedal("start")),
                      Mark(fill.held_end.until_quarter, 2, 2, _pedal("stop"))]
        marks += _shift_marks(fill, gap.end_quarter)
    if dynamics:
        marks += _dynamics(arrangement, touch)
    for start, end in octave_lines(columns_of(arrangement),
                                   {bar.onset_quarter for bar in chorus.bars}):
        marks += [Mark(start, 1, 5, _octave("down")), Mark(end, 1, -1, _octave("stop"), True)]
    return sorted(marks, key=lambda mark: (mark.onset_quarter, mark.staff, mark.rank))


def _shift_marks(fill: Fill, landing: Fraction) -> list[Mark]:
    if fill.shift is None or fill.shift.landing_quarter == landing:
        return []
    late = fill.shift.landing_quarter > landing
    return [Mark(fill.shift.landing_quarter, 1, 2,
                 _words("melody late" if late else "melody early", "above", italic=True))]


def _dynamics(arrangement: Arrangement, touch: Touch) -> list[Mark]:
    """Levels and hairpins where the performance has them; a level that never changes is not
    printed."""
    plan = plan_dynamics(arrangement)
    marks: list[Mark] = []
    if len(plan.levels) > 1:
        marks += [Mark(place, 1, 6, _level(LADDER[step])) for place, step in plan.levels]
    for swell in free_swells(plan, touch):
        marks += [Mark(swell.onset_quarter, 1, 7,
                       _wedge("crescendo" if swell.rises else "diminuendo")),
                  Mark(swell.end_quarter, 1, -2, _wedge("stop"), True)]
    onsets = {note.onset_quarter for note in arrangement.notes}
    for pin in plan.hairpins:
        if not is_struck_within(onsets, pin.onset_quarter, pin.end_quarter):
            continue
        kind = "crescendo" if pin.last > pin.first else "diminuendo"
        marks += [Mark(pin.onset_quarter, 1, 7, _wedge(kind)),
                  Mark(pin.end_quarter, 1, -2, _wedge("stop"), True)]
    return marks


def tempo_words(chorus: Chorus) -> str:
    """The feel in words, by the class of the tempo that the fills are played in (common practice).

    A tempo as slow as a ballad's is called one; three swung beats are a jazz waltz.
    """
    pace = _PACES[Tempo.of_chorus(chorus)]
    three = chorus.meter.beats == 3 and not chorus.meter.is_compound
    if chorus.feel != "swing":
        words = f"{pace} waltz, straight eighths" if three else (
            "ballad, straight eighths" if pace == "slow" else f"{pace}, straight eighths")
    elif three:
        words = f"{pace} jazz waltz"
    else:
        words = "ballad" if pace == "slow" else f"{pace} swing"
    return words.capitalize()


def swing_ratio(chorus: Chorus) -> tuple[int, int] | None:
    """Long to short eighth in lowest terms for `<swing>`; None for straight eighths.

    What the performance plays in the steady hands, rounded to tenths.
    """
    if chorus.feel != "swing":
        return None
    ratio = Fraction(round(10 * grid_ratio(float(chorus.quarters_per_minute))), 10)
    return ratio.numerator, ratio.denominator


# --- elements ---------------------------------------------------------------------------

def _direction(placement: str, staff: int) -> tuple[Element, Element]:
    direction = etree.Element("direction", {"placement": placement})
    kind = etree.SubElement(direction, "direction-type")
    etree.SubElement(direction, "staff").text = str(staff)
    return direction, kind


def _rehearsal(text: str) -> Element:
    direction, kind = _direction("above", 1)
    etree.SubElement(kind, "rehearsal", {"font-weight": "bold",
                                         "enclosure": "square"}).text = text
    return direction


def _words(text: str, placement: str, staff: int = 1, italic: bool = False) -> Element:
    direction, kind = _direction(placement, staff)
    words = etree.SubElement(kind, "words")
    if italic:
        words.set("font-style", "italic")
    words.text = text
    return direction


def _gap_label(number: int, device: str) -> Element:
    direction, kind = _direction("above", 1)
    etree.SubElement(kind, "words", {"font-weight": "bold", "enclosure": "circle",
                                     "font-size": "9"}).text = str(number)
    if device:
        more = etree.Element("direction-type")
        etree.SubElement(more, "words", {"font-style": "italic",
                                         "font-size": "9"}).text = device
        kind.addnext(more)
    return direction


def _count(word: str) -> Element:
    direction, kind = _direction("below", 2)
    etree.SubElement(kind, "words", {"font-style": "italic", "font-size": "9",
                                     "halign": "center"}).text = word
    return direction


def _pedal(action: str) -> Element:
    direction, kind = _direction("below", 2)
    etree.SubElement(kind, "pedal", {"type": action, "line": "no", "sign": "yes"})
    return direction


def _level(name: str) -> Element:
    direction, kind = _direction("below", 1)
    etree.SubElement(etree.SubElement(kind, "dynamics"), name)
    return direction


def _wedge(kind_of: str) -> Element:
    direction, kind = _direction("below", 1)
    etree.SubElement(kind, "wedge", {"type": kind_of})
    return direction


def _octave(action: str) -> Element:
    direction, kind = _direction("above", 1)
    etree.SubElement(kind, "octave-shift", {"type": action, "size": "8"})
    return direction


def _tempo(chorus: Chorus) -> Element:
    direction, kind = _direction("above", 1)
    etree.SubElement(kind, "words", {"font-weight": "bold"}).text = tempo_words(chorus)
    more = etree.Element("direction-type")
    kind.addnext(more)
    metronome = etree.SubElement(more, "metronome", {"parentheses": "no"})
    etree.SubElement(metronome, "beat-unit").text = "quarter"
    if chorus.meter.is_compound:
        etree.SubElement(metronome, "beat-unit-dot")
    etree.SubElement(metronome, "per-minute").text = _number(chorus.tempo_bpm)
    sound = etree.SubElement(direction, "sound",
                             {"tempo": _number(chorus.quarters_per_minute)})
    swing = etree.SubElement(sound, "swing")
    ratio = swing_ratio(chorus)
    if ratio is None or ratio[0] == ratio[1]:
        etree.SubElement(swing, "straight")
    else:
        etree.SubElement(swing, "first").text = str(ratio[0])
        etree.SubElement(swing, "second").text = str(ratio[1])
        etree.SubElement(swing, "swing-type").text = "eighth"
    return direction


def _number(value: Fraction) -> str:
    """A whole number, or at most two decimals."""
    if value.denominator == 1:
        return str(value.numerator)
    return f"{float(value):.2f}".rstrip("0").rstrip(".")
