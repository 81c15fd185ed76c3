"""Writing files and folders so that a failure or a kill never leaves half of one behind."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

__all__ = ["replaced_folder", "write_bytes", "write_text"]


def write_text(file: Path, text: str) -> None:
    """Write a text file (UTF-8, line feeds) in one stroke; an earlier file stays until then."""
    write_bytes(file, text.encode("utf-8"))


def write_bytes(file: Path, data: bytes) -> None:
    """Write a file in one stroke: into a neighbour first, then renamed."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(0o666 & ~_umask())
        part.replace(file)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _umask() -> int:
    current = os.umask(0o022)
    os.umask(current)
    return current


@contextlib.contextmanager
def replaced_folder(folder: Path) -> Iterator[Path]:
    """Hand out an empty neighbour folder; when the block ends well it takes the place of ``folder``.

    When the block raises, the neighbour is removed and ``folder`` is as it was. The exchange is two
    renames; a kill between them leaves the earlier folder complete under ``.NAME.previous``, and the
    next call puts it back first.
    """
    folder = folder.absolute()
    folder.parent.mkdir(parents=True, exist_ok=True)
    earlier = folder.with_name(f".{folder.name}.previous")
    _recover(folder, earlier)
    fresh = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}.part-"))
    try:
        fresh.chmod(0o777 & ~_umask())
        yield fresh
        _exchange(fresh, folder, earlier)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    shutil.rmtree(earlier, ignore_errors=True)


def _recover(folder: Path, earlier: Path) -> None:
    if not earlier.exists():
        return
    if folder.exists():
        shutil.rmtree(earlier)
    else:
        earlier.rename(folder)


def _exchange(fresh: Path, folder: Path, earlier: Path) -> None:
    if not folder.exists():
        fresh.rename(folder)
        return
    folder.rename(earlier)
    try:
        fresh.rename(folder)
    except BaseException:
        earlier.rename(folder)
        raise
