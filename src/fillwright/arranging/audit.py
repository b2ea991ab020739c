"""What the rules of the hands say of a whole arrangement, ours or one brought in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.arranging.from_paper import ReadArrangement
from fillwright.arranging.model import Arrangement
from fillwright.hands.checks import RULES, Audit, Finding, MelodySpan, audit, moments
from fillwright.hands.chords import finger_chord, finger_rolled
from fillwright.hands.model import HandNote
from fillwright.hands.reach import MAX_NOTES, rolled_span_ok, span_ok

__all__ = ["ADVICE", "MEANING", "audit_arrangement", "audit_read", "explain"]

MEANING: Mapping[str, str] = {
    "reach": "all keys a hand holds lie within its reach",
    "fingers": "one key a finger, fingers in order, each pair within its span",
    "counts": "no hand holds more than five keys",
    "rolls": "rolled chords are whole, few, and have the time",
    "jumps": "each hand gets to its next stroke in time",
    "hands": "the hands neither cross nor share a key",
    "restrikes": "no key is struck while the same hand holds it",
    "range": "every key is on the piano",
    "mud": "no close intervals low down",
    "minor ninths": "no minor ninth but a dominant's flat nine over its root",
    "rubs": "nothing rubs the melody while it sounds",
    "melody": "every melody note is struck, heard and on top",
}
"""What each rule asks."""

ADVICE: Mapping[str, tuple[str, str]] = {
    "reach": ("a key out of reach is missed, or strains the hand",
              "roll it or leave out a note (a stretch that hurts is rolled or left out, never "
              "forced)"),
    "fingers": ("the hand would have to twist, or a finger be in two places",
                "take other fingers, roll it or leave out a note"),
    "counts": ("a hand has five fingers", "leave out a doubled note, or let go of one earlier"),
    "rolls": ("a roll takes about six hundredths of a second a note, and loses its effect as a "
              "habit", "roll the whole chord and give it time, or leave out a note and strike "
              "it at once"),
    "jumps": ("the hand comes late, or hits a wrong key in haste",
              "leave out the note before, let go earlier, or move one of the two nearer"),
    "hands": ("one hand is in the other's way", "give the key to one hand, or move one hand an "
              "octave"),
    "restrikes": ("a key that is down cannot be struck",
                  "let go before, or hold it and do not strike again"),
    "range": ("there is no such key", "move it by octaves"),
    "mud": ("close low sounds are heard as noise", "open it to a fifth, a seventh or a tenth, "
            "or move it up an octave"),
    "minor ninths": ("it is the harshest interval of a voicing and hides the chord",
                     "turn it round into a major seventh, or leave out one of the two"),
    "rubs": ("the ear takes it for a wrong melody note", "leave out the note, move it by a "
             "step, or let go before the melody comes"),
    "melody": ("what is heard on top is taken for the tune", "keep the melody on top, and hold "
               "it until it is heard"),
}
"""For each rule why it matters and what to do (common practice)."""


def audit_arrangement(arrangement: Arrangement) -> Audit:
    """Run every check of `fillwright.hands.checks` over both hands.

    The melody note of a filled gap sounds as long as its fill says, every other one as long
    as its key is held.
    """
    chorus = arrangement.chorus
    until = {arrangement.gaps[f.gap - 1].onset_quarter: f.melody_until_quarter
             for f in arrangement.fills}
    sounding = [MelodySpan(n.onset_quarter, until.get(n.onset_quarter, n.end_quarter), n.midi)
                for n in arrangement.notes if n.role == "melody"]
    melody = [(n.onset_quarter, n.end_quarter, n.midi) for n in arrangement.notes
              if n.role == "melody"]
    return audit(arrangement.notes, size=arrangement.options.hand,
                 seconds_per_quarter=chorus.seconds_per_quarter, melody=melody,
                 sounding=sounding, chords=arrangement.chords)


def audit_read(read: ReadArrangement, size: str, tempo: Fraction | None = None) -> Audit:
    """Run the checks over an arrangement read from a score.

    size    hand size
    tempo   felt beats a minute, as in `ReadArrangement.tempo_bpm`; None: as the score says

    The rule "melody" is not run: it compares with a tune, and a score alone has none. The top
    line stands for the melody in the rule "rubs". Where fingers are not printed, the rule
    "fingers" asks whether any would do.
    """
    found = audit(read.notes, size=size, chords=read.chords,
                  seconds_per_quarter=read.seconds_at(tempo or read.tempo_bpm))
    told = {finding.onset_quarter for finding in found.of("fingers")}
    findings = [*found.findings, *(finding for finding in _without_fingers(read.notes, size)
                                   if finding.onset_quarter not in told)]
    findings.sort(key=lambda finding: RULES.index(finding.rule))
    return replace(found, findings=tuple(findings))


def _without_fingers(notes: Sequence[HandNote], size: str) -> Iterator[Finding]:
    """Keys held together that lie within the reach but that no choice of fingers takes."""
    for moment in moments(notes):
        for hand in ("left", "right"):
            struck, down = moment.of(hand)
            keys = tuple(sorted({note.midi for note in down}))
            if not struck or len(keys) > MAX_NOTES or all(note.finger for note in down):
                continue
            rolled = any(note.rolled for note in struck)
            if not (rolled_span_ok if rolled else span_ok)(keys[0], keys[-1], size):
                continue  # a finding of its own
            printed = {note.midi: note.finger for note in down if note.finger is not None}
            if (finger_rolled if rolled else finger_chord)(keys, hand, size, printed) is None:
                names = " ".join(str(note.pitch) for note in down)
                yield Finding("fingers", moment.onset_quarter,
                              f"{hand} hand has no fingers that take {names} together", keys)


def explain(audit: Audit, place_of: Callable[[Fraction], str]) -> list[str]:
    """One sentence for each finding, in the order of the score: where, what, why it matters
    and what to do about it.

    place_of   words for a place in quarter notes, such as "bar 3, beat 2"
    """
    ordered = sorted(audit.findings, key=lambda f: (f.onset_quarter, RULES.index(f.rule)))
    sentences = []
    for finding in ordered:
        why, remedy = ADVICE[finding.rule]
        place = place_of(finding.onset_quarter)
        sentences.append(f"{place[:1].upper()}{place[1:]}: {finding.message}; {why}: {remedy}.")
    return sentences
