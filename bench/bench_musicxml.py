"""What other programs remark on when they read our MusicXML: music21, partitura, verovio.

The demo tunes at three levels; with sheets as arguments, each of them too, at one level after
the other. A remark of partitura that it would make on any file of the kind is counted apart
(`tests.score.remarks` names the threads).

    python -m bench.bench_musicxml [SHEET ...]
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from tests.score.remarks import is_of_the_reader, remarks

from fillwright import Options, arrange, read_tune
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.score import to_musicxml

LEVELS = ("beginner", "intermediate", "advanced")


def main() -> None:
    wanted = [(demo_path(name), level) for name in DEMO_TUNES for level in LEVELS]
    wanted += [(Path(name), LEVELS[place % 3]) for place, name in enumerate(sys.argv[1:])]
    ours, theirs = Counter[tuple[str, str]](), Counter[str]()
    for path, level in wanted:
        data = to_musicxml(arrange(read_tune(path), Options(level=level)))
        for reader, remark in remarks(data):
            if is_of_the_reader(reader, remark):
                theirs[reader] += 1
            else:
                ours[reader, remark] += 1
        print(f"{path.stem:16} {level:13} {ours.total():4} remarks so far", flush=True)
    print(f"{len(wanted)} arrangements: {ours.total()} remarks on the files, {dict(theirs)} that "
          "the reader makes on any file")
    for (reader, remark), count in ours.most_common():
        print(f"  {count:4} {reader}: {remark}")


if __name__ == "__main__":
    main()
