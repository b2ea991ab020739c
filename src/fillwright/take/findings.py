"""What there is to work on in a gap: the rules of the house, asked of what was really played,
and what only playing can show (a landing, a held note, a pedal, a harmony that is not told)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from fillwright.arranging.from_paper import bar_and_beat
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules import RULES, MelodySpan, Passage, findings
from fillwright.rules.chords import Chords
from fillwright.take.heard import HeardRun
from fillwright.take.model import PEDAL_DOWN, Take
from fillwright.take.report import GapHeard, TakeFinding
from fillwright.take.roles import GapStrokes
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import ChordSpan, Chorus

__all__ = ["BRIEF_SEC", "Asked", "findings_of"]

BRIEF_SEC = 0.25            # a held note that sounds for less is hardly heard (common practice)
_ASKED = ("mud", "minor ninths", "rubs")
_BLUR_SEC = 0.3             # so long may the pedal be late at a change (common practice)
_MOST_OF_A_RULE = 2


@dataclass(frozen=True, slots=True)
class Asked:
    """Where it was played."""

    take: Take
    chorus: Chorus
    run: HeardRun
    hand: str


def findings_of(one: GapStrokes, heard: GapHeard, is_ours: bool, asked: Asked
                ) -> tuple[TakeFinding, ...]:
    """Everything found in one gap, in the order of the score.

    is_ours   a fill of the program was played as it is: of its notes nothing is to be said
    """
    found = [*_landing(one, heard, asked), *_held(one, heard, asked), *_pedal(one, asked)]
    if heard.answer != "open" and not is_ours:
        found += _rules(one, heard, asked)
        if heard.answer in ("comp", "line") and one.gap.landing is not None:
            found += _told(one, asked)
    if heard.answer == "reharm":
        found += _arrived(one, asked)
    return tuple(sorted(found, key=lambda finding: (finding.onset_quarter, finding.rule)))


def _place(quarter: Fraction, chorus: Chorus) -> str:
    bar, beat = bar_and_beat(chorus.bars, quarter)
    times = "" if bar.pass_number == 1 else f" (time {bar.pass_number})"
    signs = {Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼",
             Fraction(3, 4): "¾"}
    whole, rest = divmod(beat, 1)
    return f"Bar {bar.number}{times}, beat {whole}{signs.get(rest, '')}"


def _landing(one: GapStrokes, heard: GapHeard, asked: Asked) -> Iterator[TakeFinding]:
    late = heard.back_late_sec
    if one.gap.landing is None:
        return
    quarter = one.gap.landing.onset_quarter
    if late is None and _came_by(quarter, asked):
        yield TakeFinding("landing", quarter, f"{_place(quarter, asked.chorus)}: the landing on "
                          f"{one.gap.landing.pitch} is not heard: hear it inwardly while the note "
                          "before it is held, and play it on its beat.")
    if late is None or not heard.is_off:
        return
    way = "late" if late > 0 else "early"
    remedy = ("stop the fill a stroke sooner and let the hand wait over the landing" if late > 0
              else "count the last beat aloud and wait for it")
    yield TakeFinding("landing", quarter, f"{_place(quarter, asked.chorus)}: the landing on "
                      f"{one.gap.landing.pitch} comes {heard.amount_words} {way}: {remedy}.")


def _came_by(quarter: Fraction, asked: Asked) -> bool:
    """Whether the run went as far as the melody note there."""
    return any(asked.chorus.melody[match.note].onset_quarter == quarter
               for match in asked.run.matches)


def _held(one: GapStrokes, heard: GapHeard, asked: Asked) -> Iterator[TakeFinding]:
    if one.gap.held is None:
        return
    quarter = one.gap.onset_quarter
    if heard.melody_heard_sec is None:
        yield TakeFinding("held note", quarter, f"{_place(quarter, asked.chorus)}: the melody's "
                          f"{one.gap.held.pitch} is not heard; it opens the gap: play it, then "
                          "answer it.")
    elif heard.melody_heard_sec < BRIEF_SEC and heard.answer != "open":
        yield TakeFinding("held note", quarter, f"{_place(quarter, asked.chorus)}: the melody's "
                          f"{one.gap.held.pitch} is hardly heard: "
                          "let it be heard before the hand leaves it.")


def _pedal(one: GapStrokes, asked: Asked) -> Iterator[TakeFinding]:
    """A pedal that stays down through a change of harmony, over strokes that came before it."""
    pedal = asked.take.pedal
    if not pedal:
        return
    for before, span in pairwise(one.gap.chords):
        own = set(span.symbol.pitch_classes)
        if before.symbol == span.symbol or not own:
            continue
        change = asked.run.beat.sec(float(span.onset_quarter))
        lifted = any(move.value < PEDAL_DOWN and change - _BLUR_SEC < move.onset_sec
                     < change + _BLUR_SEC for move in pedal)
        blurred = [stroke for stroke in one.strokes
                   if stroke.onset_sec < change - 0.1 and stroke.release_sec < change
                   and stroke.until_sec > change + _BLUR_SEC and stroke.midi % 12 not in own]
        if asked.take.pedal_at(change) >= PEDAL_DOWN and not lifted and blurred:
            quarter = span.onset_quarter
            yield TakeFinding("pedal", quarter, f"{_place(quarter, asked.chorus)}: the pedal holds "
                              f"{before.symbol.pretty} into {span.symbol.pretty}: change it with "
                              "the chord.")


def _rules(one: GapStrokes, heard: GapHeard, asked: Asked) -> Iterator[TakeFinding]:
    """The rules of what sounds well, asked of the notes that were played."""
    chorus, gap = asked.chorus, one.gap
    melody: list[MelodySpan] = []
    own = list(heard.notes)
    if gap.held is not None and one.held is not None and heard.held_until_quarter is not None:
        until = heard.held_until_quarter
        melody.append(MelodySpan(gap.onset_quarter, until, one.held.midi))
        own.append(HandNote(gap.onset_quarter, until - gap.onset_quarter, gap.held.pitch, "right",
                            None, "melody"))
    asked_rules = [rule for rule in RULES if rule.name in _ASKED
                   and not (heard.answer == "reharm" and rule.name == "minor ninths")]
    passage = Passage(tuple(sorted(own, key=lambda note: (note.onset_quarter, note.midi))),
                      asked.hand, chorus.seconds_per_quarter, Chords.of(gap.chords),
                      tuple(melody), beat_quarter=chorus.meter.beat_quarter, whole=False)
    said: dict[str, int] = {}
    words = {rule.name: (rule.why, rule.remedy) for rule in asked_rules}
    for finding in findings(passage, asked_rules):
        said[finding.rule] = said.get(finding.rule, 0) + 1
        if said[finding.rule] <= _MOST_OF_A_RULE:
            why, remedy = words[finding.rule]
            yield TakeFinding(finding.rule, finding.onset_quarter,
                              f"{_place(finding.onset_quarter, chorus)}: {finding.message}; {why}: "
                              f"{remedy}.")


def _told(one: GapStrokes, asked: Asked) -> Iterator[TakeFinding]:
    """The third and the seventh (or sixth) of each chord that lasts are heard in the gap."""
    gap = one.gap
    for span, harmony in zip(gap.chords, gap.harmonies, strict=True):
        beat = asked.chorus.bar_at(span.onset_quarter).meter.beat_quarter
        if harmony is None or span.duration_quarter < 2 * beat:
            continue
        missing = _untold(one, span, harmony, asked)
        if missing:
            names = " and ".join(missing)
            yield TakeFinding("third and seventh", span.onset_quarter,
                              f"{_place(span.onset_quarter, asked.chorus)}: {names} of "
                              f"{span.symbol.pretty} {'is' if len(missing) == 1 else 'are'} not "
                              "heard; without it the ear cannot tell the chord's kind: put "
                              f"{'it' if len(missing) == 1 else 'them'} into the left hand.")


def _untold(one: GapStrokes, span: ChordSpan, harmony: Harmony, asked: Asked) -> list[str]:
    start, end = (asked.run.beat.sec(float(place))
                  for place in (span.onset_quarter, span.end_quarter))
    sounding = [stroke for stroke in (*one.strokes, *(() if one.held is None else (one.held,)))
                if stroke.onset_sec < end - 0.05 and stroke.until_sec > start + 0.05]
    classes = {stroke.midi % 12 for stroke in sounding}
    root = harmony.root.pitch_class
    by_degree = {degree: (root + degree_pitch_class(degree)) % 12
                 for degree in span.symbol.degrees}
    names = {"3": "the third", "b3": "the third", "4": "the fourth", "7": "the seventh",
             "b7": "the seventh", "bb7": "the seventh"}
    return [names[degree] for degree, pc in by_degree.items()
            if degree in names and pc not in classes]


def _arrived(one: GapStrokes, asked: Asked) -> Iterator[TakeFinding]:
    """After other chords the landing's own chord is heard: a tone of it lies lowest there."""
    gap = one.gap
    if one.landing is None or gap.landing_chord is None or gap.landing is None:
        return
    beat_sec = asked.run.beat.quarter_sec(float(gap.end_quarter)) * asked.run.beat.step_quarter
    near = [stroke for stroke in asked.take.strokes[asked.run.run.first:asked.run.run.last]
            if one.until_sec - 0.6 * beat_sec < stroke.onset_sec < one.until_sec + 1.2 * beat_sec
            and stroke.midi < one.landing.midi]
    own = set(gap.landing_chord.pitch_classes)
    if not own or any(stroke.midi % 12 in own for stroke in near):
        return
    quarter = gap.landing.onset_quarter
    yield TakeFinding("arrival", quarter,
                      f"{_place(quarter, asked.chorus)}: the walk does not arrive "
                      f"on {gap.landing_chord.pretty}: strike its root or its third with the "
                      "landing.")
