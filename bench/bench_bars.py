"""How reading, unfolding and finding gaps grow with the bars of a sheet, in one run.

A sheet of 16, 160 and 1,600 printed bars, repeated, so 32, 320 and 3,200 played ones: each
bar with a held note and two chords. Linear growth prints about 1 in the last column.

    python -m bench.bench_bars
"""

from __future__ import annotations

import gc
from time import process_time

from fillwright.tune import find_gaps, read_bytes, unfold

PRINTED = (16, 160, 1600)
ROUNDS = 3
CHORDS = (("C", "major-seventh"), ("A", "minor-seventh"), ("D", "minor-seventh"),
          ("G", "dominant"))


def sheet(bars: int) -> bytes:
    """Bars of 4/4 in C: a quarter note and a dotted half, a chord under each."""
    parts = ['<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>x'
             '</part-name></score-part></part-list><part id="P1">']
    for number in range(bars):
        parts.append(f'<measure number="{number + 1}">')
        if not number:
            parts.append("<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time>"
                         "<beats>4</beats><beat-type>4</beat-type></time></attributes>")
        for place, length in enumerate((1, 3)):
            root, kind = CHORDS[(2 * number + place) % len(CHORDS)]
            parts.append(f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>"
                         f"</harmony><note><pitch><step>{'EGAB'[number % 4]}</step><octave>"
                         f"{4 + place}</octave></pitch><duration>{length}</duration></note>")
        if number == bars - 1:
            parts.append('<barline location="right"><repeat direction="backward"/></barline>')
        parts.append("</measure>")
    parts.append("</part></score-partwise>")
    return "".join(parts).encode()


def seconds(data: bytes) -> tuple[float, float, int, int]:
    """Reading and unfolding, finding gaps; bars and gaps found."""
    best = [float("inf"), float("inf")]
    for _ in range(ROUNDS):
        gc.collect()
        start = process_time()
        chorus = unfold(read_bytes(data, "bars.musicxml"))
        middle = process_time()
        gaps = find_gaps(chorus)
        best = [min(best[0], middle - start), min(best[1], process_time() - middle)]
    return best[0], best[1], len(chorus.bars), len(gaps)


def main() -> None:
    seconds(sheet(4))
    print(f"{'bars':>6} {'gaps':>6} {'reading ms':>11} {'gaps ms':>9} {'a bar, against 32':>18}")
    first = 0.0
    for printed in PRINTED:
        reading, finding, bars, gaps = seconds(sheet(printed))
        a_bar = (reading + finding) / bars
        first = first or a_bar
        print(f"{bars:6} {gaps:6} {1000 * reading:11.1f} {1000 * finding:9.1f} "
              f"{a_bar / first:18.2f}")


if __name__ == "__main__":
    main()
