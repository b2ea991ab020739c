"""The command that opens the page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.shared import (
    fail,
)
from fillwright.errors import InputError

if TYPE_CHECKING:
    pass

__all__ = ["serve"]


def serve(port: Annotated[int, typer.Option(
              "--port", min=0, max=65535, help="0: any free one.")] = 8808,
          host: Annotated[str, typer.Option(
              "--host", metavar="ADDRESS", help="Where to listen: 0.0.0.0 for other devices in "
              "the house, such as a tablet at the piano. They are asked for a pass phrase.")
          ] = "127.0.0.1",
          name: Annotated[list[str] | None, typer.Option(
              "--name", metavar="NAME", help="What this computer is called as well; may be given "
              "several times.", show_default=False)] = None,
          soundfont: Annotated[Path | None, typer.Option(
              "--soundfont", metavar="PATH", exists=True, dir_okay=False, help="The piano of the "
              "page and of its files: a SoundFont (.sf2). Default: the one that comes along.",
              show_default=False)] = None,
          data: Annotated[Path | None, typer.Option(
              "--data", metavar="DIR", help="Where tunes and choices are kept. Default: the "
              "user's data folder.", show_default=False)] = None) -> None:
    """Open the page: a working place in the browser, on this computer unless --host is given."""
    from fillwright.web.serve import data_folder, serve

    def ready(address: str, phrase: str | None) -> None:
        lines = [f"fillwright is open at {address}"]
        if phrase is not None:
            lines += [f"Pass phrase: {phrase}",
                      "Whoever reaches this address and has the phrase can read and change the "
                      "tunes; what is sent is not encrypted."]
        print("\n".join([*lines, "Stop it with Ctrl-C."]), flush=True)

    try:
        serve(host, port, data or data_folder(), ready, name or (), soundfont)
    except InputError as error:
        fail(error.source, error.message)
