"""Reading and unfolding a sheet against the bare lxml parse of the same bytes, in one run.

The sheets are those of music21's corpus that carry chord symbols. A sheet is read again and
again, and the fastest of several rounds counts on either side; between rounds everything the
package remembers is forgotten ("cold"), or not ("warm", as within one run over many sheets).

    python -m bench.bench_reading
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from functools import _lru_cache_wrapper
from pathlib import Path
from statistics import median
from time import process_time

import music21
from lxml import etree

from fillwright.tune import read_bytes, unfold
from fillwright.tune.container import unpack

ROUNDS = 25
TARGET = 5.0
LEAD_FOLDERS = ("leadSheet", "demos")
CORPUS = Path(str(music21.__file__)).parent / "corpus"


def sheets() -> list[tuple[str, str, bytes]]:
    """Name, folder and unpacked bytes of the corpus files with chord symbols."""
    found = []
    for path in sorted(CORPUS.rglob("*")):
        if path.suffix == ".mxl":
            data = unpack(path.read_bytes())
        elif path.suffix in (".xml", ".musicxml"):
            data = path.read_bytes()
        else:
            continue
        if b"<harmony" in data:
            found.append((path.stem, path.parent.name, data))
    return found


def memory() -> list[_lru_cache_wrapper[object]]:
    """Every cache of the package."""
    return [thing for thing in gc.get_objects() if isinstance(thing, _lru_cache_wrapper)
            and (getattr(thing, "__module__", "") or "").startswith("fillwright.")]


def fastest(action: Callable[[], object], before: Callable[[], None] = lambda: None) -> float:
    times = []
    for _ in range(ROUNDS):
        before()
        start = process_time()
        action()
        times.append(process_time() - start)
    return min(times)


def main() -> None:
    ratios: dict[str, list[float]] = {"cold": [], "warm": []}
    print(f"{'sheet':36} {'parse ms':>9} {'cold':>7} {'warm':>7}")
    everything = sheets()
    unfold(read_bytes(everything[0][2], "x.musicxml"))
    caches = memory()

    def forget() -> None:
        for cache in caches:
            cache.cache_clear()

    for name, _, data in everything:
        def read(data: bytes = data) -> object:
            return unfold(read_bytes(data, "sheet.musicxml"))

        def parse(data: bytes = data) -> object:
            return etree.fromstring(data)

        parsing = fastest(parse)
        cold, warm = fastest(read, forget) / parsing, fastest(read) / parsing
        ratios["cold"].append(cold)
        ratios["warm"].append(warm)
        print(f"{name[:36]:36} {1000 * parsing:9.2f} {cold:7.1f} {warm:7.1f}")
    for state, values in ratios.items():
        lead = [ratio for (_, name, _), ratio in zip(everything, values, strict=True)
                if name in LEAD_FOLDERS]
        print(f"reading and unfolding, {state}: {median(values):.1f} times the bare parse "
              f"(median of {len(values)} sheets, {median(lead):.1f} of the {len(lead)} with one "
              f"or two parts; target below {TARGET:g})")


if __name__ == "__main__":
    main()
