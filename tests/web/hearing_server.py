"""``fillwright serve`` with an ear of the tests' own.

    python -m tests.web.hearing_server DATA RATE
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.take.coded import open_tone_ear_44100, open_tone_ear_48000

import fillwright.web.app
import fillwright.web.serve


def main() -> None:
    def ready(address: str, phrase: str | None) -> None:
        print(f"fillwright is open at {address}", flush=True)

    data, rate = sys.argv[1:]
    fillwright.web.app.open_piano_ear = {  # type: ignore[assignment, attr-defined]
        "44100": open_tone_ear_44100, "48000": open_tone_ear_48000}[rate]
    fillwright.web.serve.serve("127.0.0.1", 0, Path(data), ready)


if __name__ == "__main__":
    main()
