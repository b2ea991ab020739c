"""The engraver's process: a JSON request on standard input, the pages on standard output."""

from __future__ import annotations

import json
import sys

from fillwright.score.engraver import EngravingError, PageStyle, engrave_here
from fillwright.score.mei import Heading


def main() -> int:
    request = json.load(sys.stdin)
    heading = None if request["heading"] is None else Heading(**request["heading"])
    try:
        done = engrave_here(request["view"].encode("utf-8"), heading,
                            PageStyle(**request["style"]), request["seed"],
                            request["foot"])
    except EngravingError as error:
        print(error, file=sys.stderr)
        return 1
    json.dump({"pages": done.pages, "timemap": done.timemap}, sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main())
