"""Starting the server: this machine only, one key per session."""

from __future__ import annotations

import secrets
import socket
import sys
from pathlib import Path
from typing import Any

from nicegui import app, ui

from evenground.errors import InputError
from evenground.web._guard import Guard
from evenground.web._page import build_page
from evenground.web._studio import Studio

__all__ = ["serve"]

HOST = "127.0.0.1"
TICK_S = 0.8


def serve(file: Path, *, port: int = 0, show: bool = True) -> None:
    """Serve the page of a project file until the process is stopped."""
    studio = Studio(file)
    port = port or free_port()
    key = secrets.token_urlsafe(24)
    address = f"http://{HOST}:{port}/?key={key}"
    app.config.quasar_config["loadingBar"] = {"skipHijack": True}
    app.add_middleware(Guard, port=port, key=key)
    app.on_startup(studio.start)
    app.on_shutdown(studio.stop)
    app.timer(TICK_S, studio.tick)

    def say_address() -> None:
        sys.stdout.write(
            f"{studio.desk.path.name} is open at {address}\n"
            "Only this machine can reach it. Stop with Ctrl+C; unsaved work is kept.\n"
        )
        sys.stdout.flush()

    app.on_startup(say_address)
    _run(lambda: build_page(studio), port, show=f"/?key={key}" if show else False)


def _run(root: Any, port: int, show: str | bool) -> None:
    ui.run(
        root,
        host=HOST,
        port=port,
        title="Evenground",
        favicon=_ICON,
        dark=None,
        reload=False,
        show=show,
        show_welcome_message=False,
        tailwind=False,
        language="en-GB",
        reconnect_timeout=10.0,
        uvicorn_logging_level="warning",
    )


_ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" rx="6" '
    'fill="#0b4f53"/><path d="M4 13h24M8 13v10M16 13v14M24 13v10" stroke="#f3d9a4" stroke-width="2.6" '
    'fill="none" stroke-linecap="round"/></svg>'
)


def free_port() -> int:
    """A free port on this machine."""
    with socket.socket() as probe:
        try:
            probe.bind((HOST, 0))
        except OSError as error:
            raise InputError(f"no free port on {HOST}: {error.strerror}") from None
        return int(probe.getsockname()[1])
