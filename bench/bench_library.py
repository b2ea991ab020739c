"""The library: what a sheet costs, and how long a question takes at a hundred thousand gaps.

Sheets are made by transposing and splicing the demo tunes, and those of a folder if one is given.
Questions are put to a shelf on which worked-out sheets are laid again and again until it has
100,000 gaps; their times are ratios to reading one number of every gap of the same file
(`SELECT sum(seconds) FROM gaps`), in the same run, the fastest of several rounds on either side.
Processor time counts, but where several processes work: there it is the clock.

    python -m bench.bench_library [FOLDER]
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import perf_counter, process_time

from bench.made_sheets import patterns, write_sheets

from fillwright import Library, Question
from fillwright.library import find_gaps_in

SHEETS, WORKED, GAPS, ROUNDS, TARGET_MS = 60, 12, 100_000, 7, 50
LEVEL = "intermediate"

QUESTIONS = {
    "nothing asked": Question(),
    "beats 3..": Question(beats=(3.0, None)),
    "over IIm7 V7": Question(over="IIm7 V7"),
    "over II V, beats 3.., tempo ..140": Question(over="II V", beats=(3.0, None),
                                                  tempo=(None, 140.0)),
    "holding 5, key F": Question(holding="5", key="F"),
    "title": Question(title="made 11"),
    "device": Question(device="secondary dominant"),
    "device, difficulty ..20, holding 3": Question(device="secondary dominant", holding="3",
                                                   max_difficulty=20),
    "family line, the best first": Question(family="line", sort="best"),
    "difficulty ..15": Question(max_difficulty=15),
    "rare device, over V7": Question(device="tritone substitute", over="V7"),
    "where a device may be used": Question(device="secondary dominant", may=True),
    "all at once": Question(beats=(3.0, None), over="IIm7 V7", holding="5", level=LEVEL,
                            device="tritone substitute", max_difficulty=30, tempo=(None, 140.0)),
}


def fastest_ms(action: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = process_time()
        action()
        times.append(process_time() - start)
    return 1000 * min(times)


def laid_again(connection: sqlite3.Connection, wanted: int) -> int:
    """The worked-out sheets of a shelf, again and again with other contents; returns the gaps."""
    row = connection.execute
    [(sheets, gaps)] = row("SELECT max(sheets.id), max(gaps.id) FROM sheets, gaps").fetchall()
    count = row("SELECT count(*) FROM gaps").fetchone()[0]
    row("BEGIN")
    for time in range(1, wanted // count + 1):
        s, g = time * sheets, time * gaps
        row("INSERT INTO sheets SELECT id + ?, content || ?, fingerprint || ?, description, 1, "
            "title, folded, key, tonic, mode, meter, bars, tempo + ?, marked, feel FROM sheets "
            "WHERE id <= ?", (s, time, time, time % 60, sheets))
        row("INSERT INTO files SELECT path || ?, number, bytes, changed_ns, digest, description, "
            "sheet + ?, refused FROM files WHERE sheet <= ?", (str(time), s, sheets))
        row("INSERT INTO gaps SELECT id + ?, sheet + ?, beats, seconds, row, into_row, semitones, "
            "key_semitones, landing, place, number, alike, time, held FROM gaps WHERE id <= ?",
            (g, s, gaps))
        row("INSERT INTO told SELECT gap + ?, bar, pass, beat, beats, why, chords, functions, "
            "degree, held, section FROM told WHERE gap <= ?", (g, gaps))
        row("INSERT INTO worked SELECT player, sheet + ?, depth, program, failed FROM worked WHERE "
            "sheet <= ?", (s, sheets))
        row("INSERT INTO offers SELECT player, device, (difficulty * 7 + ?) % 60, gap + ?, rank "
            "FROM offers WHERE gap <= ?", (time, g, gaps))
        row("INSERT INTO may SELECT player, gap + ?, m0, m1, m2, m3 FROM may WHERE gap <= ?",
            (g, gaps))
        row("INSERT INTO ease SELECT player, family, (difficulty * 7 + ?) % 60, gap + ?, ideas "
            "FROM ease WHERE gap <= ?", (time, g, gaps))
    row("COMMIT")
    row("ANALYZE")
    return int(row("SELECT count(*) FROM gaps").fetchone()[0])


def costs(folder: Path, sheets: Path) -> None:
    """What describing costs a sheet."""
    for processes in (1, 2):
        with Library(folder / f"{processes}.sqlite3") as shelf:
            start, used = perf_counter(), process_time()
            shelf.add([sheets], processes=processes)
            took, used = perf_counter() - start, process_time() - used
            print(f"described by {processes}: {SHEETS / took:.0f} sheets a second"
                  + (f", {1000 * used / SHEETS:.1f} ms of processor time a sheet"
                     if processes == 1 else ""))


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    tunes = patterns(folder)
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        write_sheets(place / "sheets", SHEETS, tunes)
        costs(place, place / "sheets")
        write_sheets(place / "few", WORKED, tunes)
        with Library(place / "few.sqlite3") as shelf:
            shelf.add([place / "few"])
            for depth in ("may", "offered"):
                used = process_time()
                shelf.work_out(LEVEL, depth=depth)
                used = (process_time() - used) / WORKED
                print(f"devices, {depth}: {used:.2f} s of processor time a sheet (500 sheets by "
                      f"2 processors: {250 * used:.0f} s)")
            ask(shelf)


def ask(shelf: Library) -> None:
    connection = shelf.connection
    gaps = laid_again(connection, GAPS)
    size = connection.execute("SELECT page_count * page_size FROM pragma_page_count, "
                              "pragma_page_size").fetchone()[0]
    print(f"{gaps} gaps, {size / 2 ** 20:.0f} MB, {size / gaps:.0f} bytes a gap")
    reference = fastest_ms(lambda: connection.execute(
        "SELECT sum(seconds) FROM gaps").fetchall())
    print(f"one number of every gap: {reference:.1f} ms, the reference")
    for name, question in QUESTIONS.items():
        took = fastest_ms(partial(find_gaps_in, connection, question))
        total = find_gaps_in(connection, question).total
        late = "" if took <= TARGET_MS else f"   more than {TARGET_MS} ms"
        print(f"{name:36} {took / reference:6.2f} times  {took:7.1f} ms  {total:6} gaps{late}")


if __name__ == "__main__":
    main()
