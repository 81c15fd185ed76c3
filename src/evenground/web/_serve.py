"""Starting the server: this machine only, one key per session."""

from __future__ import annotations

import secrets
import socket
import sys
from pathlib import Path
from typing import Any

from nicegui import app, ui

from evenground.errors import InputError
from evenground.web._first import build_first
from evenground.web._guard import Guard
from evenground.web._page import build_page
from evenground.web._studio import Studio

__all__ = ["serve"]

HOST = "127.0.0.1"
TICK_S = 0.8


def serve(file: Path, *, port: int = 0, show: bool = True) -> None:
    """Serve the page of a project file until the process is stopped; one that is not there is started."""
    file = file.absolute()
    if not file.exists() and not file.parent.is_dir():
        raise InputError(f"{file.parent}: is no folder; make it first, or give another place for {file.name}")
    desk = _Place(file)
    port = port or free_port()
    key = secrets.token_urlsafe(24)
    address = f"http://{HOST}:{port}/?key={key}"
    app.config.quasar_config["loadingBar"] = {"skipHijack": True}
    app.add_middleware(Guard, port=port, key=key)
    app.on_startup(desk.start)
    app.on_shutdown(desk.stop)
    app.timer(TICK_S, desk.tick)

    def say_address() -> None:
        sys.stdout.write(
            f"{file.name} is open at {address}\n"
            "Only this machine can reach it. Stop with Ctrl+C; unsaved work is kept.\n"
        )
        sys.stdout.flush()

    app.on_startup(say_address)
    _run(desk.build, port, show=f"/?key={key}" if show else False)


class _Place:
    """The project of this server: open, or still to be started."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.studio = Studio(file) if file.exists() else None

    async def start(self) -> None:
        """Start the computing, when there is something to compute."""
        if self.studio is not None:
            await self.studio.start()

    async def stop(self) -> None:
        """End the computing; unsaved work stays as a draft."""
        if self.studio is not None:
            await self.studio.stop()

    async def tick(self) -> None:
        """Autosave and look at the file."""
        if self.studio is not None:
            await self.studio.tick()

    async def begin(self) -> None:
        """Open the file that the first page has written."""
        if self.studio is None:
            self.studio = Studio(self.file)
            self.studio.panel = "Start"
            await self.studio.start()

    def build(self) -> None:
        """One browser window: the page, or the first page of a new project."""
        if self.studio is None:
            build_first(self.file, self.begin)
        else:
            build_page(self.studio)


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
