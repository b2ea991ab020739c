"""The engraver's process: JSON requests on standard input, the pages on standard output."""

from __future__ import annotations

import json
import sys
from typing import Any

from fillwright.score.embed import embed_fonts
from fillwright.score.engraver import Copy, Engraving, EngravingError, PageStyle, engrave_copy
from fillwright.score.mei import Heading


def main() -> int:
    try:
        done = [_engraved(request) for request in json.load(sys.stdin)]
    except EngravingError as error:
        print(error, file=sys.stderr)
        return 1
    json.dump([{"pages": embed_fonts(one.pages), "timemap": one.timemap} for one in done],
              sys.stdout)
    return 0


def _engraved(request: dict[str, Any]) -> Engraving:
    heading = None if request["heading"] is None else Heading(**request["heading"])
    return engrave_copy(Copy(request["view"].encode("utf-8"), heading,
                             PageStyle(**request["style"]), request["seed"],
                             tuple(request["foot"]), request["hands"]))


if __name__ == "__main__":
    sys.exit(main())
