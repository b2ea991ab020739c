"""The licences of everything that is installed with fillwright, from the packages' own words.

    python tools/licences.py            what the program needs
    python tools/licences.py dev        with the extra `dev` (any extra of pyproject.toml)

Prints package, version, licence and size on disk, what was found in nobody's words as "?",
and the sum. Exit status 1 where a licence is missing.
"""

from __future__ import annotations

import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = "fillwright"


def needed(extras: frozenset[str]) -> dict[str, Distribution]:
    """The installed packages that the root needs, itself left out, by name."""
    found: dict[str, Distribution] = {}
    waiting = [(ROOT, extras)]
    seen = set()
    while waiting:
        name, wanted = waiting.pop()
        key = re.sub(r"[-_.]+", "-", name).lower()
        if (key, wanted) in seen:
            continue
        seen.add((key, wanted))
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue  # for another system or Python
        found[key] = package
        for text in package.requires or ():
            asked = Requirement(text)
            if asked.marker is None or any(asked.marker.evaluate({"extra": extra})
                                           for extra in (*wanted, "")):
                waiting.append((asked.name, frozenset(asked.extras)))
    found.pop(ROOT, None)
    return dict(sorted(found.items()))


def licence(package: Distribution) -> str:
    """The expression of the metadata, else its classifiers, else the first line of its text."""
    data = package.metadata
    for named in data.get_all("License-Expression") or ():
        return str(named)
    classes = [line.rsplit(" :: ", 1)[1] for line in data.get_all("Classifier") or ()
               if line.startswith("License :: ") and line.count(" :: ") > 1]
    if classes:
        return " / ".join(classes)
    text = "".join(data.get_all("License") or ()).strip().splitlines()
    return text[0][:60] if text and text[0] else "?"


def size_bytes(package: Distribution) -> int:
    paths = [Path(str(package.locate_file(file))) for file in package.files or ()]
    return sum(path.stat().st_size for path in paths if path.is_file())


def main() -> int:
    packages = needed(frozenset(sys.argv[1:]))
    rows = [(name, package.version, licence(package), size_bytes(package))
            for name, package in packages.items()]
    width = max(len(name) for name, *_ in rows)
    for name, version, words, size in rows:
        print(f"{name:{width}}  {version:14} {size / 1e6:7.1f} MB  {words}")
    print(f"{len(rows)} packages, {sum(row[3] for row in rows) / 1e6:.0f} MB")
    unknown = [name for name, _, words, _ in rows if words == "?"]
    if unknown:
        print(f"no licence named: {', '.join(unknown)}", file=sys.stderr)
    return 1 if unknown else 0


if __name__ == "__main__":
    sys.exit(main())
