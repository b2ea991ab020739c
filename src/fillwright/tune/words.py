"""Words printed on a sheet: tempo, feel, and the signs of the form.

What a tempo word is worth in beats a minute is common practice; a metronome mark or a
`<sound tempo>` always wins over a word.
"""

from __future__ import annotations

import re
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.tune.model import Meter

__all__ = ["DEFAULT_TEMPO_BPM", "FASTEST_BPM", "SLOWEST_BPM", "FormWord", "default_tempo",
           "feel_word", "form_word", "tempo_number", "tempo_word"]

SLOWEST_BPM, FASTEST_BPM = 20, 480
"""A number outside of them is no tempo of a tune."""

# Felt beats a minute where a sheet says nothing; the felt beat is the quarter in x/4 and
# x/2, the dotted quarter in compound meters. Common practice.
DEFAULT_TEMPO_BPM: MappingProxyType[str, int] = MappingProxyType({
    "4/4": 132, "2/2": 176, "4/2": 176, "3/4": 150, "2/4": 120, "5/4": 150, "6/4": 150,
    "6/8": 84, "9/8": 84, "12/8": 66, "3/8": 60, "compound": 76, "other": 132,
})

# Tried in this order, so that "medium up" is not "medium". Common practice.
_TEMPO_WORDS: tuple[tuple[str, int], ...] = (
    (r"very\s+slow", 54), (r"slow\s+ballad", 58), (r"medium\s+ballad", 76), (r"ballad", 66),
    (r"med(?:ium|\.)?[\s-]+slow", 100), (r"slow(?:ly)?", 80), (r"med(?:ium|\.)?[\s-]+up", 180),
    (r"med(?:ium|\.)?[\s-]+fast", 176), (r"very\s+fast", 260), (r"bright(?:ly)?", 190),
    (r"up[\s-]?tempo", 220), (r"fast", 220), (r"^up$|\bup\s+swing", 220),
    (r"bossa(?:\s*nova)?", 136), (r"samba", 200), (r"med(?:ium|\.)?", 132),
    (r"moderate(?:ly)?|moderato", 112), (r"largo|lento", 56), (r"adagio", 66),
    (r"andante", 84), (r"allegretto", 116), (r"allegro", 138), (r"vivace", 168),
    (r"presto", 184),
)
_TEMPO = tuple((re.compile(rf"(?:{pattern})" if "^" in pattern else rf"\b(?:{pattern})\b"), bpm)
               for pattern, bpm in _TEMPO_WORDS)
_STRAIGHT = re.compile(r"\b(?:straight|even|bossa|latin|samba|rock|funk|tango|mambo|rumba|"
                       r"calypso|beguine|cha[\s-]?cha|bolero)\b")
_SWING = re.compile(r"\b(?:swing|swings|swung|shuffle)\b")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def default_tempo(meter: Meter) -> Fraction:
    """Felt beats a minute for a meter."""
    name = str(meter)
    if name not in DEFAULT_TEMPO_BPM:
        name = "compound" if meter.is_compound else "other"
    return Fraction(DEFAULT_TEMPO_BPM[name])


def tempo_word(text: str) -> Fraction | None:
    """Felt beats a minute for words such as ``"Medium Swing"``; None if they name none.

    >>> tempo_word("Slow Ballad"), tempo_word("with feeling")
    (Fraction(58, 1), None)
    """
    lowered = text.lower().strip()
    for pattern, bpm in _TEMPO:
        if pattern.search(lowered):
            return Fraction(bpm)
    return None


def tempo_number(text: str | None) -> Fraction | None:
    """The first number in text such as ``"c. 120"`` or ``"120-132"``."""
    match = _NUMBER.search((text or "")[:60])
    if match is None or len(match[0]) > 12:
        return None
    return Fraction(match[0]).limit_denominator(100)


def feel_word(text: str) -> str | None:
    """``"swing"`` or ``"straight"`` where words say so.

    >>> feel_word("Medium Swing"), feel_word("Bossa Nova"), feel_word("Slowly")
    ('swing', 'straight', None)
    """
    lowered = text.lower()
    if _STRAIGHT.search(lowered):
        return "straight"
    return "swing" if _SWING.search(lowered) else None


class FormWord:
    """Names of what words can say about the order of bars. A sign alone may be the place to
    leave for the coda or the coda itself."""

    DA_CAPO = "da capo"
    DAL_SEGNO = "dal segno"
    AL_FINE = "al fine"
    AL_CODA = "al coda"
    FINE = "fine"
    TO_CODA = "to coda"
    TO = "to"
    CODA = "coda"
    CODA_SIGN = "coda sign"
    SEGNO = "segno"


_COMPACT = re.compile(r"[\s.,:;()'\"*_–-]+")
_JUMP = re.compile(r"(?:dc|dacapo|ds|dalsegno|d𝄋|dal𝄋)(?P<rest>.*)")


def form_word(text: str) -> tuple[str, ...]:
    """What words say about the form, () for nothing.

    >>> form_word("D.S. al Coda"), form_word("To Coda"), form_word("Fine"), form_word("dolce")
    (('dal segno', 'al coda'), ('to coda',), ('fine',), ())
    """
    if len(text) > 60:
        return ()
    compact = _COMPACT.sub("", text.lower()).replace("⊕", "𝄌").replace("ø", "𝄌")
    if not compact:
        return ()
    jump = _JUMP.fullmatch(compact)
    if jump is not None:
        rest = jump["rest"]
        first = FormWord.DAL_SEGNO if compact[1] == "s" or "segno" in compact[:8] \
            or "𝄋" in compact[:4] else FormWord.DA_CAPO
        if "coda" in rest or "𝄌" in rest:
            return first, FormWord.AL_CODA
        if "fine" in rest or rest in ("alfin", "alend", "totheend", "toend"):
            return first, FormWord.AL_FINE
        if not rest or rest.startswith(("al", "to", "sin", "e", "w", "no", "senza", "time")):
            return (first,)
        return ()
    if compact in ("fine", "fin", "fine𝄐"):
        return (FormWord.FINE,)
    if compact in ("alfine",):
        return (FormWord.AL_FINE,)
    if compact in ("to", "tothe", "to𝄌", "tocoda", "tothecoda", "tocoda𝄌", "to𝄌coda",
                   "allacoda", "alcoda", "alcoda𝄌", "dacoda", "tothe𝄌"):
        return (FormWord.TO,) if compact in ("to", "tothe") else (FormWord.TO_CODA,)
    if compact in ("coda", "coda𝄌", "𝄌coda", "thecoda"):
        return (FormWord.CODA,)
    if compact == "𝄌":
        return (FormWord.CODA_SIGN,)
    if compact in ("segno", "𝄋", "segno𝄋", "𝄋segno"):
        return (FormWord.SEGNO,)
    return ()
