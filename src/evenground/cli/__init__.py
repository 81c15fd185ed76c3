"""The command line: thin, with heavy parts loaded only when a command needs them."""

from __future__ import annotations

from evenground.cli._main import main

__all__ = ["main"]
