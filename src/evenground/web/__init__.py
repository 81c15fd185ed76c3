"""The local web application: one project file, its plan and its results in a browser on this machine."""

from __future__ import annotations

from pathlib import Path

__all__ = ["open_page"]


def open_page(file: Path, *, port: int = 0, show: bool = True) -> None:
    """Serve the page of one project file on this machine until it is stopped.

    Parameters
    ----------
    file : Path
        The project file; when it is not there yet, the page asks what it starts from.
    port : int
        Port on 127.0.0.1; 0 takes a free one.
    show : bool
        Open the page in the web browser.
    """
    from evenground.web._serve import serve

    serve(file, port=port, show=show)
