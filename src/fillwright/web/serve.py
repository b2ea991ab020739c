"""Running the page: ``fillwright serve``."""

from __future__ import annotations

import os
import socket
import sys
from collections.abc import Callable
from pathlib import Path

from fillwright.errors import InputError
from fillwright.web.trouble import StoreTrouble

__all__ = ["data_folder", "serve"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


def data_folder() -> Path:
    """Where tunes and choices are kept: the user's data folder of this system."""
    from platformdirs import user_data_path

    return user_data_path("fillwright", appauthor=False)


def serve(host: str, port: int, folder: Path, ready: Callable[[str], None]) -> None:
    """Answer requests until interrupted.

    port    0 for any free one
    ready   called with the address once requests are answered

    Raises InputError where the port is taken or the folder cannot be used.
    """
    import uvicorn

    from fillwright.web.app import create_app

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
    shown = f"[{host}]" if ":" in host else host
    names = {shown, *LOOPBACK} if host in ("127.0.0.1", "::1", "localhost") else {shown}
    try:
        app, service = create_app(folder, {f"{name}:{port}" for name in names},
                                  workers=max(1, min(4, os.cpu_count() or 1)))
    except (OSError, StoreTrouble) as error:
        listener.close()
        raise InputError(f"cannot be used: {getattr(error, 'strerror', None) or error}",
                         str(folder)) from error
    for sentence in service.store.said:
        print(sentence, file=sys.stderr, flush=True)

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            ready(f"http://{shown}:{port}/")

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            await service.close()  # requests and jobs that wait for work end now
            await super().shutdown(sockets)

    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False,
                            date_header=False, timeout_keep_alive=20,
                            timeout_graceful_shutdown=2)
    Server(config).run(sockets=[listener])
