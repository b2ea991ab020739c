"""Running the page: ``fillwright serve``."""

from __future__ import annotations

import logging
import os
import socket
import sys
from collections.abc import Callable, Collection
from pathlib import Path

from fillwright.errors import InputError
from fillwright.web.door import Door
from fillwright.web.machine import address_to_type, is_loopback, names_of_machine
from fillwright.web.trouble import StoreTrouble

__all__ = ["data_folder", "serve"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


def data_folder() -> Path:
    """Where tunes and choices are kept: the user's data folder of this system."""
    from platformdirs import user_data_path

    return user_data_path("fillwright", appauthor=False)


def serve(host: str, port: int, folder: Path, ready: Callable[[str, str | None], None],
          names: Collection[str] = (), soundfont: Path | None = None) -> None:
    """Answer requests until interrupted.

    port    0 for any free one
    ready   called once requests are answered, with the address to type, and the pass phrase
            where others than this computer can reach it
    names   what this computer is called as well
    soundfont  the piano that plays until another is chosen; None for the one that was last

    Raises InputError where the port is taken, the folder or the SoundFont cannot be used.
    """
    import uvicorn

    from fillwright.web.app import create_app

    if soundfont is not None:
        soundfont = _checked_soundfont(soundfont.resolve())
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise InputError(f"cannot listen there: {error.strerror or error}",
                         f"{host}:{port}") from error
    port = listener.getsockname()[1]
    shown = address_to_type(host)
    try:
        door = None if is_loopback(host) else Door(folder)
        app, service = create_app(folder, _hosts(host, port, names),
                                  workers=max(2, min(4, os.cpu_count() or 1)), door=door,
                                  soundfont=soundfont)
    except (OSError, StoreTrouble) as error:
        listener.close()
        raise InputError(f"cannot be used: {getattr(error, 'strerror', None) or error}",
                         str(folder)) from error
    for sentence in service.store.said:
        print(sentence, file=sys.stderr, flush=True)

    from fillwright.web.connections import Connection

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            ready(f"http://{shown}:{port}/", None if door is None else door.phrase)

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            await service.close()  # requests and jobs that wait for work end now
            await super().shutdown(sockets)

    logging.getLogger("uvicorn").setLevel(logging.CRITICAL)  # it speaks of itself
    config = uvicorn.Config(app, http=Connection, ws="none", log_config=None, access_log=False,
                            server_header=False, date_header=False, timeout_keep_alive=20,
                            timeout_graceful_shutdown=2)
    Server(config).run(sockets=[listener])


def _checked_soundfont(path: Path) -> Path:
    """Before the page is opened, not when the first key is struck."""
    from fillwright.web.pianos import is_soundfont

    try:
        usable = is_soundfont(path)
    except OSError as error:
        raise InputError(f"the SoundFont cannot be read: {error.strerror}", path.name) from error
    if not usable:
        raise InputError("not a usable SoundFont (.sf2)", path.name)
    return path


def _hosts(host: str, port: int, names: Collection[str]) -> set[str]:
    """What requests may call this server; the address they came in by is known to the guard."""
    found = {name.strip().lower() for name in names} | set(LOOPBACK)
    if not is_loopback(host):
        found |= names_of_machine() | {address_to_type(host)}
    return {f"{name}:{port}" for name in found} | (found if port == 80 else set())
