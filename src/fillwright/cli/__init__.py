"""The command line; see `fillwright.cli.app`."""

from fillwright.cli.app import app, main

__all__ = ["app", "main"]
