"""Small MusicXML sheets written inline."""

from __future__ import annotations

from fillwright import Chorus, Tune, unfold
from fillwright.tune import read_bytes

DIVISIONS = 4
"""Duration units in a quarter note, unless a sheet says otherwise."""


def note(pitch: str, duration: float | None, *inside: str, tie: str = "", attributes: str = ""
         ) -> str:
    """A note such as ``note("Bb4", 8)``, or a rest for ``"r"``; `inside` goes before the
    duration if it is `<chord/>`, `<grace/>` or `<cue/>`, else behind it."""
    before = "".join(x for x in inside if x in ("<chord/>", "<grace/>", "<cue/>"))
    after = "".join(x for x in inside if x not in ("<chord/>", "<grace/>", "<cue/>"))
    if pitch == "r":
        what = "<rest/>"
    else:
        step, octave = pitch[0], pitch[-1]
        alter = pitch[1:-1].count("#") - pitch[1:-1].count("b")
        what = (f"<pitch><step>{step}</step>" + (f"<alter>{alter}</alter>" if alter else "")
                + f"<octave>{octave}</octave></pitch>")
    length = "" if duration is None else f"<duration>{duration}</duration>"
    ties = "".join(f'<tie type="{kind}"/>' for kind in tie.split())
    return f"<note {attributes}>{before}{what}{length}{ties}{after}</note>"


def notes(text: str) -> str:
    """Notes from ``"C4:4 r:4 D4:8"``, durations in units of `DIVISIONS`."""
    return "".join(note(pitch, int(length)) for pitch, length in
                   (word.split(":") for word in text.split()))


def chord(root: str, kind: str = "major", *inside: str, text: str | None = None,
          offset: int | None = None, attributes: str = "", root_text: str | None = None) -> str:
    """A `<harmony>`; root such as ``"Bb"``; `inside` holds bass and degrees."""
    alter = root[1:].count("#") - root[1:].count("b")
    shown = "" if text is None else f' text="{text}"'
    hidden = "" if root_text is None else f' text="{root_text}"'
    place = "" if offset is None else f"<offset>{offset}</offset>"
    return (f"<harmony {attributes}><root><root-step{hidden}>{root[0]}</root-step>"
            + (f"<root-alter>{alter}</root-alter>" if alter else "")
            + f"</root><kind{shown}>{kind}</kind>{''.join(inside)}{place}</harmony>")


def degree(value: int, alter: int, action: str, attributes: str = "") -> str:
    return (f"<degree {attributes}><degree-value>{value}</degree-value><degree-alter>{alter}"
            f"</degree-alter><degree-type>{action}</degree-type></degree>")


def bass(name: str) -> str:
    alter = name[1:].count("#") - name[1:].count("b")
    return (f"<bass><bass-step>{name[0]}</bass-step>"
            + (f"<bass-alter>{alter}</bass-alter>" if alter else "") + "</bass>")


def backup(duration: int) -> str:
    return f"<backup><duration>{duration}</duration></backup>"


def forward(duration: int) -> str:
    return f"<forward><duration>{duration}</duration></forward>"


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def sign(tag: str) -> str:
    return f"<direction><direction-type><{tag}/></direction-type></direction>"


def sound(attributes: str) -> str:
    return f"<sound {attributes}/>"


def attributes(*, divisions: int | None = DIVISIONS, time: str | None = "4/4",
               fifths: int | None = 0, mode: str | None = "major", more: str = "") -> str:
    parts = "" if divisions is None else f"<divisions>{divisions}</divisions>"
    if fifths is not None:
        inner = "" if mode is None else f"<mode>{mode}</mode>"
        parts += f"<key><fifths>{fifths}</fifths>{inner}</key>"
    if time is not None:
        beats, kind = time.split("/")
        parts += f"<time><beats>{beats}</beats><beat-type>{kind}</beat-type></time>"
    return f"<attributes>{parts}{more}</attributes>"


def barline(*, repeat: str = "", times: int | None = None, ending: str = "", kind: str = "",
            location: str = "right", style: str = "") -> str:
    inside = f"<bar-style>{style}</bar-style>" if style else ""
    if ending:
        inside += f'<ending number="{ending}" type="{kind}"/>'
    if repeat:
        number = "" if times is None else f' times="{times}"'
        inside += f'<repeat direction="{repeat}"{number}/>'
    return f'<barline location="{location}">{inside}</barline>'


def part(bars: list[str], *, name: str = "P1", first: str | None = None,
         bar_attributes: dict[int, str] | None = None) -> str:
    """A part; the first bar gets `first` (the usual attributes) in front."""
    start = attributes() if first is None else first
    extra = bar_attributes or {}
    return f'<part id="{name}">' + "".join(
        f'<measure number="{number}" {extra.get(number, "")}>'
        f"{start if number == 1 else ''}{bar}</measure>"
        for number, bar in enumerate(bars, 1)) + "</part>"


def score(*parts: str, head: str = "", names: tuple[str, ...] = ()) -> bytes:
    """A whole `score-partwise`."""
    listed = "".join(
        f'<score-part id="P{number}"><part-name>'
        f"{names[number - 1] if number <= len(names) else 'Melody'}</part-name></score-part>"
        for number in range(1, len(parts) + 1))
    return (f'<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">{head}'
            f"<part-list>{listed}</part-list>{''.join(parts)}</score-partwise>").encode()


def sheet(bars: list[str], **options: object) -> bytes:
    """A sheet of one part."""
    return score(part(bars, **options))  # type: ignore[arg-type]


def read(data: bytes, name: str = "sheet.musicxml", **options: str) -> Tune:
    return read_bytes(data, name, **options)  # type: ignore[arg-type]


def read_bars(bars: list[str], **options: object) -> Tune:
    return read(sheet(bars, **options))


def play(bars: list[str], **options: object) -> Chorus:
    return unfold(read_bars(bars, **options))


def order(chorus: Chorus) -> str:
    """Bar numbers in the order they are played: ``"1 2 1 2"``."""
    return " ".join(bar.number for bar in chorus.bars)


def melody(chorus: Chorus) -> str:
    """``"C4@0+4 D4@4+2"``: pitch, onset and duration of each melody note, in quarters."""
    return " ".join(f"{n.pitch}@{n.onset_quarter}+{n.duration_quarter}" for n in chorus.melody)


def line(tune: Tune, bar: int = 0) -> str:
    """The notes of a printed bar, as in `melody`."""
    return " ".join(f"{n.pitch}@{n.onset_quarter}+{n.duration_quarter}"
                    for n in tune.bars[bar].notes)


def symbols(tune: Tune, bar: int = 0) -> str:
    """The chords of a printed bar: ``"C@0 G7@2"``."""
    return " ".join(f"{c.symbol}@{c.onset_quarter}" for c in tune.bars[bar].chords)


def spans(chorus: Chorus) -> str:
    return " ".join(f"{s.symbol}@{s.onset_quarter}+{s.duration_quarter}" for s in chorus.chords)
